"""The calendar: windows to come, across both changes of summer time, and those that were with the level they brought."""

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_component import async_update_entity
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from custom_components.chargehand.core.registers import Keeps
from custom_components.chargehand.core.schedule.acting_times import acting_times
from custom_components.chargehand.core.schedule.inverter_clock import inverter_time, shift_minutes
from custom_components.chargehand.core.schedule.windows import Schedule, Window
from custom_components.chargehand.nights.past_windows import Charged
from tests.bench.remote import Bench
from tests.calls import act, entity_id, state
from tests.conftest import AddInverter
from tests.moved_time import HouseTime

LONDON = ZoneInfo("Europe/London")
TONIGHT = {"start": "22:40", "end": "02:20", "power": 2000, "stop_level": 90}

# Clocks go forward at 01:00 UTC on the last Sunday of March and back at 01:00 UTC on that of October (Directive 2000/84/EC).
SPRING = datetime(2026, 3, 29, 1, 0, tzinfo=UTC)
AUTUMN = datetime(2026, 10, 25, 1, 0, tzinfo=UTC)


def keeping(keeps: Keeps, zone: ZoneInfo) -> Callable[[datetime], datetime]:
    return lambda at: inverter_time(keeps, at, zone)


def of_the_house(start: str, end: str) -> Window:
    (a, b), (c, d) = (map(int, text.split(":")) for text in (start, end))
    return Window(start=a * 60 + b, end=c * 60 + d, power=2000, stop_level=90)


