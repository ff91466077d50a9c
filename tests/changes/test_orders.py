"""Orders: tried again the moment that the inverter answers, until they are on it, cannot be, or their time is over."""

import asyncio
from datetime import timedelta
from typing import Any

import pytest
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import Event, HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry, async_fire_time_changed

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.calls import act, edit_and_apply, killed, record_events, state
from tests.changes.order_calls import answers_again, hence, order, poll_later
from tests.changes.test_schedule_monitor import hurry, last_event, poll
from tests.teasel import FACTORY, INPUT_AT, LATER, LATER_HELD, TONIGHT, WANTED, held
from tests.waiting import until, written


@pytest.fixture
def kinds(hass: HomeAssistant) -> list[str]:
    """What the logbook records, in kinds."""
    return record_events(hass, "chargehand_schedule", "type")


def of_orders(kinds: list[str]) -> list[str]:
    return [kind for kind in kinds if kind.startswith("order_")]


async def wait_for_line(hass: HomeAssistant, entry: MockConfigEntry, bench: Bench, **data: Any) -> dict[str, Any]:
    """Give an order while the gateway is away."""
    hurry(entry)
    await bench.gateway(down=True)
    answer = await act(hass, entry, "apply_schedule", **({"charge": TONIGHT, "until": hence(hours=1)} | data))
    assert answer["outcome"] == "waiting"
    assert order(hass)["state"] == "waiting"
    return answer


async def test_what_takes_at_once_is_an_order_that_is_done_and_answers_as_ever(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kinds: list[str]
) -> None:
    assert order(hass)["state"] == "none"
    answer = await act(hass, entry, "apply_schedule", charge=TONIGHT, until=hence(hours=1))
    assert answer["outcome"] == "confirmed"
    assert await held(bench) == WANTED
    shown = order(hass)
    assert (shown["state"], shown["what"], shown["why"]) == ("done", "apply_schedule", None)
    assert shown["by"] == "unknown (action apply_schedule)"
    assert kinds == ["confirmed"], "who asked has the answer"


async def test_an_inverter_that_is_away_is_waited_for_and_changed_at_the_poll_that_finds_it(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kinds: list[str]
) -> None:
    answer = await wait_for_line(hass, entry, bench)
    assert "Chargehand could not reach the inverter, and nothing was written" in answer["why"]
    assert order(hass)["why"] == answer["why"]
    for _ in range(3):
        await poll(hass, entry)
    assert order(hass)["state"] == "waiting"
    assert of_orders(kinds) == []
    await answers_again(entry, bench)
    await poll(hass, entry)
    assert await held(bench) == WANTED
    assert order(hass)["state"] == "done"
    assert kinds == ["confirmed", "order_done"]
    event = last_event(hass)
    assert event["event_type"] == "order_done"
    assert event["holds"].startswith("charge 01:00–05:00 3000 W to 95 %")
    assert event["reason"] in answer["why"]
    assert event["holds"] in event["message"]
    written = len([one for one in await bench.journal() if one["function"] in (6, 16)])
    await poll(hass, entry)
    await poll(hass, entry)
    assert len([one for one in await bench.journal() if one["function"] in (6, 16)]) == written, "and never again"


