"""The sensors beside the map, as a table: what each needs, and where its state and attributes come from."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.const import EntityCategory, UnitOfEnergy, UnitOfRatio, UnitOfTime
from homeassistant.helpers.typing import StateType
from homeassistant.util import dt as dt_util

from ..changes import ScheduleStatus
from ..coordinator import ChargehandCoordinator
from ..core.inverter import CLOCK, SCHEDULE, acting
from ..core.order import OrderState
from ..nights import last_night, nights_counted


@dataclass(frozen=True, kw_only=True)
class OwnSensorDescription(SensorEntityDescription):
    """A sensor beyond the map: what it needs read, and where its state and attributes come from."""

    needs: frozenset[str] = frozenset()
    value_fn: Callable[[ChargehandCoordinator], StateType | datetime]
    attributes_fn: Callable[[ChargehandCoordinator], Mapping[str, Any] | None] = lambda _: None
    available_fn: Callable[[ChargehandCoordinator], bool] = lambda _: True
    money: bool = False
    """Whether its unit is the house's currency."""
    always: bool = False
    """Whether it has a state while the inverter cannot be reached."""
    exists_fn: Callable[[ChargehandCoordinator], bool] = lambda _: True
    """Whether the options have it, as far as not the map decides."""


def _next_start(coordinator: ChargehandCoordinator) -> datetime | None:
    now = dt_util.utcnow()
    # Two days: one that acts now has its next start at this hour tomorrow, and a clock may be moved.
    return next(
        (
            one.start
            for one in acting(coordinator.inverter, coordinator.data, now, now + timedelta(days=2))
            if one.start > now
        ),
        None,
    )


def _planned(key: str) -> Callable[[ChargehandCoordinator], StateType]:
    """Return how to take `key` from the last plan."""
    return lambda coordinator: None if coordinator.plan is None else coordinator.plan[key]


def _plan_attributes(coordinator: ChargehandCoordinator) -> Mapping[str, Any] | None:
    plan = coordinator.plan
    return None if plan is None else {key: plan[key] for key in ("why", "windows", "basis", "hours")}


def _status_attributes(coordinator: ChargehandCoordinator) -> Mapping[str, Any]:
    failure = coordinator.monitor.last_failure
    return {
        "when": coordinator.monitor.shown.since,
        "by": coordinator.monitor.shown.by,
        "details": coordinator.monitor.shown.what,
        "last_failure": None
        if failure is None
        else {"key": failure.key, "text": failure.text, "when": failure.at.isoformat(), "by": failure.by},
        "put_back_today": coordinator.storage.put_back_on(dt_util.now().date().isoformat()),
    }


def _order_attributes(coordinator: ChargehandCoordinator) -> Mapping[str, Any] | None:
    order = coordinator.orders.order
    if order is None:
        return None
    return {"what": str(order.what), "until": order.until, "since": order.since, "why": order.why, "by": order.by}


def _saving_attributes(coordinator: ChargehandCoordinator) -> Mapping[str, Any] | None:
    """Return what the saving is made of, and what it leaves out: what stays in the battery, and its wear."""
    plan = coordinator.plan
    return (
        None
        if plan is None
        else {key: plan[key] for key in ("cost_without", "expected_cost", "left_gain", "wear_cost")}
    )


