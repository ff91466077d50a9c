"""One inverter's day as it is now, for all who watch it. What changes is pushed to them; with the last of them it ends."""

import asyncio
import logging
from collections.abc import Callable, Coroutine, Hashable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from homeassistant.config_entries import SIGNAL_CONFIG_ENTRY_CHANGED, ConfigEntry, ConfigEntryChange, ConfigEntryState
from homeassistant.const import EVENT_CORE_CONFIG_UPDATE
from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.helpers.dispatcher import async_dispatcher_connect
from homeassistant.helpers.event import async_track_state_change_event, async_track_time_change
from homeassistant.util import dt as dt_util
from homeassistant.util.hass_dict import HassKey

from ..changes import CommitStage
from ..const import DOMAIN
from ..coordinator import ChargehandConfigEntry, ChargehandCoordinator
from ..core.inverter import FOLLOWED, Subscription
from ..house import PRICE_SENSOR
from ..nights import TARIFF
from .band import band_at
from .day_facts import DayFacts, Remembered, remembered, remembered_on_disk
from .day_sections import COSTLY, QUICK
from .state_sections import stage_data

_LOGGER = logging.getLogger(__name__)

COMPILED_AT_SECOND = 30
"""The recorder has made the statistics of five minutes by then."""

FIRST_WITHIN = 1.0
"""Seconds that the first answer waits for the sections that take a while."""

type Send = Callable[[dict[str, Any]], None]


@dataclass(kw_only=True, slots=True, eq=False)
class Watcher:
    """One that watches: it gets all sections at first, and from then on those that change."""

    send: Send
    welcomed: bool = False


