"""Telling what happened to an inverter: to its event entity, in words to the logbook, and what stands until it is looked at."""

from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from ..connection import entity_unique_id
from ..const import DOMAIN, EVENT_CLOCK, EVENT_SCHEDULE
from ..core.schedule import Change
from ..messages import clear_issue, clock_text, raise_issue
from .status import ScheduleEvent

type Listener = Callable[[ScheduleEvent, dict[str, object]], None]
"""Takes what happened, and its details: `message`, `changes`, and what else belongs to it."""


class ActivityLog:
    """One inverter's."""

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
        """Tell of this entry's inverter."""
        self.hass = hass
        self._entry = entry
        self._listeners: list[Listener] = []
        self._untold: list[tuple[ScheduleEvent, dict[str, object]]] = []
        """What the first poll found, before there was an entity to tell."""

    @callback
    def on_event(self, listener: Listener) -> Callable[[], None]:
        """Call `listener` when something happens to the schedule; answers with how to stop that."""
        self._listeners.append(listener)
        for event, details in self._untold:
            listener(event, details)
        self._untold.clear()
        return lambda: self._listeners.remove(listener)

    @callback
    def tell(self, event: ScheduleEvent, message: str, changes: Sequence[Change] = (), **more: str | None) -> None:
        """Tell what happened to the schedule, what changed by it, and `more`."""
        details: dict[str, object] = {"message": message, "changes": [asdict(change) for change in changes], **more}
        if not self._listeners:
            self._untold.append((event, details))
        for listener in list(self._listeners):
            listener(event, details)
        self._write(EVENT_SCHEDULE, "event", "schedule_event", type=str(event), **details)

    @callback
    def tell_clock(self, before: float, after: float, by: str) -> None:
        """Tell that the clock was set, with its offset in s before and after."""
        message = f"had its clock set: {clock_text(before, after)}, asked by {by}"
        self._write(EVENT_CLOCK, "sensor", "clock_offset", message=message)

    @callback
    def raise_issue(self, kind: str, **values: str) -> None:
        """Let an issue stand under Repairs; its text names the inverter."""
        raise_issue(self.hass, self._entry.entry_id, kind, inverter=self._entry.title, **values)

    @callback
    def clear_issues(self, *kinds: str) -> None:
        """Take issues away; nothing happens to those that do not stand."""
        for kind in kinds:
            clear_issue(self.hass, self._entry.entry_id, kind)

    def _write(self, event: str, platform: str, key: str, **details: object) -> None:
        entity_id = er.async_get(self.hass).async_get_entity_id(
            platform, DOMAIN, entity_unique_id(self._entry.entry_id, key)
        )
        self.hass.bus.async_fire(event, {"inverter": self._entry.title, "entity_id": entity_id, **details})
