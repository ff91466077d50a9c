"""Entities keep their places in the registry, and with them names and history, when a part of a start fails."""

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand import binary_sensor, sensor, time
from custom_components.chargehand.entities import calculated_energy
from tests.calls import entity_id, state
from tests.moved_time import HouseTime
from tests.powers import house_time, minutes, powers_only

__all__ = ["house_time", "powers_only"]

LAST_OF_A_PLATFORM = (calculated_energy.CalculatedEnergy, "__init__")
IN_THE_MIDDLE = (sensor.OwnSensor, "__init__")
ALL_OF_A_PLATFORM = (binary_sensor.FlagSensor, "__init__")
WHILE_ADDED = (time.WindowTime, "async_added_to_hass")
THE_STATE_ITSELF = (sensor.MapSensor, "native_value")


def raising(*_: object, **__: object) -> None:
    """Fail as code does on a platform that it was not written for."""
    raise TypeError("missing 1 required keyword-only argument")


@pytest.mark.parametrize(
    "failing", [LAST_OF_A_PLATFORM, IN_THE_MIDDLE, ALL_OF_A_PLATFORM, WHILE_ADDED, THE_STATE_ITSELF]
)
async def test_what_fails_at_a_start_takes_no_entity_out_of_the_registry(
    hass: HomeAssistant,
    powers_only: MockConfigEntry,
    house_time: HouseTime,
    failing: tuple[type, str],
    caplog: pytest.LogCaptureFixture,
) -> None:
    registry = er.async_get(hass)
    renamed = registry.async_update_entity(
        entity_id(hass, "sensor", "battery_energy_charged"), name="Cellar battery", new_entity_id="sensor.cellar"
    )
    await hass.async_block_till_done()
    before = set(registry.entities)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(*failing, property(raising) if failing == THE_STATE_ITSELF else raising)
        await hass.config_entries.async_reload(powers_only.entry_id)
        await hass.async_block_till_done()
        assert "missing 1 required keyword-only argument" in caplog.text, "something has failed"
        assert set(registry.entities) == before
    await hass.config_entries.async_reload(powers_only.entry_id)
    await hass.async_block_till_done()
    assert set(registry.entities) == before
    assert registry.async_get("sensor.cellar") == renamed
    await minutes(hass, powers_only, house_time, 2)
    assert float(state(hass, "sensor", "battery_energy_charged").state) == 0
