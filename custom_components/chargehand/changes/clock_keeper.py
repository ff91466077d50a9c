"""Keeps the inverter's clock right, as far as the user allows it."""

import logging

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from ..const import CONF_ALLOW_CONTROL, CONF_SET_CLOCK_SECONDS
from ..core.inverter import Inverter
from ..core.modbus import LineError
from ..core.registers import ValueRefused
from ..core.schedule import NoTime, NotTaken, Schedule, may_set_clock
from ..messages import text
from .activity_log import ActivityLog
from .shielded import shielded
from .storage import Storage

_LOGGER = logging.getLogger(__name__)


class ClockKeeper:
    """Sets one inverter's clock when it is further off than its entry's options allow."""

    def __init__(
        self, hass: HomeAssistant, entry: ConfigEntry, inverter: Inverter, storage: Storage, log: ActivityLog
    ) -> None:
        """Set `inverter`'s clock, count it in `storage`, and record it in `log`."""
        self._hass = hass
        self._inverter = inverter
        self._storage = storage
        self._log = log
        self._title = entry.title
        self._most = entry.options.get(CONF_SET_CLOCK_SECONDS, 0) if entry.options.get(CONF_ALLOW_CONTROL) else 0
        """Seconds that it may be off; 0: it is never set."""

    async def keep(self, schedule: Schedule | None, offset: float) -> float:
        """Set the clock if it is too far off: at most once a day, and never near a window's edge. Return its offset in seconds then."""
        now = dt_util.now()
        today = now.date().isoformat()
        if not self._most or abs(offset) <= self._most or self._storage.clock_set_on == today:
            return offset
        if not may_set_clock(schedule, now, offset, self._inverter.reader.zone):
            return offset
        # Also a try that fails was one of the day: a clock that does not take the time is not written every minute.
        await self._storage.clock_was_set(today)
        try:
            before, after = await shielded(self._hass, self._inverter.set_clock())
        except (LineError, NotTaken, NoTime, ValueRefused) as fault:
            _LOGGER.warning("The clock of %s could not be set: %s", self._title, fault)
            return offset
        self._log.record_clock(before, after, text("by_options"))
        return after
