"""One inverter's data logger: served on a port of Chargehand's own, or not at all."""

import asyncio
from collections.abc import Callable
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import callback

from ..changes import ScheduleMonitor
from ..core.logger_port import LoggerGate, PortCounts, PortServer
from ..core.schedule import Image
from ..messages import LOGGER_PORT, LOGGER_REFUSED
from .port_options import port_rules
from .write_report import WriteReport

TRY_AGAIN_SECONDS = 15.0
"""Until a port that another program has is tried again."""

QUIET_SECONDS = 60.0
"""A data logger that closes its connection after each request is still there for so long."""


class DataLogger:
    """Serves the data logger of one inverter while its options say so."""

    def __init__(
        self,
        entry: ConfigEntry[Any],
        monitor: ScheduleMonitor,
        *,
        wrote: Callable[[], None],
        found: Callable[[Image], None],
    ) -> None:
        """Set up without opening the port. `wrote` is called after a write of the data logger to what Chargehand writes too, `found` with what it left."""
        self.rules = port_rules(entry.options)
        """None: it is not served."""

        self._entry = entry
        self._log = monitor.activity_log
        self._report = WriteReport(entry, monitor, wrote=wrote, found=found)
        self._listeners: list[Callable[[], None]] = []
        self._opening: asyncio.Task[None] | None = None
        self._server: PortServer | None = None
        if self.rules is not None:
            gate = LoggerGate(monitor.inverter, self.rules, wrote=self._report.take, refused=self._report.take_refused)
            self._server = PortServer(gate, self.rules, monitor.inverter.line.unit, self._changed)

    @property
    def served(self) -> bool:
        """Return whether the options have it served."""
        return self._server is not None

    @property
    def counts(self) -> PortCounts:
        """Return what was served so far."""
        return PortCounts() if self._server is None else self._server.gate.counts

    @property
    def connected(self) -> bool:
        """Return whether the data logger is connected, or was lately."""
        last = self.counts.last_request
        lately = last is not None and self._log.hass.loop.time() < last + QUIET_SECONDS
        return lately or (self._server is not None and self._server.connected > 0)

    @property
    def requests_per_minute(self) -> int:
        """Return how many requests came in the last minute."""
        return self.counts.per_minute(self._log.hass.loop.time())

    async def open(self) -> None:
        """Open the port, if there is one; where that fails, an issue says why, and it is tried again."""
        if self.rules is None or not self.rules.refuses_writes:
            self._log.clear_issues(LOGGER_REFUSED)
        if not await self._try_to_open():
            name = f"{self._entry.title} - open the port for the data logger"
            self._opening = self._entry.async_create_background_task(self._log.hass, self._open_later(), name)

    async def close(self) -> None:
        """Close the port, once a write that is on its way has ended."""
        if self._opening is not None:
            self._opening.cancel()
            await asyncio.wait([self._opening])
        # It says that the port is tried again.
        self._log.clear_issues(LOGGER_PORT)
        if self._server is not None:
            await self._server.close()

    async def _try_to_open(self) -> bool:
        """Return whether there is nothing left to open."""
        if self._server is not None:
            try:
                await self._server.open()
            except OSError as fault:
                why = fault.strerror or str(fault)
                self._log.raise_issue(LOGGER_PORT, port=str(self._server.port), reason=why)
                return False
        self._log.clear_issues(LOGGER_PORT)
        return True

    async def _open_later(self) -> None:
        while True:
            await asyncio.sleep(TRY_AGAIN_SECONDS)
            if await self._try_to_open():
                return

    @callback
    def on_change(self, listener: Callable[[], None]) -> Callable[[], None]:
        """Call `listener` when a client has come or gone; return how to stop that."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener)

    @callback
    def _changed(self) -> None:
        for listener in list(self._listeners):
            listener()