async def test_a_poll_is_brought_forward_for_an_order_that_waits(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    entry.runtime_data.update_interval = timedelta(hours=1)
    await poll(hass, entry)
    # All that the change reads and writes is lost; the poll after it is not.
    await bench.fault("exception", code=11, only="write", count=None)
    assert (await act(hass, entry, "apply_schedule", charge=TONIGHT, until=hence(hours=1)))["outcome"] == "waiting"
    await bench.clear_faults()
    await until(lambda: order(hass)["state"] == "done")
    assert await held(bench) == WANTED


async def test_writes_that_the_line_loses_are_repeated(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kinds: list[str]
) -> None:
    hurry(entry)
    await bench.fault("no_answer", only="write", count=None)
    answer = await act(hass, entry, "apply_schedule", charge=TONIGHT, until=hence(hours=1))
    assert answer["outcome"] == "waiting"
    assert "did not take" in answer["why"]
    await bench.clear_faults()
    await poll_later(hass, entry)
    assert await held(bench) == WANTED
    assert of_orders(kinds) == ["order_done"]


async def test_writes_are_not_repeated_at_every_poll(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    hurry(entry)
    await bench.fault("no_answer", only="write", count=None)
    await act(hass, entry, "apply_schedule", charge=TONIGHT, until=hence(hours=1))
    await poll(hass, entry)
    await until(lambda: entry.runtime_data.orders._spacing._failed == 2)
    tried = len([one for one in await bench.journal() if one["function"] in (6, 16)])
    for _ in range(5):
        await poll(hass, entry)
    assert len([one for one in await bench.journal() if one["function"] in (6, 16)]) == tried
    assert order(hass)["state"] == "waiting"


async def test_an_order_given_while_another_change_ends_is_the_later_of_the_two(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """An automation that reacts to a change with an order is not overtaken by that change."""
    given: list[asyncio.Task[dict[str, Any]]] = []

    @callback
    def give(_event: Event) -> None:
        if not given:
            given.append(hass.async_create_task(act(hass, entry, "stop_charging", until=hence(hours=1))))

    hass.bus.async_listen("chargehand_schedule", give)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert (await given[0])["outcome"] == "confirmed"
    assert order(hass)["state"] == "done"
    assert await bench.registers("holding", CONTROL_WORD) == [0]


async def test_what_is_rejected_ends_at_once(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kinds: list[str]
) -> None:
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, entry, "apply_schedule", charge=[*TONIGHT, *TONIGHT], until=hence(hours=1))
    assert fault.value.translation_key == "schedule_rejected"
    assert order(hass)["state"] == "failed"
    assert "overlap" in order(hass)["why"]
    await poll(hass, entry)
    assert await held(bench) == FACTORY
    assert kinds == [], "who asked has got the error"


@pytest.mark.parametrize(
    ("cold", "well", "why"),
    [
        ({"battery_temperature": 0xFFCE}, {"battery_temperature": 100}, "-5 °C"),
        ({"battery_charge_current_limit": 0}, {"battery_charge_current_limit": 600}, "0 W"),
    ],
    ids=["too cold", "takes none"],
)
async def test_what_only_the_batterys_state_forbids_is_tried_again(
    hass: HomeAssistant,
    bench: Bench,
    entry: MockConfigEntry,
    kinds: list[str],
    cold: dict[str, int],
    well: dict[str, int],
    why: str,
) -> None:
    """Between 0 and 50 °C lithium iron phosphate may be charged (common practice, no source)."""
    await show(bench, cold)
    answer = await act(hass, entry, "apply_schedule", charge=TONIGHT, until=hence(hours=1))
    assert answer["outcome"] == "waiting"
    assert why in answer["why"]
    await poll_later(hass, entry)
    assert order(hass)["state"] == "waiting"
    assert await held(bench) == FACTORY
    await show(bench, well)
    await poll_later(hass, entry)
    assert await held(bench) == WANTED
    assert of_orders(kinds) == ["order_done"]


async def show(bench: Bench, values: dict[str, int]) -> None:
    """Let the inverter show these raw values of its battery."""
    for key, value in values.items():
        await bench.set(INPUT_AT[key], [value], table="input")


async def test_what_is_rejected_when_the_inverter_is_back_is_told(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kinds: list[str]
) -> None:
    await wait_for_line(hass, entry, bench, charge=[*TONIGHT, *TONIGHT])
    await answers_again(entry, bench)
    await poll(hass, entry)
    assert order(hass)["state"] == "failed"
    assert kinds == ["order_failed"]
    assert "overlap" in last_event(hass)["reason"]
    assert last_event(hass)["holds"].startswith("charge 22:40–02:20 2000 W")
    await poll(hass, entry)
    assert await held(bench) == FACTORY


@pytest.mark.parametrize(
    ("fault", "key"),
    [
        ({"kind": "write_ignored"}, "schedule_restored"),
        ({"kind": "exception", "code": 3, "only": "write"}, "schedule_restored"),
    ],
    ids=["ignored", "refused"],
)
async def test_what_the_inverter_does_not_take_ends_at_once(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, fault: dict[str, Any], key: str
) -> None:
    hurry(entry)
    await bench.fault(**fault, count=None)
    with pytest.raises(HomeAssistantError) as fault:
        await act(hass, entry, "apply_schedule", charge=TONIGHT, until=hence(hours=1))
    assert fault.value.translation_key == key
    assert order(hass)["state"] == "failed"
    await bench.clear_faults()
    await poll_later(hass, entry)
    assert await held(bench) == FACTORY


async def test_an_order_whose_time_is_over_expires_and_is_not_carried_out(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kinds: list[str]
) -> None:
    answer = await wait_for_line(hass, entry, bench)
    async_fire_time_changed(hass, dt_util.utcnow() + timedelta(hours=1, seconds=2))
    await hass.async_block_till_done()
    assert order(hass)["state"] == "expired"
    assert kinds == ["order_expired"]
    assert last_event(hass)["reason"] in answer["why"]
    assert "charge 22:40–02:20" in last_event(hass)["holds"], "what was read last"
    await answers_again(entry, bench)
    await poll(hass, entry)
    assert await held(bench) == FACTORY


async def change_by_action(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await act(hass, entry, "apply_schedule", charge=LATER)


async def change_by_entity(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await edit_and_apply(hass, "number", "charge_window_1_power", value=700)


async def change_by_keeping(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await act(hass, entry, "keep_schedule")


@pytest.mark.parametrize("change", [change_by_action, change_by_entity, change_by_keeping])
async def test_a_later_change_replaces_an_order(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kinds: list[str], change: Any
) -> None:
    await wait_for_line(hass, entry, bench)
    await answers_again(entry, bench)
    # The line is there again, and the change is made before a poll has found out.
    await change(hass, entry)
    assert order(hass)["state"] == "replaced"
    there = await held(bench)
    assert there != WANTED
    await poll(hass, entry)
    assert await held(bench) == there
    assert of_orders(kinds) == [], "who made the change knows"


async def test_a_later_change_that_is_refused_replaces_nothing(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await wait_for_line(hass, entry, bench)
    await answers_again(entry, bench)
    with pytest.raises(ServiceValidationError):
        await act(hass, entry, "apply_schedule", charge=[*LATER, *LATER])
    assert order(hass)["state"] == "waiting"
    with pytest.raises(ServiceValidationError):
        await act(hass, entry, "apply_schedule", charge=[*LATER, *LATER], until=hence(hours=2))
    assert order(hass)["state"] == "waiting"
    await poll(hass, entry)
    assert order(hass)["state"] == "done"
    assert await held(bench) == WANTED


async def test_an_order_that_is_done_is_not_brought_back_by_a_later_one_that_is_refused(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.fault("late", only="write", ms=200, count=None)
    first = hass.async_create_task(act(hass, entry, "apply_schedule", charge=TONIGHT, until=hence(hours=1)))
    await written(bench)
    with pytest.raises(ServiceValidationError):
        await act(hass, entry, "apply_schedule", charge=[*LATER, *LATER], until=hence(hours=2))
    assert (await first)["outcome"] == "confirmed"
    assert order(hass)["state"] == "failed", "the one that was refused"
    writes = [one for one in await bench.journal() if one["function"] in {6, 16}]
    await poll(hass, entry)
    assert [one for one in await bench.journal() if one["function"] in {6, 16}] == writes
    assert await held(bench) == WANTED


async def test_a_later_order_takes_the_place_of_one_that_waits(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kinds: list[str]
) -> None:
    await wait_for_line(hass, entry, bench)
    await act(hass, entry, "apply_schedule", charge=LATER, until=hence(hours=2))
    await answers_again(entry, bench)
    await poll(hass, entry)
    await poll(hass, entry)
    assert await held(bench) == LATER_HELD
    assert of_orders(kinds) == ["order_done"]


@pytest.mark.parametrize("away", [False, True], ids=["inverter there", "inverter away"])
async def test_an_order_is_taken_up_after_a_restart(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kinds: list[str], away: bool
) -> None:
    await wait_for_line(hass, entry, bench)
    await hass.config_entries.async_unload(entry.entry_id)
    if away:
        await hass.config_entries.async_setup(entry.entry_id)
        assert entry.state is ConfigEntryState.SETUP_RETRY
        await hass.config_entries.async_unload(entry.entry_id)
    await bench.gateway(down=False)
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    assert order(hass)["state"] == "done"
    assert await held(bench) == WANTED
    assert of_orders(kinds) == ["order_done"]


async def test_an_order_whose_time_ended_while_home_assistant_was_off_expires_at_the_start(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, kinds: list[str]
) -> None:
    await wait_for_line(hass, entry, bench)
    orders = entry.runtime_data.orders
    await hass.config_entries.async_unload(entry.entry_id)
    orders.order.until = dt_util.utcnow() - timedelta(minutes=1)
    killed(orders._store._section)
    await orders._store.save(orders.state, orders.order)
    await bench.gateway(down=False)
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    async_fire_time_changed(hass, dt_util.utcnow() + timedelta(seconds=2))
    await hass.async_block_till_done()
    assert order(hass)["state"] == "expired"
    assert await held(bench) == FACTORY
    assert of_orders(kinds) == ["order_expired"]


async def test_restore_that_waits_puts_back_what_was_meant_when_it_was_asked(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    hurry(entry)
    await bench.gateway(down=True)
    answer = await act(hass, entry, "restore_schedule", until=hence(hours=1))
    assert answer["outcome"] == "waiting"
    await answers_again(entry, bench)
    await poll(hass, entry)
    assert await held(bench) == FACTORY
    assert order(hass)["state"] == "done"


async def test_restore_of_the_confirmed_schedule_waits_too_and_counts(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].start, FACTORY)
    await poll(hass, entry)
    hurry(entry)
    await bench.gateway(down=True)
    await act(hass, entry, "restore_schedule", which="confirmed", until=hence(hours=1))
    await answers_again(entry, bench)
    await poll(hass, entry)
    assert await held(bench) == WANTED
    assert state(hass, "sensor", "schedule_status").attributes["put_back_today"] == 1


@pytest.mark.parametrize(
    ("given", "key"),
    [
        ("soon", "until_not_understood"),
        (1490, "until_not_understood"),
        ("25:00", "until_not_understood"),
        ("2020-01-01 04:50", "until_is_past"),
    ],
)
async def test_an_end_that_is_none_is_refused(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, given: object, key: str
) -> None:
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, entry, "apply_schedule", charge=TONIGHT, until=given)
    assert fault.value.translation_key == key
    assert await held(bench) == FACTORY
    assert order(hass)["state"] == "none"


async def test_a_house_that_may_only_read_takes_no_orders(hass: HomeAssistant, bench: Bench, add_inverter: Any) -> None:
    entry = await add_inverter(bench.port, allow_control=False)
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, entry, "apply_schedule", charge=TONIGHT, until=hence(hours=1))
    assert fault.value.translation_key == "control_not_allowed"
    assert await bench.registers("holding", CONTROL_WORD) == [1]
