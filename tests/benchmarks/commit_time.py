"""Seconds from asking for three windows, in one frame, to `confirmed`, at 9600 baud; without and with a data logger.

`python -m tests.benchmarks.commit_time [--rounds N]`. The ratio is to what cannot be saved: reading the image, writing the frame, the
inverter's settle time, and reading the image again, as time on the bus by the standard's formula (referee.py). Whatever else a commit reads first is not in it.
"""

import argparse
import asyncio
from statistics import median

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.registers import Table
from tests.benchmarks.referee import Bus, Stretch, least
from tests.benchmarks.rig import (
    BAUD,
    FIRST_WINDOW,
    TURNAROUND_MS,
    USUAL,
    WINDOW_REGISTERS,
    let_logger_poll,
    registers_of_three_windows,
    teasel,
    three_windows,
)
from tests.benchmarks.table import Cell, show

PAUSE_S = 0.37
"""Between commits; no fraction of the logger's second, so that they meet it at all its phases."""


def floor_of(inverter: Inverter, registers: int) -> float:
    """Seconds that a commit of one frame of `registers` takes on the Teasel's line when nothing is in its way."""
    points, rules = inverter.map.schedule, inverter.map.line
    assert points is not None
    bus = Bus(baud=BAUD, turnaround=TURNAROUND_MS / 1000, longest=rules.longest_read)
    places: list[Stretch] = [(address, address) for table, address in points.addresses if table is Table.HOLDING]
    return 2 * least(places, bus) + bus.write_seconds(registers) + rules.settle_ms / 1000


async def run(rounds: int) -> None:
    """Measure and print."""
    times: dict[bool, list[float]] = {False: [], True: []}
    async with teasel(**USUAL) as (bench, inverter):
        await inverter.apply(three_windows(1))
        for turn in range(2 * rounds):
            # By twos, so that either way meets both schedules.
            with_logger = turn // 2 % 2 == 1
            await let_logger_poll(bench, polls=with_logger)
            await asyncio.sleep(PAUSE_S)
            receipt = (await inverter.apply(three_windows(turn))).receipt
            if receipt.writes != 1 or receipt.outcome != "confirmed":
                raise RuntimeError(f"not one frame, confirmed: {receipt}")
            if await bench.registers("holding", FIRST_WINDOW, WINDOW_REGISTERS) != registers_of_three_windows(turn):
                raise RuntimeError("called confirmed, and the inverter holds something else")
            times[with_logger].append(receipt.seconds)
        floor = floor_of(inverter, receipt.registers_written)
        requests = f"{receipt.reads} + {receipt.writes}"
    rows: list[list[Cell]] = [
        [
            "with the logger" if logger else "alone",
            len(found),
            requests,
            median(found),
            max(found),
            floor,
            median(found) / floor,
        ]
        for logger, found in times.items()
    ]
    head = ("", "commits", "reads + writes", "median s", "worst s", "floor s", "median to floor")
    show(f"Three windows in one frame of {receipt.registers_written} registers, to confirmed", head, rows)


def main() -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=20)
    asyncio.run(run(parser.parse_args().rounds))


if __name__ == "__main__":
    main()