@pytest.mark.parametrize(
    ("zone", "moved"),
    [
        ("Europe/London", SPRING),
        ("Europe/London", AUTUMN),
        # Lord Howe Island moves its clocks by half an hour, at 02:00 local time (IANA time zone database).
        ("Australia/Lord_Howe", datetime(2026, 4, 4, 15, 0, tzinfo=UTC)),
        ("Australia/Lord_Howe", datetime(2026, 10, 3, 15, 30, tzinfo=UTC)),
    ],
)
@pytest.mark.parametrize("keeps", list(Keeps))
@pytest.mark.parametrize(
    "times", [("22:40", "02:20"), ("01:15", "01:45"), ("01:30", "05:00"), ("22:00", "01:30"), ("00:00", "24:00")]
)
def test_a_window_acts_in_exactly_the_minutes_that_the_clock_shows(
    zone: str, moved: datetime, keeps: Keeps, times: tuple[str, str]
) -> None:
    """Against the time zone database, minute by minute: what the inverter's clock shows decides, and nothing else."""
    house = ZoneInfo(zone)
    seen_at = moved - timedelta(days=1)
    window = of_the_house(*times)
    shift = shift_minutes(keeps, seen_at, house)
    first, last = moved - timedelta(hours=20), moved + timedelta(hours=28)
    found = acting_times(Schedule(charge=(window,), armed=True), keeping(keeps, house), shift, first, last)
    standard = datetime(2026, 6 if house.key.startswith("Aus") else 1, 15, tzinfo=house).utcoffset()
    assert standard is not None
    for minute in range(int((last - first).total_seconds() // 60)):
        at = first + timedelta(minutes=minute)
        shown = {
            Keeps.LOCAL: at.astimezone(house).replace(tzinfo=None),
            Keeps.STANDARD: at.replace(tzinfo=None) + standard,
            Keeps.UTC: at.replace(tzinfo=None),
        }[keeps]
        on_the_inverter = (shown.hour * 60 + shown.minute - shift) % 1440
        expected = window.start <= on_the_inverter < window.end or (
            window.end < window.start and (on_the_inverter < window.end or on_the_inverter >= window.start)
        )
        acts = [one for one in found if one.start <= at < one.end]
        assert len(acts) == expected, (at, acts)


def lengths(window: Window, keeps: Keeps, moved: datetime) -> list[tuple[str, str]]:
    """How a night around a change reads on the house's clock."""
    shift = shift_minutes(keeps, moved - timedelta(days=1), LONDON)
    found = acting_times(
        Schedule(charge=(window,), armed=True),
        keeping(keeps, LONDON),
        shift,
        moved - timedelta(hours=4),
        moved + timedelta(hours=36),
    )
    return [(f"{one.start.astimezone(LONDON):%a %H:%M}", f"{one.end.astimezone(LONDON):%a %H:%M}") for one in found]


@pytest.mark.parametrize(
    ("keeps", "moved", "expected"),
    [
        (Keeps.LOCAL, SPRING, [("Sat 22:40", "Sun 02:20"), ("Sun 22:40", "Mon 02:20")]),
        (Keeps.LOCAL, AUTUMN, [("Sat 22:40", "Sun 02:20"), ("Sun 22:40", "Mon 02:20")]),
        # A clock without summer time: the same windows are an hour later by the house in summer, an hour earlier in winter.
        (Keeps.STANDARD, SPRING, [("Sat 22:40", "Sun 03:20"), ("Sun 23:40", "Mon 03:20")]),
        (Keeps.STANDARD, AUTUMN, [("Sat 22:40", "Sun 01:20"), ("Sun 21:40", "Mon 01:20")]),
        (Keeps.UTC, AUTUMN, [("Sat 22:40", "Sun 01:20"), ("Sun 21:40", "Mon 01:20")]),
    ],
)
def test_nights_of_a_change_of_summer_time_read_right(
    keeps: Keeps, moved: datetime, expected: list[tuple[str, str]]
) -> None:
    assert lengths(of_the_house("22:40", "02:20"), keeps, moved) == expected


def test_a_window_in_the_hour_that_is_missing_does_not_act_and_in_the_doubled_one_acts_twice() -> None:
    window = of_the_house("01:15", "01:45")
    assert lengths(window, Keeps.LOCAL, SPRING) == [("Mon 01:15", "Mon 01:45")]
    assert lengths(window, Keeps.LOCAL, AUTUMN) == [
        ("Sun 01:15", "Sun 01:45"),
        ("Sun 01:15", "Sun 01:45"),
        ("Mon 01:15", "Mon 01:45"),
    ]


# ---- in the house


async def events(hass: HomeAssistant, first: datetime, last: datetime) -> list[tuple[str, str, str]]:
    """What the calendar answers to the platform's own action."""
    calendar = entity_id(hass, "calendar", "schedule")
    answer: Any = await hass.services.async_call(
        "calendar",
        "get_events",
        {"entity_id": calendar, "start_date_time": first.isoformat(), "end_date_time": last.isoformat()},
        blocking=True,
        return_response=True,
    )
    return [(one["start"][:16], one["end"][:16], one["summary"]) for one in answer[calendar]["events"]]


async def at(
    hass: HomeAssistant,
    bench: Bench,
    house_time: HouseTime,
    entry: MockConfigEntry | None,
    moment: datetime,
    *,
    ahead: float = 0,
) -> None:
    """Let it be `moment` for the house and the inverter, whose clock is ahead by so many seconds."""
    house_time.move_to(moment)
    await bench.clock(local=moment.astimezone(LONDON).replace(tzinfo=None) + timedelta(seconds=ahead))
    if entry is not None:
        entry.runtime_data.rates.slow_next()
        await entry.runtime_data.async_refresh()
        await hass.async_block_till_done()


EVENING = datetime(2026, 1, 10, 22, 0, tzinfo=UTC)


@pytest.fixture
def house_time(monkeypatch: pytest.MonkeyPatch) -> HouseTime:
    return HouseTime(monkeypatch, EVENING)


@pytest.fixture
async def evening(hass: HomeAssistant, bench: Bench, house_time: HouseTime) -> None:
    """10 January 2026, 22:00."""
    await at(hass, bench, house_time, None, EVENING)


async def test_armed_windows_of_the_coming_days_are_events_and_unarmed_ones_are_not(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=[TONIGHT, {**TONIGHT, "start": "13:00", "end": "14:00"}])
    found = await events(hass, EVENING, EVENING + timedelta(days=2))
    assert found == [
        ("2026-01-10T22:40", "2026-01-11T02:20", "Charge to 90 % at 2000 W"),
        ("2026-01-11T13:00", "2026-01-11T14:00", "Charge to 90 % at 2000 W"),
        ("2026-01-11T22:40", "2026-01-12T02:20", "Charge to 90 % at 2000 W"),
        ("2026-01-12T13:00", "2026-01-12T14:00", "Charge to 90 % at 2000 W"),
    ]
    shown = state(hass, "calendar", "schedule")
    assert shown.state == "off"
    assert shown.attributes["message"] == "Charge to 90 % at 2000 W"
    assert shown.attributes["start_time"] == "2026-01-10 22:40:00"
    assert shown.attributes.get("supported_features", 0) == 0, "nothing can be added, changed or deleted"
    assert len(await events(hass, EVENING, EVENING + timedelta(days=400))) == 2 * 31, "a month ahead, not for ever"
    await act(hass, entry, "apply_schedule", armed=False)
    assert await events(hass, EVENING, EVENING + timedelta(days=2)) == []


async def test_a_clock_that_is_wrong_moves_the_events_to_when_the_inverter_will_act(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    await bench.clock(local=EVENING.replace(tzinfo=None) + timedelta(minutes=30))
    entry.runtime_data.rates.slow_next()
    await entry.runtime_data.async_refresh()
    await hass.async_block_till_done()
    found = await events(hass, EVENING, EVENING + timedelta(hours=12))
    assert found == [("2026-01-10T22:10", "2026-01-11T01:50", "Charge to 90 % at 2000 W")]


async def test_a_window_that_ended_is_kept_with_its_level_over_a_restart(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry, house_time: HouseTime
) -> None:
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    await at(hass, bench, house_time, entry, EVENING + timedelta(hours=2))
    # At the start of an event the platform writes its state by a timer, which a moved date does not set off.
    await async_update_entity(hass, entity_id(hass, "calendar", "schedule"))
    assert state(hass, "calendar", "schedule").state == "on"
    # Home Assistant is away for an hour of the window.
    await hass.config_entries.async_unload(entry.entry_id)
    await at(hass, bench, house_time, None, EVENING + timedelta(hours=3))
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await bench.battery(level=87)
    await at(hass, bench, house_time, entry, datetime(2026, 1, 11, 2, 20, 4, tzinfo=UTC))
    assert state(hass, "calendar", "schedule").state == "off"
    kept = ("2026-01-10T22:40", "2026-01-11T02:20", "Charged to 87 % (wanted 90 %)")
    night = (EVENING, EVENING + timedelta(hours=12))
    assert await events(hass, *night) == [kept]
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    # What is wanted now is no part of what was.
    await act(hass, entry, "apply_schedule", charge=[], armed=False)
    await bench.battery(level=20)
    await at(hass, bench, house_time, entry, datetime(2026, 1, 12, 9, 0, tzinfo=UTC))
    assert await events(hass, *night) == [kept]


async def test_a_window_that_ended_unseen_claims_no_level(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry, house_time: HouseTime
) -> None:
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    await at(hass, bench, house_time, entry, EVENING + timedelta(hours=2))
    await bench.battery(level=33)
    await bench.fault("exception", code=4, count=None)
    for minutes in (0, 1, 2):
        await at(hass, bench, house_time, entry, EVENING + timedelta(hours=4, minutes=19 + minutes))
    assert state(hass, "calendar", "schedule").state == "unavailable"
    await bench.clear_faults()
    await at(hass, bench, house_time, entry, EVENING + timedelta(hours=9))
    assert (await events(hass, EVENING, EVENING + timedelta(hours=12)))[0] == (
        "2026-01-10T22:40",
        "2026-01-11T02:20",
        "Charged, level at the end not seen (wanted 90 %)",
    )


async def test_a_window_that_was_disarmed_ends_there_and_one_armed_late_starts_there(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry, house_time: HouseTime
) -> None:
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    await at(hass, bench, house_time, entry, EVENING + timedelta(hours=2))
    await bench.battery(level=55)
    await at(hass, bench, house_time, entry, EVENING + timedelta(hours=3))
    await act(hass, entry, "apply_schedule", armed=False)
    await at(hass, bench, house_time, entry, EVENING + timedelta(hours=3, minutes=30))
    await act(hass, entry, "apply_schedule", armed=True)
    await at(hass, bench, house_time, entry, EVENING + timedelta(hours=4))
    # Its end is moved while it is under way: that is still the same window.
    await act(hass, entry, "apply_schedule", charge=[{**TONIGHT, "end": "06:00", "stop_level": 80}])
    assert await events(hass, EVENING, EVENING + timedelta(hours=12)) == [
        ("2026-01-10T22:40", "2026-01-11T01:00", "Charged to 55 % (wanted 90 %)"),
        ("2026-01-11T01:30", "2026-01-11T06:00", "Charge to 80 % at 2000 W"),
    ]


async def kept(hass: HomeAssistant) -> list[tuple[str, str]]:
    """Start and end of what the calendar holds of the night."""
    return [one[:2] for one in await events(hass, EVENING, EVENING + timedelta(hours=12))]


MOSTLY, HARDLY = 33.0, 24.0
"""Seconds ahead that are taken for a minute, and for none: how far a clock is off is known to a second or two."""

BEGINS, ENDS = datetime(2026, 1, 10, 22, 40, tzinfo=UTC), datetime(2026, 1, 11, 2, 20, tzinfo=UTC)


async def test_a_clock_that_wavers_about_half_a_minute_begins_a_window_once(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry, house_time: HouseTime
) -> None:
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    for seconds, ahead in ((-70, MOSTLY), (-58, MOSTLY), (-50, HARDLY), (-42, MOSTLY), (-34, HARDLY), (3, HARDLY)):
        await at(hass, bench, house_time, entry, BEGINS + timedelta(seconds=seconds), ahead=ahead)
    for seconds, ahead in ((10, MOSTLY), (20, HARDLY)):
        await at(hass, bench, house_time, entry, BEGINS + timedelta(seconds=seconds), ahead=ahead)
    assert await kept(hass) == [("2026-01-10T22:40", "2026-01-11T02:20")]


async def test_a_clock_that_wavers_about_half_a_minute_ends_a_window_once(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry, house_time: HouseTime
) -> None:
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    await at(hass, bench, house_time, entry, BEGINS + timedelta(hours=1), ahead=HARDLY)
    await bench.battery(level=80)
    for seconds, ahead in ((-70, HARDLY), (-50, MOSTLY), (-42, HARDLY), (-34, MOSTLY), (-26, HARDLY)):
        await at(hass, bench, house_time, entry, ENDS + timedelta(seconds=seconds), ahead=ahead)
    await bench.battery(level=81)
    for seconds, ahead in ((2, HARDLY), (10, MOSTLY), (20, HARDLY), (70, HARDLY)):
        await at(hass, bench, house_time, entry, ENDS + timedelta(seconds=seconds), ahead=ahead)
    night = await events(hass, EVENING, EVENING + timedelta(hours=12))
    assert night == [("2026-01-10T22:40", "2026-01-11T02:20", "Charged to 81 % (wanted 90 %)")]


async def test_a_window_of_a_minute_is_kept_once_whatever_the_clock_wavers(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry, house_time: HouseTime
) -> None:
    await act(hass, entry, "apply_schedule", charge=[{**TONIGHT, "end": "22:41"}])
    for seconds in range(-70, 140, 7):
        ahead = MOSTLY if seconds % 2 else HARDLY
        await at(hass, bench, house_time, entry, BEGINS + timedelta(seconds=seconds), ahead=ahead)
    # The night after, it acts again.
    for seconds in (-5, 5, 65):
        await at(hass, bench, house_time, entry, BEGINS + timedelta(days=1, seconds=seconds), ahead=HARDLY)
    found = await events(hass, EVENING, EVENING + timedelta(days=1, hours=12))
    assert [one[:2] for one in found] == [
        ("2026-01-10T22:40", "2026-01-10T22:41"),
        ("2026-01-11T22:40", "2026-01-11T22:41"),
    ]


async def test_a_window_of_all_day_is_one_a_day_when_the_clock_wavers_at_midnight(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry, house_time: HouseTime
) -> None:
    await act(hass, entry, "apply_schedule", charge=[{**TONIGHT, "start": "00:00", "end": "24:00"}])
    midnight = datetime(2026, 1, 11, tzinfo=UTC)
    for seconds in range(-70, 140, 7):
        ahead = -MOSTLY if seconds % 2 else -HARDLY
        await at(hass, bench, house_time, entry, midnight + timedelta(seconds=seconds), ahead=ahead)
    await at(hass, bench, house_time, entry, midnight + timedelta(hours=2))
    await act(hass, entry, "apply_schedule", armed=False)
    starts = [one[0] for one in await events(hass, midnight - timedelta(hours=3), midnight + timedelta(hours=3))]
    assert len(starts) == 2
    assert starts[1] in {"2026-01-11T00:00", "2026-01-11T00:01"}


async def test_two_windows_that_follow_each_other_are_two(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry, house_time: HouseTime
) -> None:
    """Both in the inverter's first place: the second was set after the first had ended."""
    await act(hass, entry, "apply_schedule", charge=[{**TONIGHT, "end": "22:45"}])
    await at(hass, bench, house_time, entry, BEGINS + timedelta(minutes=1))
    await at(hass, bench, house_time, entry, BEGINS + timedelta(minutes=5, seconds=3))
    await act(hass, entry, "apply_schedule", charge=[{**TONIGHT, "start": "22:46", "end": "22:50"}])
    for minutes in (6, 7, 10, 11):
        await at(hass, bench, house_time, entry, BEGINS + timedelta(minutes=minutes))
    assert (await kept(hass))[:2] == [
        ("2026-01-10T22:40", "2026-01-10T22:45"),
        ("2026-01-10T22:46", "2026-01-10T22:50"),
    ]


async def test_a_house_whose_time_jumps_back_keeps_no_window_that_ended_before_it_began(
    hass: HomeAssistant, bench: Bench, evening: None, entry: MockConfigEntry, house_time: HouseTime
) -> None:
    """As when the house's computer starts with a wrong date, and the right one comes a minute later."""
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    await at(hass, bench, house_time, entry, BEGINS + timedelta(hours=1))
    await at(hass, bench, house_time, entry, BEGINS - timedelta(hours=1))
    await at(hass, bench, house_time, entry, BEGINS + timedelta(seconds=5))
    await at(hass, bench, house_time, entry, ENDS + timedelta(seconds=5))
    assert await kept(hass) == [("2026-01-10T22:40", "2026-01-11T02:20")]


async def test_a_window_that_ends_in_the_hour_that_came_twice_does_not_break_the_calendar(
    hass: HomeAssistant, evening: None, entry: MockConfigEntry
) -> None:
    """From 01:48 of summer time to 01:00 of standard time, 12 minutes later."""
    await hass.config.async_set_time_zone("Europe/London")
    start, end = datetime(2026, 10, 25, 0, 48, tzinfo=UTC), datetime(2026, 10, 25, 1, 0, tzinfo=UTC)
    entry.runtime_data.past.past.append(
        Charged(number=1, scheduled=start.replace(tzinfo=None), start=start, end=end, wanted=90.0, reached=87.0)
    )
    shown = await events(hass, start - timedelta(hours=3), end + timedelta(hours=3))
    assert shown == [("2026-10-25T01:00", "2026-10-25T01:00", "Charged to 87 % (wanted 90 %)")]


async def test_windows_older_than_400_days_are_forgotten(
    hass: HomeAssistant, bench: Bench, evening: None, hass_storage: dict[str, Any], add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port)
    await hass.config_entries.async_unload(entry.entry_id)
    old = [
        {
            "number": 1,
            "scheduled": "2024-12-05T01:00:00",
            "start": "2024-12-05T01:00:00+00:00",
            "end": "2024-12-05T05:00:00+00:00",
            "wanted": 90,
            "reached": 1,
        },
        {
            "number": 1,
            "scheduled": "2025-01-05T01:00:00",
            "start": "2025-01-05T01:00:00+00:00",
            "end": "2025-01-05T05:00:00+00:00",
            "wanted": 90,
            "reached": 2,
        },
    ]
    ends = {
        "number": 1,
        "scheduled": "2026-01-10T20:00:00",
        "start": "2026-01-10T20:00:00+00:00",
        "end": "2026-01-10T21:59:00+00:00",
        "wanted": 90,
        "reached": None,
    }
    key = f"chargehand.{entry.entry_id}"
    hass_storage[key]["data"]["windows"] = {"past": old, "running": [ends]}
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await hass.config_entries.async_unload(entry.entry_id)
    assert [one["start"][:10] for one in hass_storage[key]["data"]["windows"]["past"]] == ["2025-01-05", "2026-01-10"]
    hass_storage[key]["data"]["windows"] = {"past": [{"number": 1}], "running": []}
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    assert len(await events(hass, EVENING, EVENING + timedelta(days=1))) == 1, (
        "a file that is not understood stops nothing"
    )
    await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done()
    assert key not in hass_storage


async def test_nobody_can_write_into_the_calendar(
    hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator
) -> None:
    client = await hass_ws_client(hass)
    await client.send_json_auto_id(
        {
            "type": "calendar/event/create",
            "entity_id": entity_id(hass, "calendar", "schedule"),
            "event": {"summary": "x", "dtstart": "2026-01-10T22:00:00", "dtend": "2026-01-10T23:00:00"},
        }
    )
    async with asyncio.timeout(5):
        answer = await client.receive_json()
    assert answer["error"]["code"] == "not_supported"
