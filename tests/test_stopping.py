"""Home Assistant stops: a change that is at work ends first, then the connection is closed, as the bench sees it."""

import asyncio
import json
from pathlib import Path
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.modbus import LineError
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, RESERVE_LEVEL
from tests.calls import act, set_entity
from tests.conftest import QUICK, SERIAL, AddInverter
from tests.teasel import TONIGHT, WANTED, held
from tests.waiting import until


@pytest.fixture
def hass_storage() -> dict[str, Any]:
    """Home Assistant's storage is the real one, on disk."""
    return {}


def on_disk(hass: HomeAssistant, entry: MockConfigEntry) -> dict[str, Any]:
    kept: dict[str, Any] = json.loads(Path(hass.config.path(".storage", f"chargehand.{entry.entry_id}")).read_text())
    return dict(kept["data"]["changes"])


async def connections(bench: Bench) -> int:
    return int((await bench.stats())["connections"])


async def written(bench: Bench) -> bool:
    return any(one["function"] in {6, 16} for one in await bench.journal())


async def is_left(bench: Bench) -> bool:
    return await connections(bench) == 0


async def test_an_idle_connection_is_closed(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    assert await connections(bench) == 1
    await hass.async_stop(force=True)
    async with asyncio.timeout(1):
        await until(lambda: is_left(bench))
    before = len(await bench.journal())
    await entry.runtime_data.async_refresh()
    assert len(await bench.journal()) == before, "and not opened again"


async def test_the_last_of_two_inverters_on_a_gateway_closes_it(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**QUICK, units=(1, 2)) as bench:
        await add_inverter(bench.port, unit=1, unique_id=SERIAL)
        await add_inverter(bench.port, unit=2, unique_id="T5-AM-2611-0043")
        await hass.async_stop(force=True)
        async with asyncio.timeout(1):
            await until(lambda: is_left(bench))


async def test_a_commit_at_work_is_brought_to_its_end_before(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.fault("write_shows_late", ms=1500)
    asked = asyncio.create_task(act(hass, entry, "apply_schedule", charge=TONIGHT))
    await until(lambda: written(bench))
    await hass.async_stop(force=True)
    assert await held(bench) == WANTED
    async with asyncio.timeout(1):
        await until(lambda: is_left(bench))
    assert (await asked)["outcome"] == "confirmed"
    kept = on_disk(hass, entry)
    assert kept["unfinished"] is None, "proven, and no start has to find out what became of it"
    assert ["holding", CHARGE[0].start, WANTED[0]] in kept["confirmed"]


async def test_a_control_at_work_is_read_back_before(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await bench.fault("write_shows_late", ms=1500)
    asked = asyncio.create_task(set_entity(hass, "number", "set_value", "reserve_level", value=35))
    await until(lambda: written(bench))
    await hass.async_stop(force=True)
    await asked
    assert await bench.registers("holding", RESERVE_LEVEL) == [35]
    async with asyncio.timeout(1):
        await until(lambda: is_left(bench))


async def test_nothing_is_begun_any_more(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await hass.async_stop(force=True)
    with pytest.raises(LineError):
        await entry.runtime_data.inverter.set_clock()
    assert not await written(bench)
