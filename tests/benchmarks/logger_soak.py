"""Chargehand beside a data logger on a 9600-baud line: do polls fail, and how long do commits take.

`python -m tests.benchmarks.logger_soak [--minutes M]`. Polls every 5 s, all of it every 60 s; a commit of three windows every 30 s.
The logger polls 60 registers every second through the same queueing gateway.
"""

import argparse
import asyncio
from collections import Counter
from dataclasses import dataclass, field
from statistics import median

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.inverter.snapshot import CLOCK, SCHEDULE
from custom_components.chargehand.core.modbus import LineError
from custom_components.chargehand.core.registers import Poll
from custom_components.chargehand.core.schedule.commit import NotTaken, Uncertain
from tests.bench.remote import Bench
from tests.benchmarks.rig import (
    FIRST_WINDOW,
    USUAL,
    WINDOW_REGISTERS,
    let_logger_poll,
    registers_of_three_windows,
    teasel,
    three_windows,
)
from tests.benchmarks.table import show

FAST_S, SLOW_S = 5.0, 60.0
COMMIT_S = 30.0 + 0.7
"""No multiple of the others, so that commits meet polls in every way over a run."""


@dataclass(slots=True)
class Seen:
    """What happened; times in s."""

    polls: list[float] = field(default_factory=list)
    failures: Counter[str] = field(default_factory=Counter)
    """Of polls, by kind; a poll that brought only part of what it was to bring counts."""

    commits: list[float] = field(default_factory=list)
    not_confirmed: Counter[str] = field(default_factory=Counter)
    retries: int = 0


async def poll(inverter: Inverter, until: float, seen: Seen) -> None:
    """Poll as Home Assistant's coordinator does, until the time is over."""
    loop = asyncio.get_running_loop()
    keys = {*inverter.map.readings, *inverter.map.controls, SCHEDULE, CLOCK}
    due, slow_due = loop.time(), 0.0
    while due < until:
        await asyncio.sleep(due - loop.time())
        began = loop.time()
        rates = frozenset(Poll) if began >= slow_due else frozenset({Poll.FAST})
        if Poll.SLOW in rates:
            slow_due = began + SLOW_S
        try:
            polled = await inverter.reader.poll(keys, rates)
        except LineError as failure:
            seen.failures[type(failure).__name__] += 1
        else:
            if polled.missed:
                seen.failures[f"{len(polled.missed)} values missed: {polled.failure}"] += 1
        seen.polls.append(loop.time() - began)
        due = max(due + FAST_S, loop.time())


async def commit(inverter: Inverter, bench: Bench, until: float, seen: Seen) -> None:
    """Commit another schedule again and again; each is looked up in the bench's own memory."""
    loop = asyncio.get_running_loop()
    due, turn = loop.time() + FAST_S / 2, 0
    while due < until:
        await asyncio.sleep(due - loop.time())
        try:
            receipt = (await inverter.apply(three_windows(turn))).receipt
        except (NotTaken, Uncertain, LineError) as failure:
            seen.not_confirmed[type(failure).__name__] += 1
        else:
            seen.commits.append(receipt.seconds)
            seen.retries += receipt.retries
            held = await bench.registers("holding", FIRST_WINDOW, WINDOW_REGISTERS)
            if held != registers_of_three_windows(turn) or receipt.outcome != "confirmed":
                seen.not_confirmed["called confirmed and is not there"] += 1
        turn += 1
        due += COMMIT_S


async def run(minutes: float) -> None:
    """Soak and print."""
    loop = asyncio.get_running_loop()
    seen = Seen()
    async with teasel(**USUAL) as (bench, inverter):
        await let_logger_poll(bench)
        until = loop.time() + minutes * 60
        await asyncio.gather(poll(inverter, until, seen), commit(inverter, bench, until, seen))
        # Its last answer may still be on the way.
        await let_logger_poll(bench, polls=False)
        await asyncio.sleep(FAST_S / 5)
        logger, stats = await bench.logger_state(), await bench.stats()
        errors = dict(inverter.line.health.errors_by_kind)
    show(
        f"Beside a data logger, 9600 baud, {minutes:g} min",
        ("", "number", "failed", "median s", "worst s"),
        [
            ["polls", len(seen.polls), seen.failures.total(), median(seen.polls), max(seen.polls)],
            ["commits", *_commits(seen)],
            ["logger's polls", logger["polls"], logger["polls"] - logger["answers"], "", ""],
        ],
    )
    print(
        f"  line busy {stats['busy_seconds'] / (minutes * 60):.0%}; commits' retries {seen.retries}; line errors {errors}"
    )
    for kind, times in (seen.failures + seen.not_confirmed).items():
        print(f"  {times} x {kind}")


def _commits(seen: Seen) -> tuple[int, int, float, float]:
    times = seen.commits or [float("nan")]
    return len(seen.commits), seen.not_confirmed.total(), median(times), max(times)


def main() -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    asyncio.run(run(parser.parse_args().minutes))


if __name__ == "__main__":
    main()
