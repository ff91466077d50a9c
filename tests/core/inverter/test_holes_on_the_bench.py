"""Inverters in another process that do not have all registers between those of their maps, over a real line."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from custom_components import chargehand
from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway
from custom_components.chargehand.core.registers import Poll, Table, load_map
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.conftest import QUICK
from tests.core.schedule.quick_inverter import make_inverter

MAPS = Path(chargehand.__file__).parent / "maps"

pytestmark = pytest.mark.usefixtures("socket_enabled")


@asynccontextmanager
async def inverter_on(bench: Bench, name: str) -> AsyncIterator[Inverter]:
    gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing.TCP))
    try:
        yield make_inverter(load_map(MAPS / f"{name}.yaml"), gateway, None)
    finally:
        gateway.close()


async def refused(bench: Bench, since: int = 0) -> list[tuple[int, int]]:
    return [(one["first"], one["count"]) for one in await bench.journal(since) if one["answer"].startswith("exception")]


@pytest.mark.parametrize(("make", "name"), [("larkfen", "larkfen_lf5"), ("pebblemoor", "pebblemoor_pm8")])
async def test_a_document_that_lists_no_holes_is_enough(make: str, name: str) -> None:
    async with await Bench.start(**QUICK, inverter=make) as bench, inverter_on(bench, name) as inverter:
        reader = inverter.reader
        assert all(value is not None for value in (await reader.identify()).values())
        polled = await reader.poll(reader.all_keys(), set(Poll))
        assert (polled.missed, polled.failure) == (set(), None)
        assert len(await refused(bench)) > 3, "there are holes to find"
        since = len(await bench.journal())
        for rates in ({Poll.FAST}, set(Poll), {Poll.FAST}):
            assert (await reader.poll(reader.all_keys(), rates)).failure is None
        assert await refused(bench, since) == []


async def test_a_change_before_any_poll_finds_the_holes_by_itself() -> None:
    async with (
        await Bench.start(**QUICK, missing="holding:736-739,holding:757-762") as bench,
        inverter_on(bench, "teasel_t5") as inverter,
    ):
        image = await inverter.read_image()
        level = (Table.HOLDING, CHARGE[0].stop_level)
        assert image[level] == 100
        done = await inverter.put_image({**image, level: 90})
        assert done.receipt.outcome == "confirmed"
        assert await bench.registers("holding", CHARGE[0].stop_level) == [90]
        since = len(await bench.journal())
        await inverter.set_clock()
        await inverter.put_image({**image, level: 80})
        assert await bench.registers("holding", CHARGE[0].stop_level) == [80]
        assert await refused(bench, since) == []
