"""Sensors of what Chargehand knows beside the map: the schedule, the plan, the nights, the line."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from homeassistant.components.sensor import SensorEntity
from homeassistant.core import callback
from homeassistant.helpers.typing import StateType

from ..coordinator import ChargehandCoordinator
from ..entity import ChargehandEntity
from .own_sensor_descriptions import OwnSensorDescription


class OwnSensor(ChargehandEntity, SensorEntity):
    """A sensor beyond the map."""

    entity_description: OwnSensorDescription
    _unrecorded_attributes = frozenset({"hours", "windows", "basis", "last_failure", "put_back_today"})

    def __init__(self, coordinator: ChargehandCoordinator, description: OwnSensorDescription) -> None:
        """Show what `description` describes."""
        super().__init__(coordinator, description.key, description.needs)
        self.entity_description = description
        if description.money:
            self._attr_native_unit_of_measurement = coordinator.hass.config.currency
        self._written: object = None

    @callback
    def _handle_coordinator_update(self) -> None:
        shown = self.available, self.native_value, self.extra_state_attributes
        if shown != self._written:
            self._written = shown
            super()._handle_coordinator_update()

    @property
    def available(self) -> bool:
        """Whether there is something to show."""
        description = self.entity_description
        return description.always or (super().available and description.available_fn(self.coordinator))

    @property
    def native_value(self) -> StateType | datetime:
        """The state."""
        return self.entity_description.value_fn(self.coordinator)

    @property
    def extra_state_attributes(self) -> Mapping[str, Any] | None:
        """What else belongs to it."""
        return self.entity_description.attributes_fn(self.coordinator)
