"""Automations on an inverter whose charge windows take amperes: a limit stays as it was given, and is told in its own unit."""

import pytest

from tests.bench.burdock import CHARGE
from tests.blueprints.conftest import MoveIn
from tests.blueprints.test_changed_elsewhere import TELL
from tests.blueprints.test_expensive_hours_hold import CHEAPEST, NIGHT, evening, rows, show
from tests.blueprints.test_winter_night_charge import HOURS
from tests.calls import act

AMPERES = {"limit": 60, "limit_unit": "current"}
CURRENT = CHARGE[0] + 2
"""In half amperes."""


async def test_a_night_is_charged_at_a_limit_in_amperes(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40, inverter="burdock")
    await house.automate("winter_night_charge", way="fixed", fixed_level=90, lowest=50, **HOURS, **AMPERES)
    for moment in ("00:29:50", "00:31"):
        await house.go(f"2026-01-11 {moment}")
    # 01:00 and 05:00 in minutes since midnight, UTC, which is the house's time in January.
    assert await house.bench.registers("holding", CHARGE[0], 4) == [60, 300, 120, 90]
    for moment in ("04:59", "05:00:30"):
        await house.go(f"2026-01-11 {moment}")
    assert await house.level() == pytest.approx(90, abs=1)
    assert house.told == []


async def test_the_cheapest_hours_are_charged_in_at_a_limit_in_amperes(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60, load=300, inverter="burdock")
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **(CHEAPEST | AMPERES))
    await evening(house)
    # 20 % of 10 kWh and 1.2 kWh that the house takes until 02:00, at 60 A and 52 V, and a tenth more: 1.1 h.
    assert (await act(house.hass, house.entry, "get_schedule"))["charge"] == [
        {"start": "02:30", "end": "04:00", "current": 60.0, "stop_level": 80.0}
    ]


async def test_a_current_that_was_changed_elsewhere_is_told_in_amperes(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 12:00", inverter="burdock")
    window = {"start": "01:00", "end": "05:00", "current": 60, "stop_level": 95}
    await act(house.hass, house.entry, "apply_schedule", charge=[window], discharge=[])
    await house.automate("changed_elsewhere", notify=TELL)
    await house.go("2026-01-10 12:01")
    await house.bench.set(CURRENT, [20])
    await house.go("2026-01-10 12:03")
    (told,) = house.told
    assert "charge window 1 current was 60 A, is now 10 A. " in told["message"]
    assert "The inverter holds: charge 01:00–05:00 10 A to 95 %; discharge never" in told["message"]