OWN_SENSORS: tuple[OwnSensorDescription, ...] = (
    OwnSensorDescription(
        key="schedule_status",
        translation_key="schedule_status",
        device_class=SensorDeviceClass.ENUM,
        options=list(ScheduleStatus),
        needs=frozenset({SCHEDULE}),
        value_fn=lambda coordinator: coordinator.monitor.shown.status,
        attributes_fn=_status_attributes,
        always=True,
    ),
    OwnSensorDescription(
        key="order",
        translation_key="order",
        device_class=SensorDeviceClass.ENUM,
        options=list(OrderState),
        needs=frozenset({SCHEDULE}),
        value_fn=lambda coordinator: coordinator.orders.state,
        attributes_fn=_order_attributes,
        always=True,
    ),
    OwnSensorDescription(
        key="registers_written",
        translation_key="registers_written",
        state_class=SensorStateClass.TOTAL_INCREASING,
        entity_category=EntityCategory.DIAGNOSTIC,
        needs=frozenset({SCHEDULE}),
        value_fn=lambda coordinator: coordinator.storage.registers_written,
        always=True,
    ),
    OwnSensorDescription(
        key="registers_written_today",
        translation_key="registers_written_today",
        state_class=SensorStateClass.TOTAL_INCREASING,
        entity_category=EntityCategory.DIAGNOSTIC,
        needs=frozenset({SCHEDULE}),
        value_fn=lambda coordinator: coordinator.storage.written_on(dt_util.now().date().isoformat()),
        always=True,
    ),
    OwnSensorDescription(
        key="next_charge_start",
        translation_key="next_charge_start",
        device_class=SensorDeviceClass.TIMESTAMP,
        needs=frozenset({SCHEDULE}),
        value_fn=_next_start,
        available_fn=lambda coordinator: coordinator.data.schedule is not None,
    ),
    OwnSensorDescription(
        key="clock_offset",
        translation_key="clock_offset",
        device_class=SensorDeviceClass.DURATION,
        native_unit_of_measurement=UnitOfTime.SECONDS,
        state_class=SensorStateClass.MEASUREMENT,
        suggested_display_precision=0,
        entity_category=EntityCategory.DIAGNOSTIC,
        needs=frozenset({CLOCK}),
        # The clock shows whole seconds: tenths would change at every poll and mean nothing.
        value_fn=lambda coordinator: (
            None if coordinator.data.clock_offset is None else round(coordinator.data.clock_offset)
        ),
        available_fn=lambda coordinator: coordinator.data.clock_offset is not None,
    ),
    OwnSensorDescription(
        key="planned_level",
        translation_key="planned_level",
        # Not of the class battery: that is for what a battery holds, and the platform takes a device's first one for its level.
        native_unit_of_measurement=UnitOfRatio.PERCENTAGE,
        needs=frozenset({SCHEDULE}),
        value_fn=_planned("target_level"),
        attributes_fn=_plan_attributes,
        always=True,
    ),
    OwnSensorDescription(
        key="planned_grid_energy",
        translation_key="planned_grid_energy",
        # Not of the class energy: that is for meters, and a plan may be less than the one before.
        native_unit_of_measurement=UnitOfEnergy.KILO_WATT_HOUR,
        suggested_display_precision=1,
        needs=frozenset({SCHEDULE}),
        value_fn=_planned("grid_charge_kwh"),
        always=True,
    ),
    OwnSensorDescription(
        key="expected_saving",
        translation_key="expected_saving",
        device_class=SensorDeviceClass.MONETARY,
        suggested_display_precision=2,
        money=True,
        needs=frozenset({SCHEDULE}),
        value_fn=_planned("saving"),
        attributes_fn=_saving_attributes,
        always=True,
    ),
    OwnSensorDescription(
        key="saving_earned",
        translation_key="saving_earned",
        device_class=SensorDeviceClass.MONETARY,
        state_class=SensorStateClass.TOTAL,
        suggested_display_precision=2,
        money=True,
        needs=frozenset({SCHEDULE}),
        value_fn=lambda coordinator: round(coordinator.nights.earned, 4),
        attributes_fn=lambda coordinator: nights_counted(coordinator.nights),
        always=True,
    ),
    OwnSensorDescription(
        key="last_night",
        translation_key="last_night",
        device_class=SensorDeviceClass.MONETARY,
        suggested_display_precision=2,
        money=True,
        needs=frozenset({SCHEDULE}),
        value_fn=lambda coordinator: (last_night(coordinator.nights) or {}).get("saving"),
        attributes_fn=lambda coordinator: last_night(coordinator.nights),
        always=True,
    ),
)
