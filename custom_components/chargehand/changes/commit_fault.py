"""What went wrong with a change on an inverter: the key of its text, and what goes into it."""

from collections.abc import Mapping

from homeassistant.core import callback

from ..core.inverter import Inverter, NotSupported
from ..core.modbus import LineError
from ..core.schedule import Image, NoJournal, NotSafely, NotTaken, Rejected, Uncertain
from ..messages import line_fault_text, reason_text, schedule_text, text, why_text
from .earlier_schedule import NothingBefore

NOT_KNOWN = "–"

RESTORED: Mapping[str, str] = {"schedule": "schedule_restored", "value": "value_restored", "clock": "clock_not_set"}
"""The texts of a change that did not take, by what was to be written."""

COMMIT_FAULTS = (Rejected, NotSafely, NoJournal, NothingBefore, NotSupported, NotTaken, Uncertain, LineError)
"""What a change can end with; all else is a fault of the program."""


@callback
def held_text(inverter: Inverter, image: Image | None) -> str:
    """Return what the inverter holds, in words, as far as it is known."""
    if not image:
        return NOT_KNOWN
    try:
        return schedule_text(inverter.schedule_of(image))
    except NotSupported:
        return NOT_KNOWN


@callback
def commit_fault(inverter: Inverter, fault: Exception, about: str = "schedule") -> tuple[str, dict[str, str]]:
    """Return the key and the values of a fault's text. `about` is what was to be written: `schedule`, `value` or `clock`."""
    match fault:
        case Rejected():
            return "schedule_rejected", {"reasons": "; ".join(map(reason_text, fault.reasons))}
        case NotSafely():
            return "not_safely", {}
        case NoJournal():
            return "no_journal", {}
        case NothingBefore():
            return fault.key, {}
        case NotSupported():
            return f"no_{fault.what}", {}
        case NotTaken():
            reason, held = why_text(inverter.line, fault.why), held_text(inverter, fault.image)
            return RESTORED[about], {"reason": reason, "held": held}
        case Uncertain():
            reason, held = why_text(inverter.line, fault.why), held_text(inverter, fault.seen)
            return f"{about}_uncertain", {"reason": reason, "held": held}
        case LineError():
            return "line_down", {"reason": line_fault_text(inverter.line, fault)}
        case _:
            return "own_fault", {}


@callback
def fault_text(inverter: Inverter, fault: Exception) -> str:
    """Return why a commit of the schedule was refused or failed, in words."""
    key, values = commit_fault(inverter, fault)
    return text(key, **values)
