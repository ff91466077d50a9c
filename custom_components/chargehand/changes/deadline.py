"""One moment at which something is due."""

from collections.abc import Callable
from datetime import datetime

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers.event import async_track_point_in_utc_time


class Deadline:
    """Calls `due` at the moment that was set last, once."""

    def __init__(self, hass: HomeAssistant, due: Callable[[], None]) -> None:
        """Wait for nothing yet."""
        self._hass = hass
        self._due = due
        self._stop: CALLBACK_TYPE | None = None

    @callback
    def set(self, moment: datetime | None) -> None:
        """Wait for a moment, in UTC, and for no earlier one any more; None: for none."""
        if self._stop is not None:
            self._stop()
            self._stop = None
        if moment is not None:
            self._stop = async_track_point_in_utc_time(self._hass, self._reached, moment)

    @callback
    def _reached(self, _now: datetime) -> None:
        self._stop = None
        self._due()
