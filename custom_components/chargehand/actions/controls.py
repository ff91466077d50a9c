"""Setting a control of the map: what arms the schedule is a commit of it, all else a write that is read back."""

from dataclasses import replace

from ..coordinator import ChargehandCoordinator
from ..core.registers import Value
from ..core.schedule import Edited
from .failures import committing, control_not_allowed, translated


async def set_control(coordinator: ChargehandCoordinator, key: str, value: Value, by: str) -> None:
    """Set a control and show what was read back. Raises the platform's errors."""
    if not coordinator.allow_control:
        raise control_not_allowed()
    schedule = coordinator.inverter.map.schedule
    armed_by = None if schedule is None else schedule.armed_by
    if armed_by is None or armed_by.control.key != key:
        with translated(coordinator, "value"):
            value = await coordinator.inverter.set_control(key, value)
    elif isinstance(value, bool):
        armed = value == armed_by.value
        with committing(coordinator, by):
            await coordinator.commits.change(Edited(lambda held: replace(held, armed=armed)), by, confirms=True)
    else:
        with translated(coordinator, "value"):
            value = await coordinator.commits.set_arming(armed_by.control, value, by)
    coordinator.take_control_value(key, value)
