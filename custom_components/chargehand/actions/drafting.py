"""The actions on the draft: whole sides laid out at once, dropped, or put on the inverter."""

from collections.abc import Mapping, Sequence
from typing import Any

from homeassistant.helpers.typing import VolDictType
from homeassistant.util.json import JsonObjectType

from ..coordinator import ChargehandCoordinator
from ..core.registers import SchedulePoints
from ..core.schedule import Adjustment, Schedule, ScheduleRequest, reasons_against
from ..messages import activity_text
from .answers import adjusted_data, reason_data, receipt_data
from .editing import apply_draft
from .failures import control_not_allowed, refused, translated
from .schedule import SIDE_FIELDS, asked_sides, schedule_data

DRAFT_FIELDS: VolDictType = SIDE_FIELDS


async def draft_schedule(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Lay windows out as the draft, and return it with what speaks against it. Nothing is written. Raises the platform's errors."""
    points, held = _editable(coordinator)
    sides = asked_sides(data)
    adjusted: Sequence[Adjustment] = ()
    if sides:
        with translated(coordinator):
            adjusted = await coordinator.drafts.lay_out(
                points,
                held,
                ScheduleRequest(charge=sides.get("charge"), discharge=sides.get("discharge")),
                by,
                shift=coordinator.inverter.shift(),
                voltage=_voltage(coordinator),
            )
    return {**_draft_data(coordinator, points, held), "adjusted": adjusted_data(adjusted)}


async def discard_draft_in_words(
    coordinator: ChargehandCoordinator, _data: Mapping[str, Any], _by: str
) -> JsonObjectType:
    """Drop the draft, and return what it would have changed."""
    kept, held = coordinator.drafts.kept, coordinator.data.schedule
    await coordinator.drafts.end()
    changes = None if kept is None or held is None else activity_text(held, kept.draft.upon(held))
    return {"discarded": kept is not None, "changes": changes}


async def answer_apply_draft(coordinator: ChargehandCoordinator, _data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Put the draft on the inverter, and return the receipt. Raises the platform's errors."""
    return receipt_data(await apply_draft(coordinator, by))


def _editable(coordinator: ChargehandCoordinator) -> tuple[SchedulePoints, Schedule]:
    """Return where the windows are, and what the inverter holds. Raises ServiceValidationError where nothing can be edited."""
    points, held = coordinator.inverter.points, coordinator.data.schedule
    if not coordinator.allow_control:
        raise control_not_allowed()
    if points is None:
        raise refused("no_schedule")
    if held is None:
        raise refused("schedule_not_read")
    return points, held


def _voltage(coordinator: ChargehandCoordinator) -> float | None:
    """Return the battery's voltage as it was read last, in V."""
    volts = coordinator.data.values.get("battery_voltage")
    return float(volts) if isinstance(volts, int | float) and volts > 0 else None


def _draft_data(coordinator: ChargehandCoordinator, points: SchedulePoints, held: Schedule) -> dict[str, Any]:
    """Return the draft's windows, or those held where there is none, and what speaks against them."""
    kept, shift = coordinator.drafts.kept, coordinator.inverter.shift()
    drafted = held if kept is None else kept.draft.upon(held)
    windows = schedule_data(drafted)
    return {
        "draft": kept is not None,
        "charge": windows["charge"],
        "discharge": windows["discharge"],
        "changes": None if kept is None else activity_text(held, drafted),
        "reasons": []
        if kept is None
        else [reason_data(one) for one in reasons_against(points, held, drafted, shift=shift)],
        "applies_at": None if kept is None or kept.due is None else kept.due.isoformat(),
    }
