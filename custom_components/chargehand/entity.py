"""What all entities of an inverter share."""

import asyncio
from collections.abc import AsyncIterator, Callable, Coroutine, Iterable
from contextlib import asynccontextmanager
from typing import Any, override

from homeassistant.const import STATE_UNKNOWN, Platform
from homeassistant.core import Context, State, callback, split_entity_id
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.device_registry import DeviceInfo
from homeassistant.helpers.entity import Entity
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.helpers.update_coordinator import CoordinatorEntity

from .actions import caller, edit_window, set_control
from .connection import device_identifier, entity_unique_id
from .coordinator import ChargehandCoordinator
from .core.inverter import SCHEDULE, ReadingValue, Subscription
from .core.registers import KNOWN_READINGS, Control, Reading, Value
from .core.schedule import DAY, Side, Window

PAUSE = 0.2
"""Seconds for which a field is empty: a page that gets two states at once draws the second only, and sees nothing new in it."""

FIELDS = frozenset({Platform.NUMBER, Platform.TIME})
"""What a page draws as a field. It sets one when the value is another than it drew last; a switch or a select, with every new state."""


class ChargehandEntity(CoordinatorEntity[ChargehandCoordinator]):
    """An entity of one inverter."""

    _attr_has_entity_name = True

    def __init__(
        self, coordinator: ChargehandCoordinator, key: str, needs: Iterable[str] = (), *, shows: Iterable[str] = ()
    ) -> None:
        """Belong to the inverter's device. `needs` are the keys that have to be read for it.

        `shows` are all that its state is made of; without any there is more, so that it looks after every poll.
        """
        super().__init__(coordinator, context=Subscription(needs=frozenset(needs), shows=frozenset(shows)))
        entry = coordinator.config_entry
        self.key = key
        self._asked_in: Context | None = None
        self._asked_at: State | None = None
        self._attr_unique_id = entity_unique_id(entry.entry_id, key)
        self._attr_device_info = DeviceInfo(identifiers={device_identifier(entry.entry_id)})
        self._object_id: str | None = None
        """What its entity id is made of, where that is not its name."""

    @property
    @override
    def suggested_object_id(self) -> str | None:
        """What its entity id is made of, after the device's name. Names may change; ids are what automations hold on to."""
        return self._object_id or super().suggested_object_id

    @callback
    def async_set_context(self, context: Context) -> None:
        """Keep who asks for the change that follows, and the state that it starts from."""
        super().async_set_context(context)
        self._asked_in, self._asked_at = context, self.hass.states.get(self.entity_id)

    async def async_request_call[Result](self, coro: Coroutine[Any, Any, Result]) -> Result:
        """Do what a user asks of the entity. Where it is refused, by us or by the platform, pages do not go on showing what was typed."""
        try:
            return await super().async_request_call(coro)
        except HomeAssistantError:
            await self._redraw_typed()
            raise

    @asynccontextmanager
    async def asked(self, taken: Callable[[], bool] = lambda: True) -> AsyncIterator[str]:
        """Yield who asks for the change that this entity is asked to make, and that it is made through this entity.

        Where it is not `taken` as it was asked for, pages do not go on showing what somebody typed.
        """
        yield await caller(self.hass, self._asked_in, self.entity_id)
        if not taken():
            await self._redraw_typed()

    async def _redraw_typed(self) -> None:
        """Let pages draw the entity again, where a user and no automation has asked for something."""
        if self._asked_in is not None and self._asked_in.user_id is not None:
            await redraw(self, self._asked_at)


def offer(
    coordinator: ChargehandCoordinator,
    platform: Platform,
    add: AddConfigEntryEntitiesCallback,
    entities: Iterable[ChargehandEntity],
) -> None:
    """Add all entities of a platform, and note which they are: those that are none of them any more are forgotten."""
    built = list(entities)
    coordinator.offered[platform] = frozenset(str(entity.unique_id) for entity in built)
    add(built)


