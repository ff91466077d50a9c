"""Orders under faults: an outage that begins at each request of a change, and a crash at each point of an order."""

from contextlib import suppress
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.order import OrderState
from custom_components.chargehand.core.schedule.commit_terms import Patience
from tests.bench.remote import Bench
from tests.bench.teasel import DISCHARGE
from tests.calls import act, begun_commits, killed, record_events
from tests.changes.order_calls import hence, order, poll_later
from tests.teasel import EVENING, EVENING_HELD, LATER, LATER_HELD, TONIGHT, UNUSED, WANTED, held

LOST: dict[str, dict[str, Any]] = {
    "no answer": {"kind": "no_answer"},
    "answer lost": {"kind": "answer_lost"},
    "busy": {"kind": "exception", "code": 6, "only": "write"},
    "gateway cannot reach it": {"kind": "exception", "code": 11},
    "connection reset": {"kind": "reset"},
    "connection reset after": {"kind": "reset_after"},
    "cut short": {"kind": "truncated"},
}
"""Faults of the way to the inverter: an order goes on after them."""

REFUSED: dict[str, dict[str, Any]] = {
    "value not taken": {"kind": "exception", "code": 3, "only": "write"},
    "device failure": {"kind": "exception", "code": 4, "only": "write"},
    "ignored": {"kind": "write_ignored"},
}
"""The inverter's own word: an order ends with it."""

ORDERED: dict[str, Any] = {"charge": TONIGHT, "discharge": EVENING}


async def there(bench: Bench) -> list[list[int]]:
    return [await held(bench), await held(bench, DISCHARGE[0])]


BEFORE, AFTER = [LATER_HELD, UNUSED], [WANTED, EVENING_HELD]


async def begin(hass: HomeAssistant, entry: MockConfigEntry, bench: Bench) -> None:
    """Let the inverter hold the earlier schedule, confirmed."""
    await act(hass, entry, "apply_schedule", charge=LATER, discharge=[])
    # Registers of an unused window keep what they were.
    await bench.set(DISCHARGE[0].start, UNUSED)
    await poll_later(hass, entry)
    await act(hass, entry, "keep_schedule")
    assert await there(bench) == BEFORE


async def requests_of_a_change(hass: HomeAssistant, entry: MockConfigEntry, bench: Bench, *, only: str | None) -> int:
    """How many requests a change takes that meets no fault."""
    await begin(hass, entry, bench)
    since = (await bench.journal())[-1]["n"]
    await act(hass, entry, "apply_schedule", **ORDERED)
    return len([one for one in await bench.journal(since) if only is None or one["function"] in (6, 16)])


async def back_again(hass: HomeAssistant, entry: MockConfigEntry, bench: Bench) -> None:
    """All faults are over; go to the first poll that succeeds, and to the end of what it begins."""
    await bench.clear_faults()
    while True:
        await poll_later(hass, entry)
        if entry.runtime_data.last_update_success:
            return


def hasty(entry: MockConfigEntry) -> None:
    """Wait for nothing longer than the bench needs, which answers within milliseconds."""
    inverter = entry.runtime_data.inverter
    inverter.commit_rules.patience = Patience(settle=0.01, answered=0.05, unanswered=0.03, busy=0.03)
    inverter.line._timeout = 0.1


@pytest.fixture
async def quiet(bench: Bench, add_inverter: Any) -> MockConfigEntry:
    """An inverter that is polled when a test asks for it, so that requests can be counted."""
    added: MockConfigEntry = await add_inverter(bench.port, fast_seconds=3600, slow_seconds=3600)
    hasty(added)
    return added


SHORT = {"answer lost", "busy", "gateway cannot reach it"}
"""Those that do not take long; each way of losing an answer takes a third of a minute."""


@pytest.mark.parametrize(
    "fault", [pytest.param(name, marks=[] if name in SHORT else pytest.mark.long, id=name) for name in LOST]
)
async def test_an_outage_that_begins_at_any_request_ends_with_the_order_done(
    hass: HomeAssistant, bench: Bench, quiet: MockConfigEntry, fault: str, record_property: Any
) -> None:
    kinds = record_events(hass, "chargehand_schedule", "type")
    requests = await requests_of_a_change(hass, quiet, bench, only=None)
    assert requests >= 4, "reads, writes, reads"
    waited = 0
    for nth in range(1, requests + 1):
        await begin(hass, quiet, bench)
        kinds.clear()
        await bench.fault(**LOST[fault], nth=nth, count=None)
        answer = await act(hass, quiet, "apply_schedule", **ORDERED, until=hence(hours=1))
        if answer["outcome"] == "waiting":
            waited += 1
            assert answer["why"]
            assert order(hass)["state"] == "waiting"
            await back_again(hass, quiet, bench)
        await bench.clear_faults()
        assert order(hass)["state"] == "done", (fault, nth)
        assert await there(bench) == AFTER, (fault, nth)
        assert kinds.count("order_done") == (1 if answer["outcome"] == "waiting" else 0)
        assert not {"order_failed", "order_expired"}.intersection(kinds)
    assert waited, "nothing had to wait"
    record_property("cases: orders that waited for an outage's end", waited)


