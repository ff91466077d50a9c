"""The bench in a process of its own, and a real Home Assistant with Chargehand on it."""

from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any

import pytest
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from hypothesis import settings
from pytest_homeassistant_custom_component.common import MockConfigEntry

import custom_components  # noqa: F401 - the one in this repository, before the test tools can bring another
from tests.bench.remote import Bench

# How long an example takes says how busy the machine is, not whether it holds.
settings.register_profile("chargehand", deadline=None)
settings.load_profile("chargehand")

QUICK = {"baud": 115200, "turnaround_ms": 1}
"""A line that takes little of the tests' time; those that are about time say otherwise."""

SERIAL = "T5-AM-2611-0042"

type AddInverter = Callable[..., Awaitable[MockConfigEntry]]


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(enable_custom_integrations: None) -> None:
    """Let Home Assistant look into custom_components."""


@pytest.fixture
async def bench(socket_enabled: None) -> AsyncIterator[Bench]:
    """A Teasel T5 on a quick line, as it leaves the factory: armed, 23:00-05:00 at 40 A to 100 %."""
    async with await Bench.start(**QUICK) as running:
        yield running


@pytest.fixture
async def london(hass: HomeAssistant) -> None:
    """The house's time zone is the bench's."""
    await hass.config.async_set_time_zone("Europe/London")


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
        told = ", ".join(f"{count} {name}" for name, count in sorted(counts.items()))
        terminalreporter.write_line(f"commit cases: {sum(counts.values())} ({told})")
