"""The battery's room as a state machine, judged by scenes written down minute by minute. The limits are the tests' own."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

import pytest

from custom_components.chargehand.core.battery_room import (
    BatteryRoom,
    Cause,
    RoomEvent,
    RoomLimits,
    RoomNews,
    RoomReading,
)

MINUTE = timedelta(minutes=1)
NOON = datetime(2026, 1, 10, 12, tzinfo=UTC)
LIMITS = RoomLimits(low=2, high=40, hysteresis=2, lasting=10 * MINUTE, lost=30 * MINUTE)

type Values = Mapping[str, bool | float | None]


class Scene:
    """A room to which things happen at minutes after noon; `armed` is what the inverter says."""

    def __init__(self, limits: RoomLimits = LIMITS) -> None:
        self.room = BatteryRoom(limits)
        self.smoke: dict[str, bool | None] = {"alarm": False}
        self.temperatures: dict[str, float | None] = {"cellar": 15.0}
        self.armed: bool | None = True

    def at(self, minute: float, **values: float | None) -> list[RoomNews]:
        for name, value in values.items():
            if name in self.temperatures:
                self.temperatures[name] = value
            else:
                self.smoke[name] = None if value is None else bool(value)
        reading = RoomReading(smoke=dict(self.smoke), temperatures=dict(self.temperatures), charges=self.armed)
        return self.room.see(reading, NOON + minute * MINUTE)

    def kinds(self, minute: float, **values: float | None) -> list[str]:
        return [str(news.event) for news in self.at(minute, **values)]

    def stopped(self) -> None:
        """The charge is disarmed, as the automation sees to it."""
        self.armed = False


def test_smoke_counts_at_once_and_is_told_once() -> None:
    scene = Scene()
    assert scene.at(0) == []
    (news,) = scene.at(1, alarm=True)
    assert (news.event, news.sensors, news.cause) == (RoomEvent.DANGER, ("alarm",), Cause.SMOKE)
    scene.stopped()
    assert scene.at(2) == []
    assert scene.kinds(3, alarm=False) == []
    assert scene.kinds(4, alarm=True) == []


@pytest.mark.parametrize(("value", "cause"), [(40.5, Cause.HOT), (1.5, Cause.COLD)])
def test_heat_and_cold_have_to_last(value: float, cause: Cause) -> None:
    scene = Scene()
    assert scene.at(0, cellar=value) == []
    assert scene.room.due(NOON) == NOON + 10 * MINUTE
    assert scene.at(9.9) == []
    (news,) = scene.at(10)
    assert (news.event, news.sensors, news.cause) == (RoomEvent.DANGER, ("cellar",), cause)


@pytest.mark.parametrize("value", [2.0, 40.0])
def test_a_limit_itself_is_inside(value: float) -> None:
    scene = Scene()
    scene.at(0, cellar=value)
    assert scene.at(60) == []


def test_what_is_inside_again_before_its_time_begins_anew() -> None:
    scene = Scene()
    for minute in range(0, 60, 8):
        assert scene.at(minute, cellar=43) == []
        assert scene.at(minute + 7, cellar=30) == []
    assert scene.room.due(NOON + 59 * MINUTE) is None


def test_smoke_does_not_wait_for_the_heat_and_both_are_named() -> None:
    scene = Scene()
    scene.at(0, cellar=43)
    (news,) = scene.at(2, alarm=True)
    assert (news.event, news.cause, news.sensors) == (RoomEvent.DANGER, Cause.SMOKE, ("alarm", "cellar"))


def test_another_sensor_makes_it_worse_without_waiting() -> None:
    scene = Scene()
    scene.at(0, alarm=True)
    scene.stopped()
    (news,) = scene.at(1, cellar=50)
    assert (news.event, news.sensors, news.cause) == (RoomEvent.WORSE, ("cellar",), Cause.HOT)
    assert scene.at(2) == []


def test_it_is_normal_inside_the_hysteresis_and_after_the_same_time() -> None:
    scene = Scene()
    scene.at(0, cellar=43)
    scene.at(10)
    scene.stopped()
    assert scene.kinds(11, cellar=39) == []
    assert scene.kinds(40) == [], "39 is not 2 below 40"
    assert scene.kinds(41, cellar=38) == []
    assert scene.kinds(50, cellar=38.5) == []
    assert scene.kinds(51, cellar=38) == []
    assert scene.kinds(60.9) == []
    (news,) = scene.at(61)
    assert (news.event, news.sensors) == (RoomEvent.NORMAL, ("cellar",))
    assert scene.kinds(62, cellar=39.5) == [], "reported once, and the next danger has the limits themselves"


def test_a_sensor_that_falls_silent_in_danger_still_tells_of_it() -> None:
    scene = Scene(RoomLimits(low=2, high=40, hysteresis=2, lasting=10 * MINUTE, lost=None))
    scene.at(0, alarm=True)
    scene.stopped()
    assert scene.kinds(1, alarm=None) == []
    assert scene.kinds(60) == []
    assert scene.kinds(61, alarm=False) == []
    assert scene.kinds(65, alarm=None) == []
    assert scene.kinds(80) == [], "it fell silent before it was normal for long enough"
    assert scene.kinds(81, alarm=False) == []
    assert scene.kinds(91) == ["normal"]


def test_a_charge_that_is_armed_again_is_told_each_time() -> None:
    scene = Scene()
    scene.at(0, alarm=True)
    scene.stopped()
    assert scene.at(1) == []
    scene.armed = True
    (news,) = scene.at(2)
    assert (news.event, news.again) == (RoomEvent.ARMED, True)
    assert scene.at(3) == [], "it is being disarmed"
    scene.stopped()
    scene.at(4)
    scene.armed = True
    assert scene.kinds(5) == ["armed"]


def test_a_charge_that_could_not_be_stopped_is_told_again_after_a_while() -> None:
    scene = Scene()
    scene.at(0, alarm=True)
    assert scene.kinds(14.9) == []
    (news,) = scene.at(15)
    assert (news.event, news.again) == (RoomEvent.ARMED, False)
    assert scene.kinds(29) == []
    assert scene.kinds(30) == ["armed"]


def test_an_inverter_that_comes_back_armed_is_told_at_once_and_one_that_is_away_never() -> None:
    scene = Scene()
    scene.armed = None
    scene.at(0, alarm=True)
    assert scene.kinds(60) == []
    scene.armed = True
    assert scene.kinds(61) == ["armed"]
    scene.armed = None
    assert scene.kinds(62) == []
    scene.armed = True
    assert scene.kinds(63) == [], "a line that comes and goes is no reason to write each time"


def test_nothing_is_told_of_a_charge_while_there_is_no_danger() -> None:
    scene = Scene()
    for minute, armed in enumerate((True, False, True, None, True)):
        scene.armed = armed
        assert scene.at(minute) == []


def test_a_silent_sensor_is_told_once_and_again_when_it_was_heard_between() -> None:
    scene = Scene()
    assert scene.kinds(0, cellar=None) == []
    assert scene.room.due(NOON) == NOON + 30 * MINUTE
    (news,) = scene.at(30)
    assert (news.event, news.sensors) == (RoomEvent.SILENT, ("cellar",))
    assert scene.kinds(31) == []
    assert scene.room.due(NOON + 31 * MINUTE) is None
    assert [one.sensors for one in scene.room.remind(NOON + 32 * MINUTE)] == [("cellar",)]
    (news,) = [one for minute in (40, 70) for one in scene.at(minute, alarm=None)]
    assert news.sensors == ("alarm", "cellar")
    scene.at(80, cellar=15, alarm=False)
    assert scene.room.remind(NOON + 81 * MINUTE) == []
    scene.at(90, cellar=None)
    assert scene.kinds(120) == ["silent"]


def test_silence_is_never_told_where_that_was_chosen() -> None:
    scene = Scene(RoomLimits(low=2, high=40, hysteresis=2, lasting=10 * MINUTE, lost=None))
    assert scene.kinds(0, cellar=None, alarm=None) == []
    assert scene.kinds(10_000) == []
    assert scene.room.remind(NOON + 10_000 * MINUTE) == []
    assert scene.room.due(NOON + 10_000 * MINUTE) is None
