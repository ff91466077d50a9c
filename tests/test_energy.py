"""Energies reckoned by the platform where the map has only powers."""

from pathlib import Path

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.conftest import SERIAL
from tests.house import entity_id, state
from tests.moved_time import HouseTime
from tests.powers import TEASEL, flow, house_time, kwh, minutes, powers_only

__all__ = ["house_time", "powers_only"]


async def test_energies_are_split_by_sign(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    """Ten minutes of 3 kW are 0.5 kWh, of 1.2 kW 0.2 kWh; a minute from power to none is half of it (trapezoidal rule)."""
    await flow(bench, charging=3000, importing=3600, solar=600)
    await minutes(hass, powers_only, house_time, 11)
    await flow(bench, charging=-1200, importing=-600)
    await minutes(hass, powers_only, house_time, 11)
    half_a_minute = 0.5 / 60
    expected = {
        "battery_energy_charged": 3.0 * (10 / 60 + 2 * half_a_minute),
        "battery_energy_discharged": 1.2 * (10 / 60 + half_a_minute),
        "grid_energy_imported": 3.6 * (10 / 60 + 2 * half_a_minute),
        "grid_energy_exported": 0.6 * (10 / 60 + half_a_minute),
        "solar_energy": 0.6 * (10 / 60 + 2 * half_a_minute),
    }
    for key, value in expected.items():
        assert kwh(hass, key) == pytest.approx(value, abs=0.0006), key


async def test_a_time_without_readings_is_not_counted(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    await flow(bench, charging=3000)
    await minutes(hass, powers_only, house_time, 1)
    before = kwh(hass, "battery_energy_charged")
    await minutes(hass, powers_only, house_time, 4)
    assert kwh(hass, "battery_energy_charged") == pytest.approx(before + 0.2, abs=0.0011)
    await bench.fault("exception", code=4, count=None)
    await minutes(hass, powers_only, house_time, 2)
    assert state(hass, "sensor", "battery_energy_charged").state == "unavailable"
    house_time.pass_by(minutes=3)
    await bench.clear_faults()
    await minutes(hass, powers_only, house_time, 1)
    assert kwh(hass, "battery_energy_charged") == pytest.approx(before + 0.2, abs=0.0011)
    # A house that slept for hours did not see the power, though no poll has failed.
    house_time.pass_by(hours=2)
    await minutes(hass, powers_only, house_time, 1)
    assert kwh(hass, "battery_energy_charged") == pytest.approx(before + 0.2, abs=0.0011)
    await minutes(hass, powers_only, house_time, 2)
    assert kwh(hass, "battery_energy_charged") == pytest.approx(before + 0.3, abs=0.0011)


async def test_a_poll_that_is_forgiven_leaves_no_hole(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    await flow(bench, charging=3000)
    await minutes(hass, powers_only, house_time, 1)
    before = kwh(hass, "battery_energy_charged")
    await bench.fault("exception", code=4, count=None)
    await minutes(hass, powers_only, house_time, 1)
    await bench.clear_faults()
    await minutes(hass, powers_only, house_time, 1)
    assert kwh(hass, "battery_energy_charged") == pytest.approx(before + 0.1, abs=0.0011)


async def test_reckoned_energies_are_kept_over_a_restart_which_is_not_counted(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    await flow(bench, charging=3000)
    await minutes(hass, powers_only, house_time, 5)
    before = kwh(hass, "battery_energy_charged")
    assert before > 0.2
    await hass.config_entries.async_unload(powers_only.entry_id)
    house_time.pass_by(minutes=4)
    await hass.config_entries.async_setup(powers_only.entry_id)
    await hass.async_block_till_done()
    assert kwh(hass, "battery_energy_charged") == before
    await minutes(hass, powers_only, house_time, 2)
    assert kwh(hass, "battery_energy_charged") == pytest.approx(before + 0.1, abs=0.0011)


async def test_they_are_reckoned_also_where_the_power_itself_is_not_shown_and_its_unit_was_changed(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    registry = er.async_get(hass)
    registry.async_update_entity(entity_id(hass, "sensor", "battery_power"), disabled_by=er.RegistryEntryDisabler.USER)
    registry.async_update_entity_options(
        entity_id(hass, "sensor", "grid_power"), "sensor", {"unit_of_measurement": "kW"}
    )
    await hass.config_entries.async_reload(powers_only.entry_id)
    await hass.async_block_till_done()
    await flow(bench, charging=3000, importing=3000)
    await minutes(hass, powers_only, house_time, 3)
    assert kwh(hass, "battery_energy_charged") == pytest.approx(0.125, abs=0.0011)
    assert kwh(hass, "grid_energy_imported") == pytest.approx(0.125, abs=0.0011)


async def test_an_energy_that_the_map_comes_to_have_takes_the_place_of_the_reckoned_one(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    reckoned = entity_id(hass, "sensor", "battery_energy_charged")
    Path(hass.config.path("chargehand", "mine.yaml")).write_text(TEASEL.read_text())  # noqa: ASYNC240 - a line of a test
    await hass.config_entries.async_reload(powers_only.entry_id)
    await hass.async_block_till_done()
    assert entity_id(hass, "sensor", "battery_energy_charged") == reckoned
    assert (
        er.async_get(hass).async_get_entity_id("sensor", "chargehand", f"{SERIAL}_battery_energy_charged") == reckoned
    )
    assert "source" not in state(hass, "sensor", "battery_energy_charged").attributes
