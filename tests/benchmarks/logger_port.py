"""A data logger behind Chargehand's own port, and beside Chargehand on a gateway that queues: answer times, time on the bus, polls, commits.

`python -m tests.benchmarks.logger_port [--minutes M]`. 9600 baud; polls every 5 s, all of it every 60 s; a commit of three windows every 30 s.
The logger asks for 60 registers every second. The cases run at the same time, each with a bench of its own. The logger's client is the
tests' own, in the same process in each case.
"""

import argparse
import asyncio
import struct
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from ipaddress import ip_address
from statistics import median

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.logger_port import LoggerGate, PortRules, PortServer
from tests.bench.framing import mbap
from tests.bench.remote import Bench
from tests.benchmarks.logger_soak import FAST_S, Seen, commit, poll
from tests.benchmarks.rig import USUAL, teasel
from tests.benchmarks.table import Cell, show

EVERY_S, FIRST, COUNT = 1.0, 420, 60
ANSWER_WITHIN_S = 3.0

type Way = tuple[float, float] | str
"""`beside`: a client of the same gateway. `none`: no logger. Else behind the port: its fresh seconds, and the seconds between polls that
take from its reads, 0 if they read everything themselves.
"""

WAYS: dict[str, Way] = {
    "no logger": "none",
    "beside, on the gateway": "beside",
    "behind the port, always asked": (0.0, 0.0),
    "behind the port, 2 s from memory, polls read all": (2.0, 0.0),
    "behind the port, 2 s from memory": (2.0, FAST_S),
    "behind the port, 5 s from memory, polls read all": (5.0, 0.0),
    "behind the port, 5 s from memory": (5.0, FAST_S),
}


@dataclass(slots=True)
class Logged:
    """What the logger met; times in s."""

    answers: list[float] = field(default_factory=list)
    failed: Counter[str] = field(default_factory=Counter)


@dataclass(slots=True)
class Measured:
    """What one case came to."""

    seen: Seen = field(default_factory=Seen)
    logged: Logged = field(default_factory=Logged)
    bus_seconds: float = 0.0


async def log(port: int, until: float, logged: Logged) -> None:
    """Ask every second until the time is over."""
    loop = asyncio.get_running_loop()
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    number, due = 0, loop.time()
    while due < until:
        await asyncio.sleep(due - loop.time())
        number, began = (number + 1) % 0x10000, loop.time()
        writer.write(mbap(number, 1, struct.pack(">BHH", 4, FIRST, COUNT)))
        try:
            async with asyncio.timeout(ANSWER_WITHIN_S):
                while (head := await reader.readexactly(7))[:2] != number.to_bytes(2):
                    await reader.readexactly(int.from_bytes(head[4:6]) - 1)
                answer = await reader.readexactly(int.from_bytes(head[4:6]) - 1)
        except TimeoutError:
            logged.failed["no answer"] += 1
        else:
            if len(answer) == 2 + 2 * COUNT:
                logged.answers.append(loop.time() - began)
            else:
                logged.failed[answer.hex()] += 1
        due = max(due + EVERY_S, loop.time())
    writer.close()


@asynccontextmanager
async def logger_port(bench: Bench, inverter: Inverter, way: Way) -> AsyncIterator[int | None]:
    """Yield the port that the logger asks; None without a logger."""
    if isinstance(way, str):
        yield bench.port if way == "beside" else None
        return
    loopback = frozenset({ip_address("127.0.0.1")})
    fresh, between = way
    rules = PortRules(port=0, hosts=loopback, fresh_seconds=fresh, poll_seconds=between, bind="127.0.0.1")
    server = PortServer(LoggerGate(inverter, rules), rules, inverter.line.unit)
    await server.open()
    yield server.port
    await server.close()


async def measure(way: Way, minutes: float) -> Measured:
    """Run one case."""
    loop, measured = asyncio.get_running_loop(), Measured()
    async with teasel(**USUAL) as (bench, inverter), logger_port(bench, inverter, way) as port:
        until = loop.time() + minutes * 60
        work = [poll(inverter, until, measured.seen), commit(inverter, bench, until, measured.seen)]
        await asyncio.gather(*work, *([] if port is None else [log(port, until, measured.logged)]))
        measured.bus_seconds = (await bench.stats())["busy_seconds"]
    return measured


async def run(minutes: float) -> None:
    """Measure all cases and print."""
    measured = dict(zip(WAYS, await asyncio.gather(*(measure(way, minutes) for way in WAYS.values())), strict=True))
    none, beside = measured["no logger"], measured["beside, on the gateway"]
    logger_takes = beside.bus_seconds - none.bus_seconds

    def row(name: str, one: Measured) -> list[Cell]:
        answers, usual = one.logged.answers, median(beside.logged.answers)
        return [
            name,
            len(answers) + one.logged.failed.total(),
            one.logged.failed.total(),
            *((median(answers), max(answers), median(answers) / usual) if answers else ("", "", "")),
            one.bus_seconds / minutes / 60,
            (beside.bus_seconds - one.bus_seconds) / logger_takes,
            len(one.seen.polls),
            one.seen.failures.total(),
            len(one.seen.commits),
            one.seen.not_confirmed.total(),
            median(one.seen.commits),
            max(one.seen.commits),
        ]

    head = ("", "asked", "failed", "median s", "worst s", "to beside", "bus busy", "of the logger's share saved")
    works = ("polls", "failed", "commits", "failed", "median s", "worst s")
    show(
        f"A data logger that asks for {COUNT} registers every second, 9600 baud, {minutes:g} min",
        (*head, *works),
        [row(name, one) for name, one in measured.items()],
    )
    for name, one in measured.items():
        for kind, times in (one.logged.failed + one.seen.failures + one.seen.not_confirmed).items():
            print(f"  {name}: {times} x {kind}")


def main() -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    asyncio.run(run(parser.parse_args().minutes))


if __name__ == "__main__":
    main()
