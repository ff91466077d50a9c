"""Buttons: the draft, the inverter's clock, tonight's plan, and the earlier schedule."""

from collections.abc import Iterator

from homeassistant.components.button import ButtonEntity
from homeassistant.const import EntityCategory, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .actions import TONIGHT_SCHEMA, apply_draft, charge_tonight, discard_draft, restore, set_clock
from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.inverter import CLOCK, SCHEDULE
from .entity import ChargehandEntity, offer

PARALLEL_UPDATES = 1


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the buttons that the map has something for, where control is allowed."""
    coordinator = entry.runtime_data
    offer(coordinator, Platform.BUTTON, async_add_entities, _buttons(coordinator) if coordinator.allow_control else [])


def _buttons(coordinator: ChargehandCoordinator) -> Iterator[ChargehandEntity]:
    register_map = coordinator.inverter.map
    if register_map.clock is not None:
        yield SetClock(coordinator)
    if register_map.schedule is not None:
        yield ApplyDraft(coordinator)
        yield DiscardDraft(coordinator)
        yield RestoreSchedule(coordinator)
        if register_map.schedule.charge:
            yield PlanTonight(coordinator)


class SetClock(ChargehandEntity, ButtonEntity):
    """Sets the inverter's clock to the house's."""

    _attr_translation_key = "set_clock"
    _attr_entity_category = EntityCategory.CONFIG

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need the clock."""
        super().__init__(coordinator, "set_clock", {CLOCK}, shows={CLOCK})

    async def async_press(self) -> None:
        """Set the clock and read it back."""
        async with self.asked() as by:
            await set_clock(self.coordinator, by)


class ApplyDraft(ChargehandEntity, ButtonEntity):
    """Puts the edited windows on the inverter, as one commit."""

    _attr_translation_key = "apply_draft"

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need the schedule."""
        super().__init__(coordinator, "apply_draft", {SCHEDULE}, shows={SCHEDULE})

    async def async_press(self) -> None:
        """Write it and read it back."""
        async with self.asked() as by:
            await apply_draft(self.coordinator, by)


class DiscardDraft(ChargehandEntity, ButtonEntity):
    """Drops the edited windows."""

    _attr_translation_key = "discard_draft"

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need the schedule."""
        super().__init__(coordinator, "discard_draft", {SCHEDULE}, shows={SCHEDULE})

    @property
    def available(self) -> bool:
        """Nothing is asked of the inverter for it."""
        return True

    async def async_press(self) -> None:
        """Show again what the inverter holds."""
        await discard_draft(self.coordinator)


class PlanTonight(ChargehandEntity, ButtonEntity):
    """Gives the order for tonight's charge, with what the options say."""

    _attr_translation_key = "plan_tonight"

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need the schedule."""
        super().__init__(coordinator, "plan_tonight", {SCHEDULE}, shows={SCHEDULE})

    @property
    def available(self) -> bool:
        """An inverter that is away is waited for."""
        return True

    async def async_press(self) -> None:
        """Plan, apply, and go on trying until shortly before the cheap hours end."""
        async with self.asked() as by:
            await charge_tonight(self.coordinator, TONIGHT_SCHEMA({}), by)


class RestoreSchedule(ChargehandEntity, ButtonEntity):
    """Puts the schedule before the last change back."""

    _attr_translation_key = "restore_schedule"

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need the schedule."""
        super().__init__(coordinator, "restore_schedule", {SCHEDULE}, shows={SCHEDULE})

    async def async_press(self) -> None:
        """Put it back and read it back."""
        async with self.asked() as by:
            await restore(self.coordinator, by)
