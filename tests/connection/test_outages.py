"""Outages: logged once each way, over within one poll of the line's return, and nothing is left behind. Time is real."""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from homeassistant.core import HomeAssistant

from custom_components import chargehand
from custom_components.chargehand.core.modbus.back_off import LONGEST_DELAY
from tests.bench.remote import Bench
from tests.cable import Cable, cable_to
from tests.calls import state
from tests.conftest import QUICK, AddInverter
from tests.polls import counted_polls
from tests.waiting import until

INTERVAL = 1.0
"""Seconds between polls."""


class Outage(NamedTuple):
    """How it begins and ends, and how many polls may fail once it has ended: one at work, and those before the next connection."""

    begin: Callable[[Bench, Cable], Awaitable[None]]
    end: Callable[[Bench, Cable], Awaitable[None]]
    fail_after: int


async def _pull(_: Bench, cable: Cable) -> None:
    cable.pull()


async def _put_back(_: Bench, cable: Cable) -> None:
    cable.put_back()


OUTAGES = {
    "cable": Outage(_pull, _put_back, 2),
    "gateway": Outage(
        lambda bench, _: bench.gateway(down=True),
        lambda bench, _: bench.gateway(down=False),
        int(LONGEST_DELAY / INTERVAL) + 2,
    ),
    # The inverter is off; the gateway waits for it and answers nothing.
    "night": Outage(lambda bench, _: bench.inverter(answers=False), lambda bench, _: bench.inverter(answers=True), 2),
}


@pytest.fixture
def soon(hass: HomeAssistant, tmp_path: Path) -> str:
    """Write a map of the bench's inverter with shorter time-outs, and return its id."""
    text = (Path(chargehand.__file__).parent / "maps" / "teasel_t5.yaml").read_text()
    assert "timeout_ms: 1000" in text
    (tmp_path / "chargehand").mkdir()
    (tmp_path / "chargehand" / "soon.yaml").write_text(text.replace("timeout_ms: 1000", "timeout_ms: 300"))
    hass.config.config_dir = str(tmp_path)
    return "soon"


def logged_levels(caplog: pytest.LogCaptureFixture) -> list[str]:
    """Return the levels of what Chargehand has logged above debug level."""
    return [
        record.levelname
        for record in caplog.records
        if record.name.startswith("custom_components.chargehand") and record.levelno > logging.DEBUG
    ]


@pytest.mark.parametrize("name", OUTAGES)
@pytest.mark.parametrize("lasts", [0.0, pytest.param(30.0, marks=pytest.mark.long)], ids=["until seen", "30 s longer"])
async def test_an_outage_is_logged_once_each_way_and_over_within_a_poll_of_its_end(
    hass: HomeAssistant,
    socket_enabled: None,
    add_inverter: AddInverter,
    caplog: pytest.LogCaptureFixture,
    soon: str,
    name: str,
    lasts: float,
) -> None:
    outage = OUTAGES[name]
    async with await Bench.start(**QUICK, gateway_timeout_ms=350) as bench, cable_to(bench.port) as cable:
        entry = await add_inverter(cable.port, fast_seconds=INTERVAL, register_map=soon)
        level = lambda: state(hass, "sensor", "battery_level").state  # noqa: E731
        assert level() != "unavailable"
        caplog.clear()
        tasks = len(asyncio.all_tasks())
        polls = counted_polls(entry.runtime_data)
        await outage.begin(bench, cable)
        await until(lambda: level() == "unavailable")
        await asyncio.sleep(lasts)
        polls.clear()
        await outage.end(bench, cable)
        await until(lambda: level() != "unavailable")
        assert polls.failed <= outage.fail_after
        assert logged_levels(caplog) == ["ERROR", "INFO"]
        # No more than a poll is at work.
        await until(lambda: len(asyncio.all_tasks()) <= tasks + 2)
        await hass.config_entries.async_unload(entry.entry_id)


async def test_a_gateway_that_restarts_between_two_polls_is_not_noticed(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter, caplog: pytest.LogCaptureFixture
) -> None:
    async with await Bench.start(**QUICK) as bench:
        entry = await add_inverter(bench.port, fast_seconds=INTERVAL)
        caplog.clear()
        polls = counted_polls(entry.runtime_data)
        for times in range(3):
            await bench.gateway(restart=True)
            await until(lambda times=times: polls.answered > times)  # type: ignore[misc]
            assert state(hass, "sensor", "battery_level").state != "unavailable"
        assert logged_levels(caplog) == []
        await hass.config_entries.async_unload(entry.entry_id)
