"""Processor time of a poll of 200 readings in a real Home Assistant, beside bare pymodbus reading the same registers.

`python -m tests.benchmarks.poll_cpu [--rounds N] [--profile]`. Every round does each thing once, so that whatever else the machine
does meets all of them; figures are medians over the rounds of this process's own time. The bench is another process.
"""

import argparse
import asyncio
import cProfile
import gc
import pstats
import tempfile
import time
from collections.abc import Awaitable, Callable, Mapping
from pathlib import Path
from statistics import median

from homeassistant.core import HomeAssistant
from pymodbus.client import AsyncModbusTcpClient

from custom_components.chargehand.const import DEFAULT_FAST_SECONDS
from custom_components.chargehand.coordinator import ChargehandCoordinator
from custom_components.chargehand.core.registers import Poll
from tests.bench.remote import Bench
from tests.benchmarks.big_map import (
    BLOCKS,
    HOLDING_FIRST,
    HOLDINGS,
    INPUT_FIRST,
    INPUTS,
    SCALES,
    change_values,
    hold_still,
    write_map,
)
from tests.benchmarks.house import add_inverters, add_plain_sensors, home
from tests.benchmarks.rig import QUICK
from tests.benchmarks.table import Cell, show

type Work = Callable[[], Awaitable[object]]
type Change = Callable[[int, int], Awaitable[None]]
"""Gives so many of each inverter's 200 registers a value that they did not have in the turn before."""

UNITS = range(1, 11)
WARM_UP = 5
MOST_ROWS = 20
OWN = "custom_components/chargehand"
BARE = "bare pymodbus"


async def bare(client: AsyncModbusTcpClient, units: range) -> None:
    """The blocks of these units, one request after the other."""
    for unit in units:
        for table, first, count in BLOCKS:
            ask = client.read_input_registers if table == "input" else client.read_holding_registers
            answer = await ask(first, count=count, device_id=unit)
            if answer.isError():
                raise RuntimeError(f"unit {unit} answers {answer}")


async def on_line(coordinator: ChargehandCoordinator) -> None:
    """The same by Chargehand's line."""
    for table, first, count in BLOCKS:
        await coordinator.inverter.line.read(table, first, count)


def as_after_a_minute(coordinators: list[ChargehandCoordinator]) -> None:
    """Leave the line's record of the last minute as long as polls at 5 s make it; here they follow one another much faster."""
    requests = 60 // DEFAULT_FAST_SECONDS * len(BLOCKS)
    for coordinator in coordinators:
        line = coordinator.inverter.line
        for health, most in ((line.health, requests), (line.gateway.health, requests * len(coordinators))):
            while len(health.requests) > most:
                health.requests.popleft()


async def refreshed(coordinators: list[ChargehandCoordinator]) -> None:
    """A poll of all, to the last state written: entities write theirs before a refresh ends."""
    await asyncio.gather(*(coordinator.async_refresh() for coordinator in coordinators))


async def measured(ways: Mapping[str, tuple[int, Work]], change: Change, rounds: int) -> dict[str, float]:
    """Median seconds of processor time of each way. `change` gives registers new values before each, uncounted."""
    spent: dict[str, list[float]] = {name: [] for name in ways}
    for turn in range(rounds + WARM_UP):
        for at, (name, (new, work)) in enumerate(ways.items()):
            await change(turn * len(ways) + at, new)
            began = time.process_time()
            await work()
            if turn >= WARM_UP:
                spent[name].append(time.process_time() - began)
        if turn == WARM_UP:
            # As Home Assistant does once it is up: what lives for ever is no longer looked at by the collector.
            gc.freeze()
    return {name: median(times) for name, times in spent.items()}


async def look(hass: HomeAssistant, bench: Bench, coordinator: ChargehandCoordinator) -> None:
    """Make sure that what was measured is what it is called: a poll shows the bench's registers of this moment."""
    await change_values(bench, 40_000, INPUTS + HOLDINGS)
    await refreshed([coordinator])
    values = [
        *(await bench.registers("input", INPUT_FIRST, INPUTS)),
        *(await bench.registers("holding", HOLDING_FIRST, HOLDINGS)),
    ]
    for number, raw in enumerate(values):
        entity_id = f"sensor.teasel_1_reading_{number}"
        state = hass.states.get(entity_id)
        scale = SCALES[number % len(SCALES)]
        if state is None or state.state in {"unknown", "unavailable"} or abs(float(state.state) - raw * scale) > 1e-9:
            raise RuntimeError(f"{entity_id} shows {state}, not {raw} x {scale}")


