"""Whose turn it is: urgent ones first, then the oldest, and a turn is never lost."""

import asyncio

from custom_components.chargehand.core.modbus.request_queue import Turns


async def take(turns: Turns, name: str, order: list[str], *, urgent: bool = False) -> None:
    async with turns.take(urgent=urgent):
        order.append(name)
        await asyncio.sleep(0)


async def test_a_commit_goes_ahead_of_polls_and_polls_keep_their_order() -> None:
    turns, order = Turns(), list[str]()
    async with asyncio.TaskGroup() as group, turns.take(urgent=False):
        for name in ("first", "second"):
            group.create_task(take(turns, name, order))
        group.create_task(take(turns, "commit", order, urgent=True))
        group.create_task(take(turns, "third", order))
        await asyncio.sleep(0.01)
    assert order == ["commit", "first", "second", "third"]


async def test_nobody_slips_in_while_a_turn_is_handed_over() -> None:
    turns, order = Turns(), list[str]()
    holder = asyncio.create_task(take(turns, "holder", order))
    await asyncio.sleep(0)
    waiting = asyncio.create_task(take(turns, "waiting", order))
    await holder
    late = asyncio.create_task(take(turns, "late", order))
    await asyncio.gather(waiting, late)
    assert order == ["holder", "waiting", "late"]


async def test_one_that_gives_up_does_not_take_the_turn_with_it() -> None:
    turns, order = Turns(), list[str]()
    async with turns.take(urgent=False):
        quitter = asyncio.create_task(take(turns, "quitter", order))
        patient = asyncio.create_task(take(turns, "patient", order))
        await asyncio.sleep(0)
        quitter.cancel()
        await asyncio.sleep(0)
    async with asyncio.timeout(1):
        await patient
    assert order == ["patient"]


async def test_one_that_gives_up_in_the_moment_it_is_called_passes_the_turn_on() -> None:
    turns, order = Turns(), list[str]()
    holder = turns.take(urgent=False)
    await holder.__aenter__()
    quitter = asyncio.create_task(take(turns, "quitter", order))
    patient = asyncio.create_task(take(turns, "patient", order))
    await asyncio.sleep(0)
    await holder.__aexit__(None, None, None)
    quitter.cancel()
    async with asyncio.timeout(1):
        await patient
    assert order == ["patient"]
