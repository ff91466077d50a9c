"""Who is notified of a poll: those that look at what is not as it was, all of them, whatever one of them does then."""

import math
import random
from collections.abc import Awaitable, Callable

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.entity_platform import async_get_platforms
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.coordinator import ChargehandCoordinator
from custom_components.chargehand.core.inverter.snapshot import CLOCK, SCHEDULE, Snapshot
from custom_components.chargehand.core.inverter.subscriptions import Subscription
from custom_components.chargehand.entity import MapEntity, WindowEntity
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, RATED_POWER
from tests.calls import entity_id, set_entity
from tests.teasel import INPUT_AT

type SetLevel = Callable[[int], Awaitable[None]]


def looks_at(*keys: str) -> Subscription:
    return Subscription(needs=frozenset(keys), shows=frozenset(keys))


LEVEL = looks_at("battery_level")


@pytest.fixture
def coordinator(entry: MockConfigEntry) -> ChargehandCoordinator:
    found: ChargehandCoordinator = entry.runtime_data
    return found


@pytest.fixture
async def level(hass: HomeAssistant, bench: Bench, coordinator: ChargehandCoordinator) -> SetLevel:
    """Have the battery's level be another, and a poll see it; it is 50 % now."""

    async def change(level: int) -> None:
        await bench.set(INPUT_AT["battery_level"], [level], table="input")
        await coordinator.async_refresh()
        await hass.async_block_till_done()

    await change(50)
    return change


async def test_those_that_look_at_what_has_changed_are_told_and_those_that_look_at_more(
    coordinator: ChargehandCoordinator, level: SetLevel
) -> None:
    notified: list[str] = []
    for name, subscription in {
        "level": LEVEL,
        "model": looks_at("rated_power"),
        "all": Subscription(needs=frozenset()),
    }.items():
        coordinator.async_add_listener(lambda name=name: notified.append(name), subscription)  # type: ignore[misc]
    coordinator.async_add_listener(lambda: notified.append("no subscription"))
    await level(64)
    assert notified == ["level", "all", "no subscription"]
    notified.clear()
    await level(64)
    assert notified == ["all", "no subscription"]


async def test_one_that_fails_does_not_keep_the_others_from_being_told(
    coordinator: ChargehandCoordinator, level: SetLevel, caplog: pytest.LogCaptureFixture
) -> None:
    notified: list[int] = []

    def broken() -> None:
        raise ValueError("a fault of its own")

    coordinator.async_add_listener(broken, LEVEL)
    coordinator.async_add_listener(lambda: notified.append(coordinator.data.values["battery_level"]), LEVEL)
    await level(64)
    await level(65)
    assert notified == [64, 65]
    assert coordinator.last_update_success
    reported = [record.exc_info[0] for record in caplog.records if record.exc_info]
    assert reported == [ValueError, ValueError], "once each time"


async def test_listeners_may_come_and_go_while_others_are_told(
    coordinator: ChargehandCoordinator, level: SetLevel
) -> None:
    notified: list[str] = []

    def come_and_go() -> None:
        notified.append("first")
        remove_first()
        remove_last()
        coordinator.async_add_listener(lambda: notified.append("new"), LEVEL)

    remove_first = coordinator.async_add_listener(come_and_go, LEVEL)
    coordinator.async_add_listener(lambda: notified.append("between"), LEVEL)
    remove_last = coordinator.async_add_listener(lambda: notified.append("last"), LEVEL)
    await level(64)
    # One that went in that moment may still be notified, as the platform has it.
    assert notified[:2] == ["first", "between"]
    notified.clear()
    await level(65)
    assert notified == ["between", "new"]


async def test_what_somebody_begins_to_look_at_is_read_at_the_next_poll_and_no_longer_once_nobody_does(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    key = "roof_1_voltage"
    er.async_get(hass).async_update_entity(entity_id(hass, "sensor", key), disabled_by=er.RegistryEntryDisabler.USER)
    await hass.config_entries.async_reload(entry.entry_id)
    coordinator: ChargehandCoordinator = entry.runtime_data
    await coordinator.async_refresh()
    notified: list[bool] = []
    remove = coordinator.async_add_listener(lambda: notified.append(key in coordinator.data.values), looks_at(key))
    assert key not in coordinator.data.values
    await coordinator.async_refresh()
    assert notified == [True]
    remove()
    await coordinator.async_refresh()
    assert key not in coordinator.data.values
    assert notified == [True]


@pytest.mark.parametrize(
    ("before", "after", "differ"),
    [
        ({"a": 1, "b": 2}, {"a": 1, "b": 2}, set()),
        ({"a": 1, "b": 2}, {"b": 3, "a": 1}, {"b"}),
        ({"a": 1}, {"a": 1, "b": None}, {"b"}),
        ({"a": 1, "b": None}, {"a": 1}, {"b"}),
        ({"a": None}, {"a": 0}, {"a"}),
        ({"a": ("one", "two")}, {"a": ("one", "two")}, set()),
        ({"a": ("one", "two")}, {"a": ("one",)}, {"a"}),
        ({"a": 1.0}, {"a": math.nan}, {"a"}),
        ({"a": "", "b": False}, {"a": "x", "b": True}, {"a", "b"}),
    ],
)
def test_what_differs_is_told_by_its_key(before: dict[str, object], after: dict[str, object], differ: set[str]) -> None:
    assert Snapshot(values=after).differs(Snapshot(values=before)) == differ  # type: ignore[arg-type]


def test_the_clock_and_the_schedule_differ_by_their_own_keys() -> None:
    assert Snapshot(clock_offset=1.0).differs(Snapshot(clock_offset=2.0)) == {CLOCK}
    assert SCHEDULE not in Snapshot().differs(Snapshot())


async def test_no_state_lags_behind_what_is_known_whatever_changes_and_fails(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, coordinator: ChargehandCoordinator
) -> None:
    """After each poll, every entity that is notified of its own keys alone writes the state that it has written already."""
    lot = random.Random(11)
    measured = range(min(INPUT_AT.values()), max(INPUT_AT.values()) + 1)
    touched = [INPUT_AT["battery_level"], INPUT_AT["roof_1_power"], CHARGE[0].start, RATED_POWER]
    told_of_some = [
        entity
        for platform in async_get_platforms(hass, "chargehand")
        for entity in platform.entities.values()
        if isinstance(entity, MapEntity | WindowEntity)
    ]
    assert len(told_of_some) > 50
    for turn in range(40):
        match turn % 8:
            case 0:
                await bench.fault("exception", code=2, touches=lot.choice(touched), count=lot.choice([1, 4]))
            case 3:
                await bench.clear_faults()
            case 5:
                for at in (CHARGE[0].start, CHARGE[0].end):
                    await bench.set(at, [lot.randrange(24) * 100 + lot.randrange(60)])
            case 6:
                await set_entity(hass, "switch", lot.choice(["turn_on", "turn_off"]), "buzzer")
            case _:
                for _ in range(3):
                    await bench.set(lot.choice(measured), [lot.choice([0, 1, 0x7FFF, 0x8000, 0xFFFF])], table="input")
        if turn % 3 == 0:
            coordinator.rates.slow_next()
        await coordinator.async_refresh()
        await hass.async_block_till_done()
        for entity in told_of_some:
            before = hass.states.get(entity.entity_id)
            entity.async_write_ha_state()
            assert hass.states.get(entity.entity_id) == before, turn