def rows(times: Mapping[str, float]) -> list[list[Cell]]:
    """In ms, and as a ratio to the bare reads."""
    return [[name, seconds * 1000, seconds / times[BARE]] for name, seconds in times.items()]


async def one(config: Path, bench: Bench, client: AsyncModbusTcpClient, rounds: int, *, profile: bool) -> None:
    """One inverter, step by step from the bare reads to the written states."""
    async with home(config) as hass:
        (coordinator,) = await add_inverters(hass, bench.port, write_map(config), [1])
        plain, few = await add_plain_sensors(hass, 200), await add_plain_sensors(hass, 20)
        inverter = coordinator.inverter
        poll: Work = coordinator.async_refresh
        ways: dict[str, tuple[int, Work]] = {
            BARE: (0, lambda: bare(client, range(1, 2))),
            "Chargehand's line": (0, lambda: on_line(coordinator)),
            "line and decoding": (0, lambda: inverter.reader.poll(inverter.map.readings, {Poll.FAST})),
            "poll in Home Assistant, all 200 values new": (200, poll),
            "poll in Home Assistant, 20 values new": (20, poll),
            "poll in Home Assistant, nothing new": (0, poll),
            "Home Assistant alone: 200 plain sensors, all new": (0, plain.async_refresh),
            "Home Assistant alone: 20 plain sensors, all new": (0, few.async_refresh),
        }

        async def change(turn: int, new: int) -> None:
            as_after_a_minute([coordinator])
            await change_values(bench, turn, new)

        times = await measured(ways, change, rounds)
        await look(hass, bench, coordinator)
        show("One inverter, 200 readings in 3 requests: processor time", ("", "ms", "to bare"), rows(times))
        if profile:
            await profiled(hass, coordinator, bench, rounds)


async def ten(config: Path, bench: Bench, client: AsyncModbusTcpClient, rounds: int) -> None:
    """Ten inverters on one gateway."""
    async with home(config) as hass:
        coordinators = await add_inverters(hass, bench.port, write_map(config), UNITS)
        polls: Work = lambda: refreshed(coordinators)  # noqa: E731
        ways: dict[str, tuple[int, Work]] = {
            BARE: (0, lambda: bare(client, UNITS)),
            "ten polls in Home Assistant, all 2000 values new": (200, polls),
            "ten polls in Home Assistant, 200 values new": (20, polls),
            "ten polls in Home Assistant, nothing new": (0, polls),
        }

        async def change(turn: int, new: int) -> None:
            as_after_a_minute(coordinators)
            await change_values(bench, turn, new, UNITS)

        times = await measured(ways, change, rounds)
        show("Ten inverters on one gateway", ("", "ms", "to bare"), rows(times))


async def profiled(hass: HomeAssistant, coordinator: ChargehandCoordinator, bench: Bench, rounds: int) -> None:
    """Where the time of a poll goes: functions by their own time, in µs a poll."""
    profile = cProfile.Profile()
    for turn in range(rounds):
        as_after_a_minute([coordinator])
        await change_values(bench, 50_000 + turn, 200)
        profile.enable()
        await refreshed([coordinator])
        profile.disable()
    own: list[list[Cell]] = []
    for (file, _, name), (_, calls, alone, total, _) in pstats.Stats(profile).stats.items():  # type: ignore[attr-defined]
        place = "/".join(Path(file).parts[-2:])
        us = round(alone / rounds * 1e6), round(total / rounds * 1e6)
        own.append([f"{place} {name}", calls // rounds, *us, "x" if OWN in file else ""])
    own.sort(key=lambda row: -int(row[2]))
    head = ("function", "calls", "own us", "with callees us", "Chargehand's")
    show("Where a poll's time goes (profiled, so slower than above)", head, own[:MOST_ROWS])
    show("Chargehand's own", head, [row for row in own if row[4]][:MOST_ROWS])


async def run(rounds: int, *, profile: bool) -> None:
    """Measure and print."""
    async with await Bench.start(**QUICK, units=list(UNITS)) as bench:
        await hold_still(bench, UNITS)
        async with AsyncModbusTcpClient("127.0.0.1", port=bench.port) as client:
            with tempfile.TemporaryDirectory() as folder:
                await one(Path(folder), bench, client, rounds, profile=profile)
            with tempfile.TemporaryDirectory() as folder:
                await ten(Path(folder), bench, client, max(5, rounds // 5))


def main() -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=100)
    parser.add_argument("--profile", action="store_true", help="list where a poll's time goes")
    given = parser.parse_args()
    asyncio.run(run(given.rounds, profile=given.profile))


if __name__ == "__main__":
    main()
