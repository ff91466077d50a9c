"""Time that passes only where everybody waits."""

import asyncio

import pytest

from .loop import NothingLeft, SimulatedLoop


def test_an_hour_passes_at_once_and_in_order() -> None:
    loop = SimulatedLoop()
    seen: list[tuple[str, float]] = []

    async def wait(name: str, seconds: float) -> None:
        await asyncio.sleep(seconds)
        seen.append((name, round(loop.time(), 3)))

    async def all_of_them() -> None:
        await asyncio.gather(wait("hour", 3600), wait("minute", 60), wait("second", 1))

    loop.run_until_complete(all_of_them())
    loop.close()
    assert seen == [("second", 1.0), ("minute", 60.0), ("hour", 3600.0)]


def test_a_time_out_comes_at_its_time() -> None:
    loop = SimulatedLoop()

    async def waits_in_vain() -> float:
        with pytest.raises(TimeoutError):
            async with asyncio.timeout(2.5):
                await asyncio.Event().wait()
        return loop.time()

    assert loop.run_until_complete(waits_in_vain()) == pytest.approx(2.5)
    loop.close()


def test_waiting_for_what_can_never_come_is_told() -> None:
    loop = SimulatedLoop()
    with pytest.raises(NothingLeft):
        loop.run_until_complete(asyncio.Event().wait())
    loop.close()


def test_nobody_listens() -> None:
    loop = SimulatedLoop()
    with pytest.raises(ConnectionRefusedError):
        loop.run_until_complete(loop.create_connection(asyncio.Protocol, "nobody", 502))
    loop.close()
