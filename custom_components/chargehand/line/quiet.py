"""Keeps the Modbus library from logging what Chargehand itself reports once.

The library logs an error for every missing or late answer. On a line that is down overnight that is thousands of lines that say
what the coordinator says in one. Only what Chargehand's own connections cause is held back, and only above debug level.
"""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_ours: ContextVar[bool] = ContextVar("chargehand_line", default=False)
_library = logging.getLogger("pymodbus.logging")


class _OnlyOthers(logging.Filter):
    """Lets through what another user of the library caused."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Tell whether the record may pass."""
        return not _ours.get() or _library.isEnabledFor(logging.DEBUG)


_library.addFilter(_OnlyOthers())


@contextmanager
def quiet() -> Iterator[None]:
    """Mark what runs inside, and every callback of a connection that is opened inside, as Chargehand's."""
    token = _ours.set(True)
    try:
        yield
    finally:
        _ours.reset(token)
