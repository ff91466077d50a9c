"""Energies that the inverter does not count itself, calculated from the powers that it reports."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from math import isfinite
from typing import override

from homeassistant.components.sensor import RestoreSensor, SensorDeviceClass, SensorExtraStoredData, SensorStateClass
from homeassistant.const import UnitOfEnergy
from homeassistant.core import callback

from ..coordinator import ChargehandCoordinator
from ..core.inverter import Sample, energy_between
from ..core.registers import RegisterMap
from ..entity import ChargehandEntity

LONGEST = timedelta(minutes=5)
"""Over a longer time between two readings the power is not known, and nothing is counted."""

POLLS = 2.5
"""The same in intervals between polls, where those are long: one that fails leaves no hole."""

DIGITS = 3
"""Of a kWh that are shown: whole watt-hours."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Calculation:
    """One energy and the power that it is calculated from, as the catalogue's keys. `sign` -1: from what is below zero."""

    energy: str
    power: str
    sign: int = 1


# As shown, battery power is positive while discharging and grid power while importing.
CALCULATIONS = (
    Calculation(energy="battery_energy_charged", power="battery_power", sign=-1),
    Calculation(energy="battery_energy_discharged", power="battery_power"),
    Calculation(energy="grid_energy_imported", power="grid_power"),
    Calculation(energy="grid_energy_exported", power="grid_power", sign=-1),
    Calculation(energy="load_energy", power="load_power"),
    Calculation(energy="solar_energy", power="solar_power"),
)


def calculations(register_map: RegisterMap) -> Iterator[Calculation]:
    """Yield those that a map needs: it has the power and not the energy."""
    for one in CALCULATIONS:
        if one.power in register_map.readings and one.energy not in register_map.readings:
            yield one


class CalculatedEnergy(ChargehandEntity, RestoreSensor):
    """An energy in kWh, the integral of one sign of a power, kept over restarts."""

    _attr_device_class = SensorDeviceClass.ENERGY
    _attr_state_class = SensorStateClass.TOTAL_INCREASING
    _attr_native_unit_of_measurement = UnitOfEnergy.KILO_WATT_HOUR

    def __init__(self, coordinator: ChargehandCoordinator, calculation: Calculation) -> None:
        """Have the key, and so the unique id, that the energy would have if the inverter counted it."""
        # No entity but the reading: it is integrated also where its own entity is disabled, renamed or in another unit.
        super().__init__(coordinator, calculation.energy, {calculation.power})
        self._attr_translation_key = f"{calculation.energy}_calculated"
        self._attr_extra_state_attributes = {"source": calculation.power}
        self._calculation = calculation
        self._kwh: float | None = None
        self._sample: Sample | None = None

    @property
    def available(self) -> bool:
        """Whether the power could be read."""
        return super().available and self._calculation.power in self.coordinator.data.values

    @property
    def native_value(self) -> float | None:
        """The energy."""
        return None if self._kwh is None else round(self._kwh, DIGITS)

    @property
    @override
    def extra_restore_state_data(self) -> SensorExtraStoredData:
        """What is kept, unrounded: each restart would round it once more."""
        return SensorExtraStoredData(self._kwh, self.native_unit_of_measurement)

    async def async_added_to_hass(self) -> None:
        """Go on from what was kept."""
        await super().async_added_to_hass()
        # One that was given another entity id is added again, and has counted on: nothing is kept under the new id yet.
        if self._kwh is None:
            self._kwh = await self._kept()
        self._count()

    @callback
    def async_entity_id_changed(self, old_entity_id: str) -> None:
        """Go on under another entity id; nothing here depends on it."""

    @callback
    def _handle_coordinator_update(self) -> None:
        self._count()
        super()._handle_coordinator_update()

    async def _kept(self) -> float:
        kept = await self.async_get_last_sensor_data()
        try:
            kwh = 0.0 if kept is None else float(str(kept.native_value))
        except ValueError:
            return 0.0
        return kwh if isfinite(kwh) else 0.0

    @callback
    def _count(self) -> None:
        """Add what came since the reading before, where the two are not too far apart."""
        data, interval = self.coordinator.data, self.coordinator.update_interval
        power = data.values.get(self._calculation.power)
        if not self.available or data.read_at is None or not isinstance(power, int | float):
            return
        before, self._sample = self._sample, Sample(watts=self._calculation.sign * power, at=data.read_at)
        longest = LONGEST if interval is None else max(LONGEST, POLLS * interval)
        if before is not None and self._kwh is not None and self._sample.at - before.at <= longest:
            self._kwh += energy_between(before, self._sample) / 1000
