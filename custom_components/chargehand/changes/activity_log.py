"""The activity log: what happened to an inverter, for its event entity, the logbook and Repairs."""

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers import entity_registry as er
from homeassistant.util import dt as dt_util

from ..connection import device_identifier, entity_unique_id
from ..const import DOMAIN, EVENT_CLOCK, EVENT_SCHEDULE
from ..core.schedule import Change
from ..messages import clear_issue, clock_text, raise_issue
from .status import ScheduleEvent

MOST_WAITING = 20
"""Events that wait for their entity: it may be disabled."""

type Listener = Callable[[ScheduleEvent, dict[str, object]], None]
"""Takes what happened, and its details: `message`, `changes`, and what else belongs to it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Recorded:
    """What happened to the schedule, in words, and when."""

    event: ScheduleEvent
    message: str
    at: datetime


class ActivityLog:
    """One inverter's activity log."""

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
        """Record what happens to this entry's inverter."""
        self.hass = hass
        self._entry = entry
        self._listeners: list[Listener] = []
        self._waiting: deque[tuple[ScheduleEvent, dict[str, object]]] = deque(maxlen=MOST_WAITING)
        """What the first poll found, before there was an entity to record it."""

    @callback
    def on_event(self, listener: Listener) -> Callable[[], None]:
        """Call `listener` when something happens to the schedule; return how to stop that."""
        self._listeners.append(listener)
        for event, details in self._waiting:
            listener(event, details)
        self._waiting.clear()
        return lambda: self._listeners.remove(listener)

    @property
    def last(self) -> Recorded | None:
        """Return what happened last, as the event entity shows it, also after a restart. None: nothing yet, or the entity is disabled."""
        entity_id = self._entity_id("event", "schedule_event")
        state = None if entity_id is None else self.hass.states.get(entity_id)
        at = None if state is None else dt_util.parse_datetime(state.state)
        if state is None or at is None:
            return None
        shown = state.attributes
        return Recorded(event=ScheduleEvent(shown["event_type"]), message=str(shown.get("message", "")), at=at)

    @callback
    def record(self, event: ScheduleEvent, message: str, changes: Sequence[Change] = (), **more: object) -> None:
        """Record what happened to the schedule, what changed by it, and `more`."""
        details: dict[str, object] = {"message": message, "changes": [asdict(change) for change in changes], **more}
        if not self._listeners:
            self._waiting.append((event, details))
        for listener in list(self._listeners):
            listener(event, details)
        self._write(EVENT_SCHEDULE, "event", "schedule_event", type=str(event), **details)

    @callback
    def record_clock(self, before: float, after: float, by: str) -> None:
        """Record that the clock was set, with its offset in s before and after."""
        self._write(EVENT_CLOCK, "sensor", "clock_offset", message=clock_text(before, after, by))

    @callback
    def raise_issue(self, kind: str, **values: str) -> None:
        """Raise an issue under Repairs; its text names the inverter."""
        raise_issue(self.hass, self._entry.entry_id, kind, inverter=self._entry.title, **values)

    @callback
    def clear_issues(self, *kinds: str) -> None:
        """Clear issues; those that are not raised are passed over."""
        for kind in kinds:
            clear_issue(self.hass, self._entry.entry_id, kind)

    def _write(self, event: str, platform: str, key: str, **details: object) -> None:
        entry_id = self._entry.entry_id
        device = dr.async_get(self.hass).async_get_device_by_identifier(device_identifier(entry_id), entry_id)
        where = {
            "inverter": self._entry.title,
            # The logbook of a device or an area has an event that names the device.
            "device_id": None if device is None else device.id,
            "entity_id": self._entity_id(platform, key),
        }
        self.hass.bus.async_fire(event, {**where, **details})

    def _entity_id(self, platform: str, key: str) -> str | None:
        unique_id = entity_unique_id(self._entry.entry_id, key)
        return er.async_get(self.hass).async_get_entity_id(platform, DOMAIN, unique_id)