class LiveDay:
    """The day of one inverter, by its device."""

    def __init__(self, hass: HomeAssistant, device_id: str, entry: ChargehandConfigEntry) -> None:
        """Begin to follow the inverter, its entry, the clock and the prices."""
        self._hass = hass
        self._device_id = device_id
        self._entry = entry
        self._removed = False
        self._watchers: list[Watcher] = []
        self._coordinator: ChargehandCoordinator | None = None
        self._known: Remembered | None = None
        self._ticks = 0
        self._sections: dict[str, Any] = {name: one.empty for name, one in COSTLY.items()}
        self._made_of: dict[str, Hashable] = {}
        self._loading: asyncio.Task[None] | None = None
        self._tasks: dict[str, asyncio.Task[None]] = {}
        """Sections that are being made."""

        self._look_due: asyncio.Handle | None = None
        self._unfollow: list[CALLBACK_TYPE] = []
        self._stops: list[CALLBACK_TYPE] = [
            async_dispatcher_connect(hass, SIGNAL_CONFIG_ENTRY_CHANGED, self._entry_changed),
            async_track_time_change(hass, self._tick, minute=range(0, 60, 5), second=COMPILED_AT_SECOND),
            hass.bus.async_listen(EVENT_CORE_CONFIG_UPDATE, self._look_soon),
        ]
        self._follow()

    # ---- who watches

    @callback
    def join(self, send: Send) -> Watcher:
        """Add a watcher; once all is prepared, `welcome` sends it the first answer."""
        watcher = Watcher(send=send)
        self._watchers.append(watcher)
        return watcher

    async def prepare(self) -> None:
        """Make all sections, but wait for those that take long only a while: these come by themselves as soon as they are known."""
        if self._loading is not None:
            await asyncio.wait([self._loading])
        self._look()
        if self._tasks:
            await asyncio.wait(self._tasks.values(), timeout=FIRST_WITHIN)

    @callback
    def welcome(self, watcher: Watcher) -> None:
        """Send all sections to a watcher that is still there, and from now on those that change."""
        if watcher in self._watchers:
            watcher.welcomed = True
            watcher.send(dict(self._sections))

    @callback
    def leave(self, watcher: Watcher) -> None:
        """Take a watcher away; with the last of them nothing is followed any more."""
        self._watchers.remove(watcher)
        if not self._watchers:
            self._close()

    @callback
    def _close(self) -> None:
        del self._hass.data[DAYS][self._device_id]
        for stop in (*self._stops, *self._unfollow):
            stop()
        if self._look_due is not None:
            self._look_due.cancel()
        for task in (self._loading, *self._tasks.values()):
            if task is not None:
                task.cancel()

    # ---- what is followed

    @callback
    def _entry_changed(self, change: ConfigEntryChange, entry: ConfigEntry[Any]) -> None:
        if entry.entry_id == self._entry.entry_id:
            self._removed = change is ConfigEntryChange.REMOVED
            self._follow()

    @callback
    def _follow(self) -> None:
        """Follow the inverter as it runs now, and the entity of its prices."""
        while self._unfollow:
            self._unfollow.pop()()
        if self._coordinator is not None:
            self._known = remembered(self._coordinator)
        runs = not self._removed and self._entry.state is ConfigEntryState.LOADED
        self._coordinator = coordinator = self._entry.runtime_data if runs else None
        if coordinator is not None:
            needs = FOLLOWED & coordinator.inverter.reader.all_keys()
            self._unfollow += [
                coordinator.async_add_listener(self._look_soon, Subscription(needs=needs)),
                coordinator.monitor.commit_stages.listen(self._show_stage),
            ]
        elif self._known is None and self._loading is None:
            self._loading = self._begin(self._load(), "what is kept")
        if (sensor := self._entry.options.get(TARIFF, {}).get(PRICE_SENSOR)) is not None:
            self._unfollow.append(async_track_state_change_event(self._hass, [sensor], self._look_soon))
        self._look_soon()

    async def _load(self) -> None:
        """Take what is kept of an inverter that has not run since Home Assistant started."""
        try:
            known = await remembered_on_disk(self._hass, self._entry)
            self._known = self._known or known
        finally:
            self._loading = None
        self._look()

    @callback
    def _tick(self, _now: datetime) -> None:
        self._ticks += 1
        self._look()

    # ---- what is shown

    @callback
    def _look_soon(self, _event: Event[Any] | None = None) -> None:
        """Look once, however often something has changed until then."""
        if self._look_due is None:
            self._look_due = self._hass.loop.call_soon(self._look)

    @callback
    def _look(self) -> None:
        """Make the sections that may have changed, and send those that have."""
        if self._look_due is not None:
            self._look_due.cancel()
            self._look_due = None
        if (facts := self._facts()) is None:
            return
        self._show({name: make(facts) for name, make in QUICK.items()})
        for name, one in COSTLY.items():
            made_of = one.made_of(facts)
            if name not in self._tasks and (name not in self._made_of or self._made_of[name] != made_of):
                self._made_of[name] = made_of
                self._tasks[name] = self._begin(self._make(name, facts), name)

    def _facts(self) -> DayFacts | None:
        """Return what is known now; None until what is kept was read."""
        if self._coordinator is not None:
            self._known = remembered(self._coordinator)
        if self._known is None:
            return None
        now = dt_util.utcnow()
        return DayFacts(
            hass=self._hass,
            entry=self._entry,
            device_id=self._device_id,
            removed=self._removed,
            coordinator=self._coordinator,
            known=self._known,
            now=now,
            band=band_at(now, dt_util.get_default_time_zone()),
            ticks=self._ticks,
        )

    async def _make(self, name: str, facts: DayFacts) -> None:
        try:
            self._show({name: await COSTLY[name].make(facts)})
        except Exception:
            # The other sections go on, and this one as soon as it is made of something else.
            _LOGGER.exception("Unexpected error making %s of %s", name, self._entry.title)
        finally:
            del self._tasks[name]
        self._look_soon()

    @callback
    def _show_stage(self, stage: CommitStage | None) -> None:
        """Show a stage of a commit at once: some are over before the next look."""
        self._show({"commit": stage_data(stage)})

    @callback
    def _show(self, found: dict[str, Any]) -> None:
        changed = {
            name: data for name, data in found.items() if name not in self._sections or self._sections[name] != data
        }
        self._sections |= changed
        if not changed:
            return
        for watcher in self._watchers:
            if watcher.welcomed:
                watcher.send(changed)

    def _begin(self, work: Coroutine[Any, Any, None], what: str) -> asyncio.Task[None]:
        return self._hass.async_create_background_task(
            work, f"{self._entry.title} - {what} of the day", eager_start=False
        )


DAYS: HassKey[dict[str, LiveDay]] = HassKey(f"{DOMAIN}_days")
"""By device, those that somebody watches."""


@callback
def live_day(hass: HomeAssistant, device_id: str, entry: ChargehandConfigEntry) -> LiveDay:
    """Return the day of an inverter; it is followed from now on. Whoever asks for it joins it at once."""
    days = hass.data.setdefault(DAYS, {})
    if device_id not in days:
        days[device_id] = LiveDay(hass, device_id, entry)
    return days[device_id]
