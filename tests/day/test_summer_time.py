"""Nights in which the clock is moved: the band, the house's clock over it, and when windows act.

The moves are those of the European Union's directive 2000/84/EC: at 01:00 UTC on the last Sundays of March and October. What clocks show is
checked against `zoneinfo`; when windows act is worked out by hand.
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.day.band import band_at
from tests.calls import act, device_id
from tests.day.watching import Card

LONDON = ZoneInfo("Europe/London")
SPRING, AUTUMN = datetime(2026, 3, 28, 21, 30, tzinfo=LONDON), datetime(2026, 10, 24, 21, 30, tzinfo=LONDON)

ACROSS = [{"start": "00:30", "end": "04:30", "power": 2000, "stop_level": 90}]


def shown(segments: list[dict[str, object]], at: datetime) -> int:
    """The house's minute of the day as a card works it out."""
    offset = next(one["offset_minutes"] for one in reversed(segments) if datetime.fromisoformat(str(one["from"])) <= at)
    assert isinstance(offset, int)
    minutes = (at - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(minutes=1)
    return (minutes + offset) % 1440


@pytest.mark.parametrize(
    ("zone", "now", "moves"),
    [
        ("Europe/London", datetime(2026, 3, 28, 21, 30, tzinfo=UTC), [(0, None), (60, "2026-03-29T01:00:00+00:00")]),
        ("Europe/London", datetime(2026, 10, 24, 20, 30, tzinfo=UTC), [(60, None), (0, "2026-10-25T01:00:00+00:00")]),
        ("Europe/London", datetime(2026, 1, 14, 20, 10, tzinfo=UTC), [(0, None)]),
        ("Asia/Kolkata", datetime(2026, 1, 14, 20, 10, tzinfo=UTC), [(330, None)]),
        # Half an hour forward and back: at 02:00 by the clock on the first Sundays of October and April.
        ("Australia/Lord_Howe", datetime(2026, 10, 3, 10, 10, tzinfo=UTC), [(630, None), (660, "2026-10-03T15:30:00+00:00")]),
        ("Australia/Lord_Howe", datetime(2026, 4, 4, 10, 10, tzinfo=UTC), [(660, None), (630, "2026-04-04T15:00:00+00:00")]),
    ],
)  # fmt: skip
def test_the_clock_over_the_band_is_the_houses(zone: str, now: datetime, moves: list[tuple[int, str | None]]) -> None:
    house = ZoneInfo(zone)
    band = band_at(now, house)
    clock = band.clock()
    assert clock["zone"] == zone
    found = [(one["offset_minutes"], one["from"]) for one in clock["segments"]]
    assert found == [(offset, moment or band.start.isoformat()) for offset, moment in moves]
    for minute in range((band.end - band.start) // timedelta(minutes=1)):
        at = band.start + timedelta(minutes=minute)
        local = at.astimezone(house)
        assert shown(clock["segments"], at) == local.hour * 60 + local.minute, at


@pytest.mark.parametrize(("now", "hours"), [(SPRING, 8 + 3 + 23), (AUTUMN, 8 + 3 + 25)])
def test_the_band_ends_with_tomorrow_however_long_it_is(now: datetime, hours: int) -> None:
    band = band_at(now, LONDON)
    assert band.start == now.astimezone(UTC).replace(minute=0) - timedelta(hours=8)
    assert (band.end - band.start) == timedelta(hours=hours)
    ended = band.end.astimezone(LONDON)
    assert (ended.date() - now.date(), ended.hour, ended.minute) == (timedelta(days=2), 0, 0)


class TestSpring:
    """The inverter's clock is moved with the house's: a window from 00:30 to 04:30 acts for three hours."""

    @pytest.fixture
    def evening(self) -> datetime:
        return SPRING

    async def test_a_window_over_the_move_acts_an_hour_less(
        self, hass: HomeAssistant, entry: MockConfigEntry, card: Card
    ) -> None:
        await act(hass, entry, "apply_schedule", charge=ACROSS)
        day = await card.watch(device_id(hass, entry))
        # 00:30 GMT, and 04:30 BST, which is 03:30 UTC.
        assert [(one["start"], one["end"]) for one in day["acting"]["held"]] == [
            ("2026-03-29T00:30:00+00:00", "2026-03-29T03:30:00+00:00")
        ]


class TestAutumn:
    """The same window acts for five hours."""

    @pytest.fixture
    def evening(self) -> datetime:
        return AUTUMN

    async def test_a_window_over_the_move_acts_an_hour_more(
        self, hass: HomeAssistant, entry: MockConfigEntry, card: Card
    ) -> None:
        await act(hass, entry, "apply_schedule", charge=ACROSS)
        day = await card.watch(device_id(hass, entry))
        # 00:30 BST, which is 23:30 UTC, and 04:30 GMT.
        assert [(one["start"], one["end"]) for one in day["acting"]["held"]] == [
            ("2026-10-24T23:30:00+00:00", "2026-10-25T04:30:00+00:00")
        ]
