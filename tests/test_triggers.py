"""Triggers and conditions that automations have by name for an inverter's device."""

import asyncio
from typing import Any

import pytest
from homeassistant.core import Event, HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.condition import async_get_all_descriptions as all_conditions
from homeassistant.helpers.translation import async_get_translations
from homeassistant.helpers.trigger import async_get_all_descriptions as all_triggers
from homeassistant.setup import async_setup_component
from homeassistant.util.json import load_json_object
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.calls import act, device_id, entity_id, hurry, state
from tests.changes.test_schedule_monitor import poll
from tests.teasel import INPUT_AT

TRIGGERS = {
    "chargehand.battery_room",
    "chargehand.change_needs_decision",
    "chargehand.charge_window_started",
    "chargehand.charge_window_ended",
    "chargehand.cheap_hours_approach",
    "chargehand.cheap_hours_started",
    "chargehand.cheap_hours_ended",
    "chargehand.level_reached",
    "chargehand.schedule_changed_elsewhere",
    "chargehand.order_ended",
    "chargehand.schedule_confirmed",
}
CONDITIONS = {"chargehand.is_charging_by_schedule", "chargehand.is_schedule_confirmed", "chargehand.is_level"}


async def automate(
    hass: HomeAssistant, trigger: dict[str, Any], condition: dict[str, Any] | None = None
) -> list[Event]:
    """Set up an automation that fires an event. Return the list that these events are added to."""
    seen: list[Event] = []

    @callback
    def take(event: Event) -> None:
        seen.append(event)

    hass.bus.async_listen("seen", take)
    automation = {
        "alias": "Seen",
        "triggers": trigger,
        "conditions": [] if condition is None else [condition],
        "actions": {"event": "seen", "event_data_template": {"entity": "{{ trigger.entity_id | default('') }}"}},
    }
    assert await async_setup_component(hass, "automation", {"automation": automation})
    await hass.async_block_till_done()
    made = hass.states.get("automation.seen")
    assert made is not None
    assert made.state == "on", "the platform has taken it"
    return seen


def on_device(hass: HomeAssistant, entry: MockConfigEntry, name: str, **options: Any) -> dict[str, Any]:
    return {"trigger": f"chargehand.{name}", "target": {"device_id": device_id(hass, entry)}, "options": options}


async def inside(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, *, hour: int) -> None:
    """Let the inverter's clock show a full hour and poll."""
    at = entry.runtime_data.inverter._now().replace(tzinfo=None, hour=hour, minute=0, second=30)
    await bench.clock(local=at)
    await poll(hass, entry)
    await hass.async_block_till_done()


