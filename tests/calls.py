"""What tests ask of Home Assistant again and again, in short words."""

from collections.abc import Awaitable, Callable
from typing import Any

from homeassistant.core import Event, HomeAssistant, State, callback
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers import entity_registry as er
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.schedule.commit_terms import Patience
from custom_components.chargehand.core.schedule.journal import Entry
from custom_components.chargehand.store import Section


def entity_id(hass: HomeAssistant, platform: str, key: str, serial: str = "T5-AM-2611-0042") -> str:
    """The id of the entity of this inverter that shows `key`."""
    found = find_entity(hass, platform, key, serial)
    assert found is not None, f"no {platform} for {key}"
    return found


def find_entity(hass: HomeAssistant, platform: str, key: str, serial: str = "T5-AM-2611-0042") -> str | None:
    """The same, None where there is none."""
    (entry,) = [one for one in hass.config_entries.async_entries("chargehand") if one.unique_id == serial]
    return er.async_get(hass).async_get_entity_id(platform, "chargehand", f"{entry.entry_id}_{key}")


def state(hass: HomeAssistant, platform: str, key: str) -> State:
    """The state of the entity that shows `key`."""
    found = hass.states.get(entity_id(hass, platform, key))
    assert found is not None, f"{platform} {key} has no state"
    return found


def device_id(hass: HomeAssistant, entry: MockConfigEntry) -> str:
    """The inverter's device."""
    (device,) = dr.async_entries_for_config_entry(dr.async_get(hass), entry.entry_id)
    return device.id


def record_events(hass: HomeAssistant, event_type: str, key: str) -> list[Any]:
    """Return a list to which every such event adds one of its values the moment it is fired."""
    recorded: list[Any] = []

    @callback
    def take(event: Event[Any]) -> None:
        # As a callback: a plain function would be called from a thread, after whoever fired the event has gone on.
        recorded.append(event.data[key])

    hass.bus.async_listen(event_type, take)
    return recorded


async def act(hass: HomeAssistant, entry: MockConfigEntry, action: str, **data: Any) -> dict[str, Any]:
    """Call one of Chargehand's actions and return its response."""
    response = await hass.services.async_call(
        "chargehand", action, {"device_id": device_id(hass, entry), **data}, blocking=True, return_response=True
    )
    assert response is not None
    return dict(response)


async def set_entity(hass: HomeAssistant, platform: str, service: str, key: str, **data: Any) -> None:
    """Do something to the entity that shows `key`, as a dashboard does."""
    await hass.services.async_call(
        platform, service, {"entity_id": entity_id(hass, platform, key), **data}, blocking=True
    )


async def apply_draft(hass: HomeAssistant, serial: str = "T5-AM-2611-0042") -> None:
    """Press the button that puts the edited windows on the inverter."""
    button = entity_id(hass, "button", "apply_draft", serial)
    await hass.services.async_call("button", "press", {"entity_id": button}, blocking=True)


async def edit_and_apply(hass: HomeAssistant, platform: str, key: str, **data: Any) -> None:
    """Set one entity of a window, and put that on the inverter."""
    await set_entity(hass, platform, "set_value", key, **data)
    await apply_draft(hass)


def hurry(entry: MockConfigEntry) -> None:
    """Be less patient than an inverter that is slow to answer, or to show a change, would want it: the bench is neither."""
    inverter = entry.runtime_data.inverter
    inverter.commit_rules.patience = Patience(settle=0.02, answered=0.3, unanswered=0.2, busy=0.2)
    inverter.line._timeout = 0.5


def begun_commits(entry: MockConfigEntry) -> tuple[list[Entry], Callable[[Entry], Awaitable[None]]]:
    """What commits write into the journal from now on, and how to write it there again, as a crash would have left it."""
    begun: list[Entry] = []
    storage = entry.runtime_data.storage
    write = storage.write

    async def write_again(one: Entry) -> None:
        killed(storage._section)
        await write(one)

    async def write_and_keep(one: Entry) -> None:
        await write(one)
        begun.append(one)

    storage.write = write_and_keep
    return begun, write_again


def killed(section: Section) -> None:
    """Let the file of an unloaded entry be written once more, so that it is as a killed process would have left it."""
    section._store._closed = False
