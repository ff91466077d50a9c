"""Outages: told once each way, over within one poll of the line's return, and nothing is left behind. Time is real."""

import asyncio
import logging
from collections.abc import Awaitable, Callable

import pytest
from homeassistant.core import HomeAssistant

from custom_components.chargehand.line.gateway import LONGEST_DELAY
from tests.bench.remote import Bench
from tests.cable import Cable, cable_to
from tests.conftest import QUICK, AddInverter
from tests.house import state

type Outage = Callable[[Bench, Cable, float], Awaitable[None]]


async def cable_out(bench: Bench, cable: Cable, seconds: float) -> None:
    cable.pull()
    await asyncio.sleep(seconds)
    cable.put_back()


async def gateway_off(bench: Bench, cable: Cable, seconds: float) -> None:
    await bench.gateway(down=True)
    await asyncio.sleep(seconds)
    await bench.gateway(down=False)


async def night(bench: Bench, cable: Cable, seconds: float) -> None:
    """The inverter is off; the gateway waits for it and answers nothing."""
    await bench.inverter(answers=False)
    await asyncio.sleep(seconds)
    await bench.inverter(answers=True)


OUTAGES = {"cable": cable_out, "gateway": gateway_off, "night": night}


def told(caplog: pytest.LogCaptureFixture) -> list[str]:
    """Levels of what Chargehand has logged above what is for debugging."""
    return [
        record.levelname
        for record in caplog.records
        if record.name.startswith("custom_components.chargehand") and record.levelno > logging.DEBUG
    ]


async def within(seconds: float, holds: Callable[[], bool]) -> bool:
    """Whether something comes true in time."""
    for _ in range(int(seconds * 20)):
        if holds():
            return True
        await asyncio.sleep(0.05)
    return False


@pytest.mark.parametrize("name", OUTAGES)
@pytest.mark.parametrize(
    ("seconds", "interval"), [(10.0, 1.0), pytest.param(30.0, 5.0, marks=pytest.mark.long)], ids=["10 s", "30 s"]
)
async def test_an_outage_is_told_once_each_way_and_over_within_a_poll_of_its_end(
    hass: HomeAssistant,
    socket_enabled: None,
    add_inverter: AddInverter,
    caplog: pytest.LogCaptureFixture,
    name: str,
    seconds: float,
    interval: float,
) -> None:
    async with await Bench.start(**QUICK) as bench, cable_to(bench.port) as cable:
        entry = await add_inverter(cable.port, fast_seconds=interval)
        level = lambda: state(hass, "sensor", "battery_level").state  # noqa: E731
        assert level() != "unavailable"
        caplog.clear()
        tasks = len(asyncio.all_tasks())
        gone = asyncio.create_task(within(seconds, lambda: level() == "unavailable"))
        await OUTAGES[name](bench, cable, seconds)
        assert await gone, "gone while it lasted"
        # A gateway that could not be reached is tried again at most so much later; then one poll.
        assert await within(LONGEST_DELAY + interval + 2, lambda: level() != "unavailable")
        assert told(caplog) == ["ERROR", "INFO"]
        await asyncio.sleep(interval)
        assert await within(interval + 2, lambda: len(asyncio.all_tasks()) <= tasks + 2), (
            "no more than a poll is at work"
        )
        await hass.config_entries.async_unload(entry.entry_id)


async def test_a_gateway_that_restarts_between_two_polls_is_not_noticed(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter, caplog: pytest.LogCaptureFixture
) -> None:
    async with await Bench.start(**QUICK) as bench:
        entry = await add_inverter(bench.port, fast_seconds=1.0)
        caplog.clear()
        for _ in range(5):
            await bench.gateway(restart=True)
            await asyncio.sleep(1.2)
            assert state(hass, "sensor", "battery_level").state != "unavailable"
        assert told(caplog) == []
        await hass.config_entries.async_unload(entry.entry_id)