async def test_the_editor_is_offered_each_with_name_and_icon(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    assert await async_setup_component(hass, "automation", {})
    triggers, conditions = await all_triggers(hass), await all_conditions(hass)
    ours = {key: value for key, value in triggers.items() if key.startswith("chargehand")}
    assert ours.keys() == TRIGGERS
    tests = {key: value for key, value in conditions.items() if key.startswith("chargehand")}
    assert tests.keys() == CONDITIONS
    icons = load_json_object("custom_components/chargehand/icons.json")
    for kind, offered in (("triggers", ours), ("conditions", tests)):
        texts = await async_get_translations(hass, "en", kind, {"chargehand"})
        for key, description in offered.items():
            assert description is not None, key
            assert description["target"]["entity"][0]["integration"] == "chargehand"
            name = key.removeprefix("chargehand.")
            assert f"component.chargehand.{kind}.{name}.name" in texts
            assert f"component.chargehand.{kind}.{name}.description" in texts
            for field in description.get("fields", {}):
                assert f"component.chargehand.{kind}.{name}.fields.{field}.name" in texts
            assert name in icons[kind]


async def test_a_charge_window_that_starts_and_ends(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await inside(hass, bench, entry, hour=22)
    assert state(hass, "binary_sensor", "charging_by_schedule").state == "off"
    started = await automate(hass, on_device(hass, entry, "charge_window_started"))
    await inside(hass, bench, entry, hour=23)
    await inside(hass, bench, entry, hour=2)
    assert [event.data["entity"] for event in started] == [entity_id(hass, "binary_sensor", "charging_by_schedule")]


async def test_a_charge_window_that_ends(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await inside(hass, bench, entry, hour=23)
    ended = await automate(hass, on_device(hass, entry, "charge_window_ended"))
    await inside(hass, bench, entry, hour=2)
    assert not ended
    await inside(hass, bench, entry, hour=3)
    assert len(ended) == 1


@pytest.mark.parametrize(
    ("direction", "levels", "count"), [("rising", (70, 81, 90, 60), 1), ("falling", (90, 70, 60), 1)]
)
async def test_a_level_that_is_reached(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, direction: str, levels: tuple[int, ...], count: int
) -> None:
    await bench.battery(level=levels[0])
    await poll(hass, entry)
    reached = await automate(hass, on_device(hass, entry, "level_reached", level=80, direction=direction))
    for level in levels[1:]:
        await bench.battery(level=level)
        await poll(hass, entry)
    assert len(reached) == count
    await bench.battery(level=80)
    await poll(hass, entry)
    # Coming to exactly 80 % counts from below for rising, and is nothing new for falling from 60 %.
    assert len(reached) == count + (direction == "rising")


async def test_the_level_is_found_whatever_it_is_called_and_other_sensors_of_the_device_are_not_taken_for_it(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    er.async_get(hass).async_update_entity(
        entity_id(hass, "sensor", "battery_level"), new_entity_id="sensor.cellar", name="Cellar"
    )
    await hass.async_block_till_done()
    await bench.battery(level=20)
    await poll(hass, entry)
    reached = await automate(hass, on_device(hass, entry, "level_reached", level=50))
    # The battery's health, its voltage, its temperature: all pass 50 or stay beyond it.
    await bench.set(INPUT_AT["battery_health"], [40], table="input")
    await poll(hass, entry)
    await bench.set(INPUT_AT["battery_health"], [60], table="input")
    await poll(hass, entry)
    assert not reached
    await bench.battery(level=55)
    await poll(hass, entry)
    assert [event.data["entity"] for event in reached] == ["sensor.cellar"]


async def test_a_schedule_changed_elsewhere(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    changed = await automate(hass, on_device(hass, entry, "schedule_changed_elsewhere"))
    await act(hass, entry, "apply_schedule", charge=[{"start": "01:00", "end": "05:00"}])
    await hass.async_block_till_done()
    assert not changed, "confirmed, not changed elsewhere"
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    assert len(changed) == 1
    await bench.set(CHARGE[0].power, [110])
    await poll(hass, entry)
    assert len(changed) == 2


async def test_a_schedule_confirmed(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    hurry(entry)
    confirmed = await automate(hass, on_device(hass, entry, "schedule_confirmed"))
    await bench.fault("write_ignored", count=None)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_schedule", charge=[{"start": "01:00", "end": "05:00"}])
    assert failed.value.translation_key == "schedule_restored"
    await hass.async_block_till_done()
    assert not confirmed, "an earlier schedule that is back is no new one confirmed"
    await bench.clear_faults()
    await act(hass, entry, "apply_schedule", charge=[{"start": "01:00", "end": "05:00"}])
    await hass.async_block_till_done()
    assert len(confirmed) == 1


async def passes(hass: HomeAssistant, seen: list[Event]) -> bool:
    """Whether the automation of `conditioned` runs now."""
    before = len(seen)
    hass.bus.async_fire("try")
    await hass.async_block_till_done()
    await asyncio.sleep(0)
    return len(seen) > before


async def conditioned(hass: HomeAssistant, entry: MockConfigEntry, name: str, **options: Any) -> list[Event]:
    condition = {
        "condition": f"chargehand.{name}",
        "target": {"device_id": device_id(hass, entry)},
        "options": options,
    }
    return await automate(hass, {"trigger": "event", "event_type": "try"}, condition)


async def test_charging_by_schedule_is_on(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await inside(hass, bench, entry, hour=22)
    seen = await conditioned(hass, entry, "is_charging_by_schedule")
    assert not await passes(hass, seen)
    await inside(hass, bench, entry, hour=23)
    assert await passes(hass, seen)


async def test_schedule_is_confirmed(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    seen = await conditioned(hass, entry, "is_schedule_confirmed")
    assert not await passes(hass, seen)
    await act(hass, entry, "apply_schedule", charge=[{"start": "01:00", "end": "05:00"}])
    assert await passes(hass, seen)
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    assert not await passes(hass, seen)


@pytest.mark.parametrize(("kind", "low", "high"), [("above", False, True), ("below", True, False)])
async def test_level_above_and_below(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kind: str, *, low: bool, high: bool
) -> None:
    seen = await conditioned(hass, entry, "is_level", threshold={"type": kind, "value": {"number": 50}})
    for level, expected in ((30, low), (70, high)):
        await bench.battery(level=level)
        await poll(hass, entry)
        assert await passes(hass, seen) is expected
