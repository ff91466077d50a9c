"""The sensors of the line and of the logger port, as a table."""

from homeassistant.components.sensor import SensorDeviceClass, SensorStateClass
from homeassistant.const import EntityCategory, UnitOfRatio, UnitOfTime

from ..coordinator import ChargehandCoordinator
from .own_sensor_descriptions import OwnSensorDescription


def _line_now(coordinator: ChargehandCoordinator) -> float:
    return coordinator.hass.loop.time()


def _errors(coordinator: ChargehandCoordinator) -> int:
    """Return requests that failed, and answers on this gateway that came damaged and were asked for again."""
    line, now = coordinator.inverter.line, _line_now(coordinator)
    return line.health.errors(now) + line.gateway.health.damaged(now)


LINE_SENSORS: tuple[OwnSensorDescription, ...] = (
    OwnSensorDescription(
        key="line_round_trip",
        translation_key="line_round_trip",
        device_class=SensorDeviceClass.DURATION,
        native_unit_of_measurement=UnitOfTime.MILLISECONDS,
        state_class=SensorStateClass.MEASUREMENT,
        suggested_display_precision=0,
        entity_category=EntityCategory.DIAGNOSTIC,
        entity_registry_enabled_default=False,  # it is another at every poll
        value_fn=lambda coordinator: coordinator.inverter.line.health.round_trip_ms(_line_now(coordinator)),
        always=True,
    ),
    OwnSensorDescription(
        key="line_errors",
        translation_key="line_errors",
        state_class=SensorStateClass.MEASUREMENT,
        entity_category=EntityCategory.DIAGNOSTIC,
        value_fn=_errors,
        always=True,
    ),
    OwnSensorDescription(
        key="line_busy",
        translation_key="line_busy",
        native_unit_of_measurement=UnitOfRatio.PERCENTAGE,
        state_class=SensorStateClass.MEASUREMENT,
        suggested_display_precision=0,
        entity_category=EntityCategory.DIAGNOSTIC,
        entity_registry_enabled_default=False,  # it is another at every poll
        value_fn=lambda coordinator: coordinator.inverter.line.gateway.health.busy_percent(_line_now(coordinator)),
        always=True,
    ),
    OwnSensorDescription(
        key="data_logger_requests",
        translation_key="data_logger_requests",
        state_class=SensorStateClass.MEASUREMENT,
        entity_category=EntityCategory.DIAGNOSTIC,
        value_fn=lambda coordinator: coordinator.data_logger.requests_per_minute,
        exists_fn=lambda coordinator: coordinator.data_logger.served,
        always=True,
    ),
)
