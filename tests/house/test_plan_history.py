"""A plan from the house's own long-term statistics, in a real recorder."""

from datetime import timedelta
from typing import Any
from unittest.mock import Mock

import pytest
from homeassistant.components.energy.data import async_get_manager
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry, mock_platform

from tests.actions.test_plan_charge import BATTERY, TARIFF, plan
from tests.bench.remote import Bench
from tests.conftest import AddInverter
from tests.kept_history import keep_energy

LOAD = "sensor.alder_mill_load"


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The recorder has to be there before Home Assistant."""


async def test_the_houses_own_history_is_the_demand(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    await bench.battery(level=20)
    entry = await add_inverter(bench.port, battery=BATTERY | {"load_sensor": LOAD}, tariff=TARIFF)
    await keep_energy(hass, LOAD, 21, lambda _start: 0.5)
    answer = await plan(hass, entry, solar_kwh=0)
    assert not answer["basis"]["fallback"]
    assert answer["basis"]["load_days"] >= 19
    whole = answer["hours"][1:-1]
    assert all(hour["load_kwh"] == pytest.approx(0.5) for hour in whole)
    assert len(answer["hours"]) >= 36


async def test_the_energy_dashboards_forecast_is_the_roof(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    # A forecast of our own: no service that makes one can be had on a bench.
    hour = dt_util.utcnow().replace(minute=0, second=0, microsecond=0)

    async def forecast(_hass: HomeAssistant, _entry_id: str) -> dict[str, dict[str, float]]:
        return {"wh_hours": {(hour + timedelta(minutes=30 * half)).isoformat(): 250.0 for half in range(96)}}

    source = MockConfigEntry(domain="roof_of_the_mill")
    source.add_to_hass(hass)
    hass.config.components.add("roof_of_the_mill")
    mock_platform(hass, "roof_of_the_mill.energy", Mock(async_get_solar_forecast=forecast))
    assert await async_setup_component(hass, "energy", {})
    manager = await async_get_manager(hass)
    await manager.async_update(
        {
            "energy_sources": [
                {
                    "type": "solar",
                    "stat_energy_from": "sensor.roof",
                    "config_entry_solar_forecast": [source.entry_id, "gone"],
                }
            ]
        }
    )
    entry = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF)
    answer = await plan(hass, entry, load_kwh=9)
    assert answer["basis"]["solar"] == "forecast"
    assert sum(row["solar_kwh"] for row in answer["hours"][1:25]) == pytest.approx(24 * 0.5, rel=0.1)


async def test_without_a_forecast_the_roofs_history_is_used(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    roof = "sensor.alder_mill_roof"
    await keep_energy(hass, roof, 21, lambda _start: 0.25)
    entry = await add_inverter(bench.port, battery=BATTERY | {"solar_sensor": roof}, tariff=TARIFF)
    answer = await plan(hass, entry, load_kwh=9)
    assert answer["basis"]["solar"] == "history"
    assert all(row["solar_kwh"] == pytest.approx(0.25) for row in answer["hours"][1:-1])
