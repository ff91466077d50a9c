"""Energies that the inverter does not count itself, reckoned from the powers that it tells."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from homeassistant.components.integration.const import METHOD_TRAPEZOIDAL
from homeassistant.components.integration.sensor import IntegrationSensor
from homeassistant.components.sensor import SensorDeviceClass, SensorStateClass
from homeassistant.const import STATE_UNAVAILABLE, STATE_UNKNOWN, UnitOfEnergy, UnitOfPower, UnitOfTime
from homeassistant.core import State, callback

from .coordinator import ChargehandCoordinator
from .entity import ChargehandEntity
from .registers import RegisterMap

LONGEST = timedelta(minutes=5)
"""Over a longer time between two readings the power is not known, and nothing is counted."""

DIGITS = 3
"""Of a kWh that are kept: whole watt-hours."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Reckoning:
    """One energy and the power that it is reckoned from, as the catalogue's keys. `sign` -1: from what is below zero."""

    energy: str
    power: str
    sign: int = 1


# As shown, battery power is positive while discharging and grid power while importing.
RECKONINGS = (
    Reckoning(energy="battery_energy_charged", power="battery_power", sign=-1),
    Reckoning(energy="battery_energy_discharged", power="battery_power"),
    Reckoning(energy="grid_energy_imported", power="grid_power"),
    Reckoning(energy="grid_energy_exported", power="grid_power", sign=-1),
    Reckoning(energy="load_energy", power="load_power"),
    Reckoning(energy="solar_energy", power="solar_power"),
)


def reckonings(register_map: RegisterMap) -> Iterator[Reckoning]:
    """Those that a map needs: it has the power and not the energy."""
    for one in RECKONINGS:
        if one.power in register_map.readings and one.energy not in register_map.readings:
            yield one


class ReckonedEnergy(ChargehandEntity, IntegrationSensor):
    """An energy in kWh by the platform's own integration (trapezoids), of one sign of a power, kept over restarts."""

    _attr_device_class = SensorDeviceClass.ENERGY
    _attr_state_class = SensorStateClass.TOTAL_INCREASING

    def __init__(self, coordinator: ChargehandCoordinator, reckoning: Reckoning) -> None:
        """Have the key, and so the unique id, that the energy would have if the inverter counted it."""
        IntegrationSensor.__init__(
            self,
            integration_method=METHOD_TRAPEZOIDAL,
            name=None,
            round_digits=DIGITS,
            # No entity's id but the reading: it is integrated also where its own entity is disabled or renamed.
            source_entity=reckoning.power,
            unique_id=None,
            unit_prefix="k",
            unit_time=UnitOfTime.HOURS,
            max_sub_interval=None,
        )
        ChargehandEntity.__init__(self, coordinator, reckoning.energy, {reckoning.power})
        # The platform's class names itself after its source; ours has a translated name that says what it is.
        del self._attr_name
        self._attr_translation_key = f"{reckoning.energy}_reckoned"
        self._reckoning = reckoning
        self._sample: State | None = None

    @property
    def available(self) -> bool:
        """Whether the power could be read."""
        return super().available and self._reckoning.power in self.coordinator.data.values

    @property
    def native_unit_of_measurement(self) -> str:
        """Always kWh, also before the first reading."""
        return UnitOfEnergy.KILO_WATT_HOUR

    async def async_added_to_hass(self) -> None:
        """Go on from what was kept."""
        await super().async_added_to_hass()
        self._take()

    @callback
    def _handle_coordinator_update(self) -> None:
        self._take()

    @callback
    def _take(self) -> None:
        """Add what came since the reading before, where both were there and are not far apart."""
        at = self.coordinator.data.read_at
        before = self._sample
        if at is None or (self.available and before is not None and before.last_updated == at):
            return
        self._sample = sample = self._sampled(at)
        if before is not None and sample.last_updated - before.last_updated > LONGEST:
            before = None
        self._integrate_on_state_change(None, None, before, sample)

    def _sampled(self, at: datetime) -> State:
        """The power of this sign in W at a moment, as the platform's class takes it."""
        power = self.coordinator.data.values.get(self._reckoning.power)
        if not self.available:
            shown = STATE_UNAVAILABLE
        elif isinstance(power, int | float):
            shown = str(max(0.0, self._reckoning.sign * power))
        else:
            shown = STATE_UNKNOWN
        attributes = {"unit_of_measurement": UnitOfPower.WATT, "device_class": SensorDeviceClass.POWER}
        return State(f"sensor.{self._reckoning.power}", shown, attributes, last_reported=at, last_updated=at)
