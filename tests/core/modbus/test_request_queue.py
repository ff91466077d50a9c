"""The order of requests: urgent ones first, then the oldest; the lock is never lost."""

import asyncio

from custom_components.chargehand.core.modbus.request_queue import RequestQueue


async def acquire(requests: RequestQueue, name: str, order: list[str], *, urgent: bool = False) -> None:
    async with requests.acquire(urgent=urgent):
        order.append(name)
        await asyncio.sleep(0)


async def test_a_commit_goes_ahead_of_polls_and_polls_keep_their_order() -> None:
    requests, order = RequestQueue(), list[str]()
    async with asyncio.TaskGroup() as group, requests.acquire(urgent=False):
        for name in ("first", "second"):
            group.create_task(acquire(requests, name, order))
        group.create_task(acquire(requests, "commit", order, urgent=True))
        group.create_task(acquire(requests, "third", order))
        await asyncio.sleep(0.01)
    assert order == ["commit", "first", "second", "third"]


async def test_nobody_slips_in_while_the_lock_is_passed_on() -> None:
    requests, order = RequestQueue(), list[str]()
    holder = asyncio.create_task(acquire(requests, "holder", order))
    await asyncio.sleep(0)
    waiting = asyncio.create_task(acquire(requests, "waiting", order))
    await holder
    late = asyncio.create_task(acquire(requests, "late", order))
    await asyncio.gather(waiting, late)
    assert order == ["holder", "waiting", "late"]


async def test_one_that_gives_up_does_not_keep_the_lock() -> None:
    requests, order = RequestQueue(), list[str]()
    async with requests.acquire(urgent=False):
        quitter = asyncio.create_task(acquire(requests, "quitter", order))
        patient = asyncio.create_task(acquire(requests, "patient", order))
        await asyncio.sleep(0)
        quitter.cancel()
        await asyncio.sleep(0)
    async with asyncio.timeout(1):
        await patient
    assert order == ["patient"]


async def test_one_that_gives_up_as_it_gets_the_lock_passes_the_lock_on() -> None:
    requests, order = RequestQueue(), list[str]()
    holder = requests.acquire(urgent=False)
    await holder.__aenter__()
    quitter = asyncio.create_task(acquire(requests, "quitter", order))
    patient = asyncio.create_task(acquire(requests, "patient", order))
    await asyncio.sleep(0)
    await holder.__aexit__(None, None, None)
    quitter.cancel()
    async with asyncio.timeout(1):
        await patient
    assert order == ["patient"]