class MapEntity(ChargehandEntity):
    """An entity that shows one reading or control of the register map."""

    def __init__(self, coordinator: ChargehandCoordinator, value: Reading | Control) -> None:
        """Take the name of the map, else the catalogue's, else the key in words."""
        super().__init__(coordinator, value.key, {value.key}, shows={value.key})
        # Also with a name of the map's: its labels may have translations.
        self._attr_translation_key = value.key
        known = KNOWN_READINGS.get(value.key)
        if value.name is not None:
            self._attr_name = value.name
        elif known is None:
            self._attr_name = value.key.replace("_", " ").capitalize()
        elif known.positive is not None:
            # Its name says what a positive number means as well.
            self._object_id = value.key

    @property
    def available(self) -> bool:
        """Whether the value could be read."""
        return super().available and self.key in self.coordinator.data.values

    @property
    def shown(self) -> ReadingValue:
        """The value read last."""
        return self.coordinator.data.values.get(self.key)

    async def set_to(self, value: Value) -> None:
        """Set the control and read it back. Raises the platform's errors."""
        async with self.asked(lambda: self.shown == value) as by:
            await set_control(self.coordinator, self.key, value, by)


class WindowEntity(ChargehandEntity):
    """An entity that shows one setting of one window. Only those of window 1 are enabled at first."""

    def __init__(self, coordinator: ChargehandCoordinator, side: Side, number: int, setting: str) -> None:
        """Take a window's setting. `number` counts from 1; `setting` is `start`, `end`, `current`, `power`, `stop_level` or `active`."""
        super().__init__(coordinator, f"{side}_window_{number}_{setting}", {SCHEDULE}, shows={SCHEDULE})
        self.side = side
        self.number = number
        self.setting = setting
        self._object_id = self.key
        self._attr_translation_key = f"{side}_window_{setting}"
        self._attr_translation_placeholders = {"number": str(number)}
        self._attr_entity_registry_enabled_default = number == 1

    @property
    def available(self) -> bool:
        """Whether the schedule could be read and understood."""
        return super().available and self.coordinator.data.schedule is not None

    @property
    def window(self) -> Window | None:
        """The window in the draft, else as read last."""
        schedule = self.coordinator.schedule_shown
        return None if schedule is None else schedule.side(self.side)[self.number - 1]

    @property
    def empty(self) -> bool:
        """Whether the window has no times and nobody has edited it; what its limits hold means nothing then."""
        window = self.window
        edited = self.coordinator.drafts.has((self.side, self.number))
        return window is None or (window.start == window.end and not edited)

    async def edit(self, **settings: float | bool) -> None:
        """Change this window in the draft. Raises the platform's errors."""

        def taken() -> bool:
            window = self.window
            held = {} if window is None else {key: getattr(window, key) for key in settings} | {"active": window.used}
            # An end at 00:00 is midnight.
            return all(held.get(key) in {value, value or DAY} for key, value in settings.items())

        async with self.asked(taken) as by:
            await edit_window(self.coordinator, self.side, self.number, by, **settings)


async def redraw(entity: Entity, before: State | None) -> None:
    """Let pages draw an entity again that still has the state `before`, whatever was asked of it."""
    states = entity.hass.states
    if before is None or (now := states.get(entity.entity_id)) is None or now.state != before.state:
        return
    if split_entity_id(entity.entity_id)[0] not in FIELDS:
        states.async_set(entity.entity_id, now.state, now.attributes, force_update=True)
        return
    if now.state == STATE_UNKNOWN:
        # An empty field is drawn anew only as another one: pages draw all that is no value alike.
        states.async_remove(entity.entity_id)
    else:
        states.async_set(entity.entity_id, STATE_UNKNOWN, now.attributes)
    try:
        await asyncio.sleep(PAUSE)
    finally:
        entity.async_write_ha_state()