@pytest.mark.parametrize("fault", REFUSED)
async def test_an_inverter_that_says_no_at_any_write_ends_the_order(
    hass: HomeAssistant, bench: Bench, quiet: MockConfigEntry, fault: str, record_property: Any
) -> None:
    writes = await requests_of_a_change(hass, quiet, bench, only="write")
    assert writes >= 2
    for nth in range(1, writes + 1):
        await begin(hass, quiet, bench)
        # What puts the earlier schedule back is taken.
        await bench.fault(**REFUSED[fault], nth=nth, count=1 if fault == "value not taken" else 3)
        with suppress(HomeAssistantError):
            assert (await act(hass, quiet, "apply_schedule", **ORDERED, until=hence(hours=1)))["outcome"] == "confirmed"
        ended = order(hass)["state"]
        assert ended in {"done", "failed"}, (fault, nth)
        assert await there(bench) == (AFTER if ended == "done" else BEFORE), (fault, nth)
        assert ended == "done" or "The earlier schedule is on the inverter" in order(hass)["why"]
        await bench.clear_faults()
        was = await there(bench)
        await poll_later(hass, quiet)
        assert await there(bench) == was
    record_property("cases: orders that are refused", writes)


async def test_a_crash_at_any_point_of_an_order_ends_with_the_order_done(
    hass: HomeAssistant, bench: Bench, quiet: MockConfigEntry, record_property: Any
) -> None:
    """What is on disk and on the inverter is made as each point leaves it; the process that comes after knows nothing else."""
    kinds = record_events(hass, "chargehand_schedule", "type")
    await begin(hass, quiet, bench)
    orders = quiet.runtime_data.orders
    begun, _ = begun_commits(quiet)
    since = (await bench.journal())[-1]["n"]
    await act(hass, quiet, "apply_schedule", **ORDERED, until=hence(hours=1))
    (journal,) = begun
    given = orders.order
    writes = [one for one in await bench.journal(since) if one["function"] in (6, 16)]
    assert len(writes) >= 2, "there is a halfway"

    async def crashed(*, writes_done: int, in_journal: bool, confirmed: bool) -> None:
        await begin(hass, quiet, bench)
        storage = quiet.runtime_data.storage
        await hass.config_entries.async_unload(quiet.entry_id)
        for one in writes[:writes_done]:
            await bench.set(one["first"], one["values"])
        killed(storage._section)
        if in_journal:
            await storage.write(journal)
        if confirmed:
            await storage.confirm(journal.after, journal.before, shift=0)
        given.why = None
        await orders._store.save(OrderState.WAITING, given)
        kinds.clear()
        await hass.config_entries.async_setup(quiet.entry_id)
        await hass.async_block_till_done()
        hasty(quiet)

    points = [
        {"writes_done": 0, "in_journal": False, "confirmed": False},
        *({"writes_done": done, "in_journal": True, "confirmed": False} for done in range(len(writes) + 1)),
        {"writes_done": len(writes), "in_journal": False, "confirmed": True},
    ]
    for point in points:
        await crashed(**point)
        if order(hass)["state"] == "waiting":
            await poll_later(hass, quiet)
        assert order(hass)["state"] == "done", point
        assert await there(bench) == AFTER, point
        assert kinds.count("order_done") == 1, point
    record_property("cases: crashes of orders", len(points))


async def test_a_crash_of_a_restore_that_was_done_does_not_undo_it(
    hass: HomeAssistant, bench: Bench, quiet: MockConfigEntry
) -> None:
    await begin(hass, quiet, bench)
    await act(hass, quiet, "apply_schedule", **ORDERED)
    await act(hass, quiet, "restore_schedule", until=hence(hours=1))
    assert (await there(bench))[0] == BEFORE[0]
    orders = quiet.runtime_data.orders
    given = orders.order
    await hass.config_entries.async_unload(quiet.entry_id)
    killed(orders._store._section)
    await orders._store.save(OrderState.WAITING, given)
    await hass.config_entries.async_setup(quiet.entry_id)
    await hass.async_block_till_done()
    await poll_later(hass, quiet)
    assert order(hass)["state"] == "done"
    assert (await there(bench))[0] == BEFORE[0]
