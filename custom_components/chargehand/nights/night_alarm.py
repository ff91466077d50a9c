"""Rings at a moment of every night's cheap hours."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime, time, timedelta
from typing import Any

from homeassistant.config_entries import SIGNAL_CONFIG_ENTRY_CHANGED, ConfigEntry, ConfigEntryState
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers.dispatcher import async_dispatcher_connect
from homeassistant.helpers.event import async_call_later, async_track_point_in_utc_time
from homeassistant.util import dt as dt_util

from ..messages import NO_CHEAP_HOURS, clear_issue, raise_issue
from .tonight_hours import EDGES, LEAST_LEFT, NoCheapHours, TonightHours, tonight_hours

LOOK_AGAIN = timedelta(hours=1)
"""How often the coming hours are looked up anew: prices and options may say something else by then."""

type Due = Callable[[TonightHours], datetime]
type Ring = Callable[[TonightHours], object]


class NightAlarm:
    """Calls `ring` once a night, at the moment of the cheap hours that `due` returns, while the inverter's entry is loaded.

    An issue under Repairs says so while no hours are known. One that catches up rings as soon as it can for a moment that it has missed, if enough of the hours is left.
    """

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry[Any],
        between: Mapping[str, time],
        due: Due,
        ring: Ring,
        *,
        catches_up: bool,
    ) -> None:
        """Take hours from `between`, and what it leaves out from the tariff of the entry's options."""
        self._hass = hass
        self._entry = entry
        self._between = between
        self._due = due
        self._ring = ring
        self._catches_up = catches_up
        self._waits_for: TonightHours | None = None
        self._over = datetime.min.replace(tzinfo=UTC)
        """The end of the last hours that were dealt with."""

        self._stop_timer: CALLBACK_TYPE | None = None
        self._stop_listening: CALLBACK_TYPE | None = None

    @callback
    def start(self) -> None:
        """Begin; whoever starts it is not rung before it is ready."""
        self._stop_listening = async_dispatcher_connect(self._hass, SIGNAL_CONFIG_ENTRY_CHANGED, self._entry_changed)
        self._stop_timer = async_call_later(self._hass, 0, self._look)

    @callback
    def stop(self) -> None:
        """Ring no more."""
        self._set_timer(None)
        self._report(known=True)
        if self._stop_listening is not None:
            self._stop_listening()
            self._stop_listening = None

    @callback
    def _entry_changed(self, _change: object, entry: ConfigEntry[Any]) -> None:
        if entry is self._entry:
            self._look()

    @callback
    def _look(self, _now: datetime | None = None) -> None:
        if self._entry.state is not ConfigEntryState.LOADED:
            # Nothing could be done about it. It looks again when the entry is loaded.
            self._set_timer(None)
            return
        now = dt_util.utcnow()
        while (hours := self._next(now)) is not None and self._due(hours) <= now:
            if self._is_worth_it(hours, now):
                self._ring(hours)
            self._waits_for, self._over = None, hours.ends
        self._waits_for = hours
        self._report(known=hours is not None)
        again = now + LOOK_AGAIN
        self._set_timer(again if hours is None else min(self._due(hours), again))

    def _next(self, now: datetime) -> TonightHours | None:
        """Return the next hours to ring for; None where none are known. Those that have come are not looked up anew."""
        waits_for = self._waits_for
        if waits_for is not None and now >= min(self._due(waits_for), waits_for.begins):
            return waits_for
        try:
            return tonight_hours(self._hass, self._entry.options, self._between, max(now, self._over))
        except NoCheapHours, ValueError:
            return None

    @callback
    def _report(self, *, known: bool) -> None:
        if self._between.keys() >= EDGES:
            # Others may wait for the tariff's.
            return
        if known:
            clear_issue(self._hass, self._entry.entry_id, NO_CHEAP_HOURS)
        else:
            raise_issue(self._hass, self._entry.entry_id, NO_CHEAP_HOURS, inverter=self._entry.title)

    def _is_worth_it(self, hours: TonightHours, now: datetime) -> bool:
        if self._catches_up:
            return now < hours.ends - LEAST_LEFT
        return hours is self._waits_for and now < self._due(hours) + LOOK_AGAIN

    @callback
    def _set_timer(self, moment: datetime | None) -> None:
        if self._stop_timer is not None:
            self._stop_timer()
            self._stop_timer = None
        if moment is not None:
            self._stop_timer = async_track_point_in_utc_time(self._hass, self._look, moment)
