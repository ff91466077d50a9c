"""What a page is sent after a change that was not taken: enough to draw again what the inverter holds, for each kind of field.

How pages draw was read in the platform's own (home-assistant-frontend 20260930.5): the value of a field for a number or a time is
bound, and is set again when it is another than the one drew last; a switch or a select goes back with each new state object.
"""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from tests.bench.remote import Bench
from tests.calls import entity_id, hurry, record_events, state


def change_of(event: dict[str, Any], entity: str) -> dict[str, Any]:
    """What a page receives of an entity: what is new of its state, that it is gone, or that it is there."""
    if "r" in event:
        return {"s": "gone"}
    added: dict[str, Any] = event["a"][entity] if "a" in event else event["c"][entity]["+"]
    return added


type Ask = Callable[..., Awaitable[tuple[bool, list[list[dict[str, Any]]]]]]


@pytest.fixture
async def page(hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator) -> AsyncIterator[Ask]:
    """Set one entity from a page that shows it. Return whether that succeeded, and the batches of messages with its states."""
    hurry(entry)
    assert await async_setup_component(hass, "websocket_api", {})
    client = await hass_ws_client(hass)

    async def batch() -> list[dict[str, Any]]:
        received = await client.receive_json()
        return received if isinstance(received, list) else [received]

    async def ask(platform: str, service: str, key: str, **data: Any) -> tuple[bool, list[list[dict[str, Any]]]]:
        entity = entity_id(hass, platform, key)
        await client.send_json({"id": 1, "type": "supported_features", "features": {"coalesce_messages": 1}})
        await client.send_json({"id": 2, "type": "subscribe_entities", "entity_ids": [entity]})
        while not any("a" in one.get("event", {}) for one in await batch()):
            pass
        call = {"domain": platform, "service": service, "target": {"entity_id": entity}, "service_data": data}
        await client.send_json({"id": 3, "type": "call_service", **call})
        batches: list[list[dict[str, Any]]] = []
        while True:
            came = await batch()
            if states := [change_of(one["event"], entity) for one in came if one["type"] == "event"]:
                batches.append(states)
            if done := [one for one in came if one["type"] == "result" and one["id"] == 3]:
                return bool(done[0]["success"]), batches

    yield ask
    await client.close()


FIELDS = [
    ("time", "set_value", "charge_window_1_start", {"time": "02:20:00"}),
    ("number", "set_value", "charge_window_1_power", {"value": 50_000}),
    ("number", "set_value", "reserve_level", {"value": 35}),
    ("number", "set_value", "reserve_level", {"value": 5}),
]
"""Settings that are refused: by the draft, by the range of the platform's own, by the inverter."""

TAKEN = [
    ("time", "set_value", "charge_window_1_start", {"time": "21:00:00"}),
    ("number", "set_value", "charge_window_1_power", {"value": 3000}),
    ("number", "set_value", "reserve_level", {"value": 35}),
]


@pytest.mark.parametrize(("platform", "service", "key", "data"), FIELDS)
async def test_a_field_is_emptied_for_a_moment_so_that_it_shows_what_is_held(
    hass: HomeAssistant, bench: Bench, page: Ask, platform: str, service: str, key: str, data: dict[str, Any]
) -> None:
    """The two states must not come as one: of those that it gets at once, a page draws the last."""
    await bench.fault("write_ignored", count=None)
    before = state(hass, platform, key).state
    taken, batches = await page(platform, service, key, **data)
    assert not taken
    assert [[one.get("s") for one in batch] for batch in batches] == [["unknown"], [before]]
    assert state(hass, platform, key).state == before


@pytest.mark.parametrize(
    ("platform", "service", "key", "data"),
    [
        ("select", "select_option", "running_mode", {"option": "hold"}),
        ("switch", "turn_on", "buzzer", {}),
        ("switch", "turn_off", "timed_charging", {}),
    ],
)
async def test_a_switch_or_a_select_is_sent_anew_and_has_the_state_that_is_held_all_the_time(
    hass: HomeAssistant, bench: Bench, page: Ask, platform: str, service: str, key: str, data: dict[str, Any]
) -> None:
    await bench.fault("write_ignored", count=None)
    before = state(hass, platform, key)
    taken, batches = await page(platform, service, key, **data)
    assert not taken
    assert len(batches) >= 1
    assert all("s" not in one for batch in batches for one in batch)
    assert state(hass, platform, key).state == before.state


async def test_an_unused_window_s_field_is_drawn_again_too(hass: HomeAssistant, bench: Bench, page: Ask) -> None:
    """It shows nothing, and pages draw `unknown` and `unavailable` alike: only another field is drawn anew."""
    assert state(hass, "number", "discharge_window_1_power").state == "unknown"
    taken, batches = await page("number", "set_value", "discharge_window_1_power", value=50_000)
    assert not taken
    assert [[one.get("s") for one in batch] for batch in batches] == [["gone"], ["unknown"]]


async def test_a_number_that_is_rounded_to_what_it_was_is_drawn_again(
    hass: HomeAssistant, bench: Bench, page: Ask
) -> None:
    """The Teasel takes whole watts."""
    before = state(hass, "number", "charge_window_1_power").state
    taken, batches = await page("number", "set_value", "charge_window_1_power", value=float(before) + 0.3)
    assert taken
    assert [[one.get("s") for one in batch] for batch in batches] == [["unknown"], [before]]


@pytest.mark.parametrize(("platform", "service", "key", "data"), TAKEN)
async def test_what_is_taken_is_sent_once(
    hass: HomeAssistant, bench: Bench, page: Ask, platform: str, service: str, key: str, data: dict[str, Any]
) -> None:
    taken, batches = await page(platform, service, key, **data)
    assert taken
    states = [one["s"] for batch in batches for one in batch if "s" in one]
    assert states == [state(hass, platform, key).state]


async def test_an_automation_that_is_refused_again_and_again_leaves_the_state_alone(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """Nobody has typed anything; the history would fill with moments of nothing."""
    hurry(entry)
    await bench.fault("write_ignored", count=None)
    seen = record_events(hass, "state_changed", "entity_id")
    number = entity_id(hass, "number", "reserve_level")
    with pytest.raises(HomeAssistantError):
        await hass.services.async_call("number", "set_value", {"entity_id": number, "value": 35}, blocking=True)
    await asyncio.sleep(0.3)
    assert number not in seen
