"""Winter night charge with the plan that Chargehand makes: from the house's own statistics, in a real recorder."""

import asyncio
from datetime import timedelta
from typing import Any
from unittest.mock import Mock

import pytest
from homeassistant.components.energy.data import async_get_manager
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry, mock_platform

from tests.actions.test_plan_charge import BATTERY, TARIFF
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.blueprints.conftest import MoveIn
from tests.blueprints.house import MovedHouse
from tests.calls import state
from tests.house.test_plan_history import LOAD
from tests.kept_history import keep_energy
from tests.teasel import held, registers

PLANNED = {"way": "planned", "fixed_level": 90, "lowest": 20, "limit": 3000, "tell_plan": True}
BANDS = [{"start": "01:00", "end": "05:00", "buy": 0.11}]
KWH_AN_HOUR = 0.25


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The recorder has to be there before Home Assistant."""


async def plan_here(house: MovedHouse) -> None:
    """Give the inverter's options battery and tariff; the battery is the bench's."""
    battery = BATTERY | {"load_sensor": LOAD}
    options = {**house.entry.options, "battery": battery, "tariff": TARIFF | {"bands": BANDS}}
    house.hass.config_entries.async_update_entry(house.entry, options=options)
    await house.hass.async_block_till_done()


async def night(house: MovedHouse, day: str) -> float:
    """From before the plan to the end of the cheap hours; return the level that was planned."""
    for moment in (f"{day} 00:29:50", f"{day} 00:30:30"):
        await house.go(moment)
    # A plan is calculated in a thread, which no timer tells of.
    for _ in range(400):
        if house.told:
            break
        await asyncio.sleep(0.05)
    planned = float(state(house.hass, "sensor", "planned_level").state)
    for moment in (f"{day} 04:59", f"{day} 05:00:30"):
        await house.go(moment)
    return planned


async def test_three_nights_in_january_reach_the_level_that_was_planned(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=25, load=1000 * KWH_AN_HOUR)
    await plan_here(house)
    await house.automate("winter_night_charge", **PLANNED)
    for day in (11, 12, 13):
        await keep_energy(house.hass, LOAD, 21, lambda _start: KWH_AN_HOUR)
        planned = await night(house, f"2026-01-{day}")
        # 20 expensive hours of 0.25 kWh: 5.3 kWh of the 10, above the reserve of 10 %.
        assert 57 <= planned <= 75
        assert await house.level() == pytest.approx(planned, abs=2)
        told = house.told.pop()
        assert told["title"] == "Night charge"
        assert state(house.hass, "sensor", "planned_level").attributes["why"] in told["message"]
        assert f"charge 01:00–05:00 to {round(planned)} %" in told["message"]
        assert house.told == []


async def shine(hass: HomeAssistant, kwh: float) -> None:
    """A forecast for the roof of the mill, in the energy dashboard: that much a day, from 8 to 18 h."""
    # A forecast of our own: no service that makes one can be had on a bench.

    async def forecast(_hass: HomeAssistant, _entry_id: str) -> dict[str, dict[str, float]]:
        hour = dt_util.utcnow().replace(minute=0, second=0, microsecond=0)
        hours = [hour + timedelta(hours=ahead) for ahead in range(72)]
        return {"wh_hours": {at.isoformat(): 100 * kwh if 8 <= dt_util.as_local(at).hour < 18 else 0.0 for at in hours}}

    source = MockConfigEntry(domain="roof_of_the_mill")
    source.add_to_hass(hass)
    hass.config.components.add("roof_of_the_mill")
    mock_platform(hass, "roof_of_the_mill.energy", Mock(async_get_solar_forecast=forecast))
    assert await async_setup_component(hass, "energy", {})
    manager = await async_get_manager(hass)
    roof: Any = {
        "type": "solar", "stat_energy_from": "sensor.roof", "config_entry_solar_forecast": [source.entry_id]
    }  # fmt: skip
    await manager.async_update({"energy_sources": [roof]})


async def sunny_house(move_in: MoveIn) -> MovedHouse:
    house = await move_in("2026-07-11 00:20", level=60, load=1000 * KWH_AN_HOUR)
    await plan_here(house)
    await keep_energy(house.hass, LOAD, 21, lambda _start: KWH_AN_HOUR)
    await shine(house.hass, 20)
    return house


async def test_a_night_in_july_charges_nothing_when_it_does_not_pay(move_in: MoveIn) -> None:
    house = await sunny_house(move_in)
    await house.automate("winter_night_charge", **PLANNED, when="pays")
    before = await house.level()
    await night(house, "2026-07-11")
    assert await house.level() < before - 5
    assert await house.bench.registers("holding", CONTROL_WORD) == [0]
    (told,) = house.told
    assert told["title"] == "The night charge is switched off"
    assert state(house.hass, "sensor", "planned_level").attributes["why"] in told["message"]


async def test_a_night_in_july_that_is_in_season_clears_the_windows(move_in: MoveIn) -> None:
    house = await sunny_house(move_in)
    await house.automate("winter_night_charge", **(PLANNED | {"months": ["7"], "lowest": 0}))
    before = await house.level()
    await night(house, "2026-07-11")
    assert await house.level() < before - 5
    for window in CHARGE:
        start, _, _, end = await held(house.bench, window)
        assert start == end, "unused"
    (told,) = house.told
    assert told["title"] == "Night charge"
    assert state(house.hass, "sensor", "planned_level").attributes["why"] in told["message"]
    assert told["message"].endswith("charge never.")


@pytest.mark.parametrize("way", ["planned", "planned_hours"])
async def test_too_little_history_falls_back_to_the_fixed_level_and_says_so(move_in: MoveIn, way: str) -> None:
    house = await move_in("2026-01-11 00:20", level=40, load=250)
    await plan_here(house)
    await house.automate("winter_night_charge", **(PLANNED | {"way": way, "tell_plan": False}))
    await night(house, "2026-01-11")
    assert await held(house.bench) == registers("01:00", "05:00", 3000, 90)
    assert await house.level() == pytest.approx(90, abs=1)
    (told,) = house.told
    assert told["title"] == "Night charge without a plan"
    assert told["message"].startswith("Too little is known about what this house uses, so the fixed level applies.")
