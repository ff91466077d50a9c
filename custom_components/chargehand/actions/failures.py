"""What goes wrong inside, turned at one place into what Home Assistant shows its user."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager

from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.util import dt as dt_util

from ..changes import COMMIT_FAULTS, Failure, NothingBefore, OrderReplaced, commit_fault
from ..const import DOMAIN
from ..coordinator import ChargehandCoordinator
from ..core.inverter import NotSupported
from ..core.registers import ValueRefused
from ..core.schedule import NoTime, NotSafely, Rejected
from ..messages import reason_text

_LOGGER = logging.getLogger(__name__)

REFUSED_AS_ASKED = (Rejected, NotSafely, NothingBefore, NotSupported)
"""Faults of what was asked for; all others are the inverter's, its line's or the disk's."""


def _raised(kind: type[HomeAssistantError], key: str, **values: str) -> HomeAssistantError:
    return kind(translation_domain=DOMAIN, translation_key=key, translation_placeholders=values)


@contextmanager
def translated(coordinator: ChargehandCoordinator, about: str = "schedule") -> Iterator[None]:
    """Raise what happens inside as the platform's own errors, with a message that says what the inverter holds now.

    `about` is what was to be written: the `schedule`, a `value` of a control, or the `clock`.
    """
    try:
        yield
    except COMMIT_FAULTS as fault:
        key, values = commit_fault(coordinator.inverter, fault, about)
        kind = ServiceValidationError if isinstance(fault, REFUSED_AS_ASKED) else HomeAssistantError
        raise _raised(kind, key, **values) from fault
    except OrderReplaced as fault:
        raise _raised(HomeAssistantError, "order_replaced") from fault
    except NoTime as fault:
        raise _raised(HomeAssistantError, "not_understood") from fault
    except ValueRefused as fault:
        raise _raised(ServiceValidationError, "value_rejected", reason=reason_text(fault.reason)) from fault
    except ValueError as fault:
        # What was asked for has been checked by now, so the program is wrong: its own words are for the log.
        _LOGGER.exception("A change of %s met a fault of the program", coordinator.config_entry.title)
        raise _raised(HomeAssistantError, "own_fault") from fault


@contextmanager
def committing(coordinator: ChargehandCoordinator, by: str) -> Iterator[None]:
    """Refuse a change of the schedule without permission to write, translate its errors as above, and keep its failure.

    A script that goes on after an error never sees it, so it stands in the schedule's status until a change is confirmed.
    """
    try:
        if not coordinator.allow_control:
            raise control_not_allowed()
        if coordinator.hass.is_stopping:
            # Nothing is written to disk any more, so that a change that is cut off could not be mended at the next start.
            raise refused("stopping")
        with translated(coordinator):
            yield
    except HomeAssistantError as fault:
        key = fault.translation_key or type(fault).__name__
        coordinator.monitor.take_failure(Failure(key=key, text=str(fault), at=dt_util.utcnow(), by=by))
        raise


def check_permission(coordinator: ChargehandCoordinator, by: str) -> None:
    """Refuse a change of the schedule before anything is calculated for it, as `committing` does, and keep that as its failure."""
    with committing(coordinator, by):
        pass


def refused(key: str, **values: str) -> HomeAssistantError:
    """Return the error for what cannot be done as it was asked; nothing was sent."""
    return _raised(ServiceValidationError, key, **values)


def control_not_allowed() -> HomeAssistantError:
    """Return the error for a change where the entry is read-only."""
    return refused("control_not_allowed")
