"""Keeps the Modbus library from logging what Chargehand itself reports once.

The library logs an error for every missing or late answer. On a line that is down overnight that is thousands of lines that say
what the coordinator says in one. Only what Chargehand's own connections cause is held back, and only above debug level.
"""

import logging
from contextvars import ContextVar

_ours: ContextVar[bool] = ContextVar("chargehand_line", default=False)
_library = logging.getLogger("pymodbus.logging")


class _OnlyOthers(logging.Filter):
    """Lets through what another user of the library caused."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Tell whether the record may pass."""
        return not _ours.get() or _library.isEnabledFor(logging.DEBUG)


_library.addFilter(_OnlyOthers())


def quiet() -> None:
    """Mark the rest of the running task, and every callback of a connection that it opens, as Chargehand's."""
    _ours.set(True)
