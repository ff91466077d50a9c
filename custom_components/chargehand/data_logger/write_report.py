"""What the data logger has written, told the moment it happens."""

from collections.abc import Callable
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import callback

from ..changes import ScheduleEvent, ScheduleMonitor
from ..core.inverter import Inverter
from ..core.logger_port import LoggerWrite
from ..core.modbus import LineError
from ..core.schedule import Image
from ..messages import LOGGER_REFUSED, logger_registers_text, logger_write_text, text

DAY_SECONDS = 24 * 3600.0

TOLD_AGAIN_SECONDS = 600.0
"""Until a write to the same registers outside the schedule is told again: some data loggers write a sign of life every second."""

MOST_TOLD = 64


class WriteReport:
    """Records the writes of one inverter's data logger, and looks at once what has become of the schedule."""

    def __init__(
        self,
        entry: ConfigEntry[Any],
        monitor: ScheduleMonitor,
        *,
        wrote: Callable[[], None],
        found: Callable[[Image], None],
    ) -> None:
        """Tell `monitor` who it was. `wrote` is called after a write to what Chargehand writes too, `found` with the schedule's registers as read back."""
        self._monitor = monitor
        self._log = monitor.activity_log
        self._hass = monitor.activity_log.hass
        self._wrote = wrote
        self._found = found
        self._entry = entry
        self._looking = False
        self._look_again = False
        self._told: dict[frozenset[int], float] = {}
        """Registers outside the schedule, and when their writes were told last, on the event loop's clock."""

        self._refusal_told: float | None = None

    @callback
    def take(self, write: LoggerWrite) -> None:
        """Record a write."""
        concerns_schedule = _concerns_schedule(self._monitor.inverter, write)
        if concerns_schedule or self._is_news(write):
            self._record(write)
        if write.guarded:
            self._wrote()
        if not concerns_schedule:
            return
        self._monitor.hand = text("by_data_logger")
        if self._looking:
            self._look_again = True
            return
        self._looking = True
        name = f"{self._entry.title} - look what the data logger has written"
        self._entry.async_create_background_task(self._hass, self._look(), name)

    def _is_news(self, write: LoggerWrite) -> bool:
        """Return whether these registers were not told of lately."""
        now = self._hass.loop.time()
        told = self._told.pop(write.registers, None)
        is_news = told is None or now >= told + TOLD_AGAIN_SECONDS
        self._told[write.registers] = now if told is None or is_news else told
        if len(self._told) > MOST_TOLD:
            del self._told[next(iter(self._told))]
        return is_news

    def _record(self, write: LoggerWrite) -> None:
        base = self._monitor.inverter.map.line.first_number
        self._log.record(
            ScheduleEvent.DATA_LOGGER_WROTE,
            logger_write_text(write, base),
            registers=[at + base for at in write.now],
            values=list(write.now.values()),
            was=[write.was.get(at) for at in write.now],
        )

    @callback
    def take_refused(self, write: LoggerWrite) -> None:
        """Tell of a write that was refused; once a day is enough."""
        now = self._hass.loop.time()
        if self._refusal_told is None or now >= self._refusal_told + DAY_SECONDS:
            self._refusal_told = now
            what = logger_registers_text(write, self._monitor.inverter.map.line.first_number)
            self._log.raise_issue(LOGGER_REFUSED, what=what)

    async def _look(self) -> None:
        """Read the schedule, and again for what was written meanwhile."""
        monitor = self._monitor
        try:
            self._look_again = True
            while self._look_again:
                self._look_again = False
                image = await monitor.inverter.read_image()
            if monitor.storage.unfinished is None:
                monitor.compare(image)
            self._found(image)
        except LineError:
            # The next poll reads it, and knows whose it is.
            return
        finally:
            self._looking = False


def _concerns_schedule(inverter: Inverter, write: LoggerWrite) -> bool:
    """Return whether a write may have changed the schedule; one of an unknown function may have changed anything."""
    schedule = inverter.map.schedule
    if schedule is None:
        return False
    return not write.registers or not write.registers.isdisjoint(at for _, at in schedule.addresses)
