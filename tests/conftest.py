"""The bench in a process of its own, and a real Home Assistant with Chargehand on it."""

import asyncio
import logging
import os
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from hypothesis import settings
from pymodbus.pdu import ModbusPDU
from pytest_homeassistant_custom_component.common import MockConfigEntry

import custom_components  # noqa: F401 - the one in this repository, before the test tools can bring another
from custom_components import chargehand
from custom_components.chargehand.core.modbus.frame_decoder import FrameDecoder
from custom_components.chargehand.core.modbus.passed_request import PassedRequest
from custom_components.chargehand.core.registers import find_maps
from tests.bench.remote import Bench
from tests.declared import declared as declared_in

# Each process of tests has a folder of its own for the demos that it starts: a folder has one demo at a time.
WORKER = os.environ.get("PYTEST_XDIST_WORKER", "alone")
os.environ["CHARGEHAND_DEMO"] = str(Path(__file__).parents[1] / ".work" / f"demo-{WORKER}")

# The test tools have the recorder's every statement put into words, which costs more than the statements do.
logging.getLogger("sqlalchemy.engine").setLevel(logging.WARNING)

# How long an example takes says how busy the machine is, not whether it holds.
settings.register_profile("chargehand", deadline=None)
settings.load_profile("chargehand")

QUICK = {"baud": 115200, "turnaround_ms": 1}
"""A line that takes little of the tests' time; those that are about time say otherwise."""

SERIAL = "T5-AM-2611-0042"

type AddInverter = Callable[..., Awaitable[MockConfigEntry]]


RAW = {"tests/core/modbus", "tests/test_bench.py"}
"""Tests that write registers of their own choice, by the line alone or as another client of the bench."""

WRITES = {5, 6, 15, 16, 22, 23}
"""Functions that change something (Modbus Application Protocol V1.1b3, 6)."""


DECLARED = frozenset[int]().union(
    *(declared_in(path) for path in find_maps(Path(), Path(chargehand.__file__).parent / "maps").values())
)
"""Holding registers that the bundled maps let Chargehand write."""


@pytest.fixture
def declared() -> frozenset[int]:
    """What may be written here; tests on maps of their own name their own."""
    return DECLARED


@pytest.fixture(autouse=True)
def _only_what_is_declared_is_ever_written(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, declared: frozenset[int]
) -> Iterator[None]:
    """Look at every frame that leaves, in the whole suite: each write is to registers that a map declares as Chargehand's."""
    sent: list[tuple[int, int, int]] = []
    expect = FrameDecoder.expect

    def seen(decoder: FrameDecoder, message: ModbusPDU) -> bytes:
        # What another client asks is not Chargehand's to choose.
        if message.function_code in WRITES and not isinstance(message, PassedRequest):
            first = int.from_bytes(message.encode()[:2])
            count = int.from_bytes(message.encode()[2:4]) if message.function_code == 16 else 1
            sent.append((message.function_code, first, count))
        return expect(decoder, message)

    monkeypatch.setattr(FrameDecoder, "expect", seen)
    yield
    if any(place in request.node.nodeid for place in RAW):
        return
    for function, first, count in sent:
        assert function in {6, 16, 22}, f"function {function} is never sent"
        assert declared.issuperset(range(first, first + count)), f"{count} registers from {first} are not declared"


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    """A configuration of the test's own: what one test writes into it is not there in the next."""
    return hass_tmp_config_dir


@pytest.fixture(autouse=True)
async def enable_event_loop_debug(request: pytest.FixtureRequest) -> None:
    """Let the event loop look after itself on the main way only: for that it keeps the source of every task, half of what a test takes."""
    asyncio.get_running_loop().set_debug("test_main_job" in request.node.nodeid)


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(request: pytest.FixtureRequest) -> None:
    """Let Home Assistant look into custom_components, in tests that have one; the others are spared it."""
    if "hass" in request.fixturenames:
        request.getfixturevalue("enable_custom_integrations")


@pytest.fixture
async def bench(socket_enabled: None) -> AsyncIterator[Bench]:
    """A Teasel T5 on a quick line, as it leaves the factory: armed, 22:40-02:20 at 2000 W to 100 %."""
    async with await Bench.start(**QUICK) as running:
        yield running


@pytest.fixture
async def london(hass: HomeAssistant) -> None:
    """The house's time zone is the bench's, and its times are written as there."""
    await hass.config.async_set_time_zone("Europe/London")
    hass.config.country = "GB"


@pytest.fixture
async def add_inverter(hass: HomeAssistant, london: None) -> AsyncIterator[AddInverter]:
    """Add the bench to Home Assistant as an entry that may control it, and take it away at the end."""
    added: list[MockConfigEntry] = []

    async def add(
        port: int, *, state: ConfigEntryState = ConfigEntryState.LOADED, unique_id: str = SERIAL, **options: Any
    ) -> MockConfigEntry:
        data = {"host": "127.0.0.1", "port": port, "framing": "tcp", "register_map": "teasel_t5"}
        data |= {key: options.pop(key) for key in list(options) if key in {*data, "unit"}}
        entry = MockConfigEntry(
            domain="chargehand",
            title="Teasel T5",
            unique_id=unique_id,
            data=data,
            options={"allow_control": True, **options},
        )
        entry.add_to_hass(hass)
        await hass.config_entries.async_setup(entry.entry_id)
        await hass.async_block_till_done()
        assert entry.state is state, entry.reason
        added.append(entry)
        return entry

    yield add
    for entry in added:
        if entry.state is ConfigEntryState.LOADED:
            await hass.config_entries.async_unload(entry.entry_id)
    await hass.async_block_till_done()


@pytest.fixture
async def entry(bench: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    """The bench, added and running."""
    return await add_inverter(bench.port)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many cases ran; each test records its own as a property, which crosses from worker to terminal."""
    counts: dict[str, int] = {}
    for reports in terminalreporter.stats.values():
        for report in reports:
            for name, value in getattr(report, "user_properties", ()):
                if name.startswith("cases: ") and getattr(report, "when", "") == "call":
                    counts[name[7:]] = counts.get(name[7:], 0) + int(value)
    if counts:
        text = ", ".join(f"{count} {name}" for name, count in sorted(counts.items()))
        terminalreporter.write_line(f"commit cases: {sum(counts.values())} ({text})")
