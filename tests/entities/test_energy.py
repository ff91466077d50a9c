"""Energies calculated from powers, where the map has only those."""

from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from hypothesis import given
from hypothesis import strategies as st
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.inverter.energy_integral import Sample, energy_between
from tests.bench.remote import Bench
from tests.calls import entity_id, state
from tests.moved_time import HouseTime
from tests.powers import START, TEASEL, flow, house_time, kwh, minutes, powers_only

__all__ = ["house_time", "powers_only"]


async def test_energies_are_split_by_sign(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    """The oracle is numpy's trapezoidal rule over milliseconds of the straight lines between the readings of each minute."""
    await flow(bench, charging=3000, importing=3600, solar=600)
    await minutes(hass, powers_only, house_time, 11)
    await flow(bench, charging=-1200, importing=-600)
    await minutes(hass, powers_only, house_time, 11)
    # Nothing flowed at the first reading of all; then eleven of each.
    battery, grid, solar = ([0, *[first] * 11, *[then] * 11] for first, then in ((-3000, 1200), (3600, -600), (600, 0)))
    expected = {
        "battery_energy_charged": above_zero([-watts for watts in battery]),
        "battery_energy_discharged": above_zero(battery),
        "grid_energy_imported": above_zero(grid),
        "grid_energy_exported": above_zero([-watts for watts in grid]),
        "solar_energy": above_zero(solar),
    }
    assert min(expected.values()) > 0.1
    for key, value in expected.items():
        assert kwh(hass, key) == pytest.approx(value, abs=0.0006), key


async def test_an_outage_of_less_than_five_minutes_leaves_no_hole(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    await flow(bench, charging=3000)
    await minutes(hass, powers_only, house_time, 1)
    before = kwh(hass, "battery_energy_charged")
    await bench.fault("exception", code=4, count=None)
    await minutes(hass, powers_only, house_time, 3)
    assert state(hass, "sensor", "battery_energy_charged").state == "unavailable"
    await bench.clear_faults()
    await minutes(hass, powers_only, house_time, 1)
    assert kwh(hass, "battery_energy_charged") == pytest.approx(before + 0.2, abs=0.0011)


async def test_an_inverter_that_is_read_every_ten_minutes_has_its_energies_too(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    hass.config_entries.async_update_entry(powers_only, options={**powers_only.options, "fast_seconds": 600})
    await hass.config_entries.async_reload(powers_only.entry_id)
    await flow(bench, charging=3000)
    for _ in range(3):
        await minutes(hass, powers_only, house_time, 1, each=10)
    assert kwh(hass, "battery_energy_charged") == pytest.approx(0.25 + 0.5 + 0.5, abs=0.0011)


async def test_one_that_is_given_another_entity_id_goes_on(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    await flow(bench, charging=3000)
    await minutes(hass, powers_only, house_time, 3)
    before = kwh(hass, "battery_energy_charged")
    registry = er.async_get(hass)
    registry.async_update_entity(entity_id(hass, "sensor", "battery_energy_charged"), new_entity_id="sensor.cellar")
    await hass.async_block_till_done()
    await minutes(hass, powers_only, house_time, 2)
    renamed = hass.states.get("sensor.cellar")
    assert renamed is not None
    assert float(renamed.state) == pytest.approx(before + 0.1, abs=0.0011)


async def test_many_restarts_do_not_round_it_away(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    """24 W are 0.4 Wh in a minute: less than half of what is shown."""
    await flow(bench, charging=24)
    for _ in range(10):
        await hass.config_entries.async_reload(powers_only.entry_id)
        await minutes(hass, powers_only, house_time, 1)
    assert kwh(hass, "battery_energy_charged") == pytest.approx(0.004, abs=1e-9)


@given(
    before=st.floats(-20000, 20000, allow_subnormal=False),
    after=st.floats(-20000, 20000, allow_subnormal=False),
    seconds=st.floats(0.1, 3600),
)
def test_the_integral_is_that_of_the_line_above_zero(before: float, after: float, seconds: float) -> None:
    one, other = Sample(watts=before, at=START), Sample(watts=after, at=START + timedelta(seconds=seconds))
    assert energy_between(one, other) == pytest.approx(1000 * above_zero([before, after], seconds), rel=1e-4, abs=1e-3)


def above_zero(watts: Sequence[float], seconds: float = 60.0) -> float:
    """What lies above zero under straight lines between readings so many s apart, in kWh (numpy's trapezoidal rule)."""
    at = np.linspace(0, len(watts) - 1, (len(watts) - 1) * 60_000 + 1)
    line = np.clip(np.interp(at, range(len(watts)), watts), 0, None)
    return float(np.trapezoid(line, at)) * seconds / 3.6e6


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


async def test_calculated_energies_are_kept_over_a_restart_which_is_not_counted(
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


async def test_they_are_calculated_also_where_the_power_itself_is_not_shown_and_its_unit_was_changed(
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


async def test_an_energy_that_the_map_comes_to_have_takes_the_place_of_the_calculated_one(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    calculated = entity_id(hass, "sensor", "battery_energy_charged")
    Path(hass.config.path("chargehand", "mine.yaml")).write_text(TEASEL.read_text())  # noqa: ASYNC240 - a line of a test
    await hass.config_entries.async_reload(powers_only.entry_id)
    await hass.async_block_till_done()
    assert entity_id(hass, "sensor", "battery_energy_charged") == calculated
    assert "source" not in state(hass, "sensor", "battery_energy_charged").attributes
