"""Expensive hours hold with the plan that Chargehand makes of its prices, from the house's own statistics in a real recorder."""

import asyncio
from typing import Any

import pytest

from tests.actions.test_plan_charge import BATTERY
from tests.blueprints.conftest import MoveIn
from tests.blueprints.test_expensive_hours_hold import CHEAPEST, cheap, rows, show, windows
from tests.calls import state
from tests.house.test_plan_history import LOAD
from tests.kept_history import keep_energy


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The recorder has to be there before Home Assistant."""


async def test_the_planned_level_is_reached_in_cheap_hours_and_again_changes_nothing(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=25, load=250)
    options = {**house.entry.options, "battery": BATTERY | {"load_sensor": LOAD}}
    house.hass.config_entries.async_update_entry(house.entry, options=options)
    await house.hass.async_block_till_done()
    await keep_energy(house.hass, LOAD, 21, lambda _start: 0.25)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", cheap(2, 2.5, 3, 3.5, 4, 4.5)))
    entity = await house.automate("expensive_hours_hold", **(CHEAPEST | {"way": "planned", "tell_chosen": True}))
    for moment in ("2026-01-10 21:59:50", "2026-01-10 22:00:20"):
        await house.go(moment)
    await told(house.told, 1)
    planned = float(state(house.hass, "sensor", "planned_level").state)
    assert 50 <= planned <= 80
    for start, end, stop in await windows(house):
        assert 200 <= start < end <= 500
        assert stop <= round(planned)
    assert house.told[0]["title"] == "Charge before the expensive hours"
    assert state(house.hass, "sensor", "planned_level").attributes["why"] in house.told[0]["message"]
    before = await house.writes()
    await house.hass.services.async_call("automation", "trigger", {"entity_id": entity}, blocking=True)
    await told(house.told, 2)
    assert await house.writes() == before
    await house.go("2026-01-11 04:59")
    assert await house.level() == pytest.approx(planned, abs=2)


async def told(messages: list[dict[str, str]], count: int) -> None:
    """A plan is calculated in a thread, which no timer tells of: wait for so many messages."""
    for _ in range(400):
        if len(messages) == count:
            return
        await asyncio.sleep(0.05)
    pytest.fail(f"{len(messages)} messages instead of {count}")
