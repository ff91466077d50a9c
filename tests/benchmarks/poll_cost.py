"""How close a poll's time on the line comes to the least that is possible.

`python -m tests.benchmarks.poll_cost`. Nothing here depends on how busy the machine is: it is counted, not timed.
"""

import random
from collections.abc import Sequence
from datetime import UTC
from pathlib import Path

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.inverter.snapshot import CLOCK, SCHEDULE
from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line
from custom_components.chargehand.core.registers import (
    Address,
    Batch,
    Control,
    LineRules,
    Point,
    Poll,
    Reading,
    RegisterMap,
    Span,
    Table,
    load_map,
)
from tests.benchmarks.referee import Bus, Stretch, bound, least, least_of_all
from tests.benchmarks.table import show

TEASEL = Path(__file__).parents[2] / "custom_components/chargehand/maps/teasel_t5.yaml"
FULL = frozenset(Poll)


def gappy_map(readings: int = 200, seed: int = 2611) -> RegisterMap:
    """A map of readings of one, two or four registers with gaps of all sizes between them, and stretches never to be read."""
    chance = random.Random(seed)
    made: dict[str, Reading] = {}
    barred: list[Span] = []
    for table, share in ((Table.INPUT, readings * 3 // 4), (Table.HOLDING, readings - readings * 3 // 4)):
        at = 0
        for number in range(share):
            kind, length = chance.choice((("u16", 1), ("u16", 1), ("s32", 2), ("u64", 4)))
            key = f"{table}_{number}"
            made[key] = Reading(key=key, point=Point(table=table, first=at, type=kind, length=length))
            gap = chance.choice((0, 0, 0, 1, 2, 5, chance.randrange(60)))
            if gap > 40:
                barred.append(Span(table=table, first=at + length + 3, last=at + length + 6))
            at += length + gap
    rules = LineRules(longest_read=100, no_read=tuple(barred))
    return RegisterMap(id="gappy", title="", maker="", model="", source="invented", line=rules, readings=made)


def inverter_of(register_map: RegisterMap) -> Inverter:
    """An inverter that plans its polls and is never asked anything."""
    line = Line(Gateway(Endpoint(framing=Framing.TCP, host="127.0.0.1", port=1)), unit=1)
    return Inverter(register_map, line, UTC)


def planned(register_map: RegisterMap, rates: frozenset[Poll]) -> tuple[Batch, ...]:
    """The reads of a poll for which every entity is enabled."""
    keys = {*register_map.readings, *register_map.controls}
    keys |= {SCHEDULE} if register_map.schedule else set()
    keys |= {CLOCK} if register_map.clock else set()
    inverter = inverter_of(register_map)
    return inverter.reader._plan(keys, rates).batches


def needed(register_map: RegisterMap, rates: frozenset[Poll]) -> list[tuple[Table, Stretch]]:
    """Every place that holds a value of such a poll, each once: what one request per point would read."""
    values: list[Reading | Control] = [*register_map.readings.values(), *register_map.controls.values()]
    found: list[Sequence[Address]] = [group for value in values if value.poll in rates for group in value.point.groups]
    if register_map.clock and register_map.clock.poll in rates:
        found += register_map.clock.point.groups
    if register_map.schedule and register_map.schedule.poll in rates:
        found += register_map.schedule.groups
    return sorted({(addresses[0][0], (addresses[0][1], addresses[-1][1])) for addresses in found})


def by_table(register_map: RegisterMap, rates: frozenset[Poll], **bus: float) -> list[tuple[list[Stretch], Bus]]:
    """The places of each table, and the bus with what is barred in it."""
    rules = register_map.line
    places = needed(register_map, rates)
    return [
        (
            [place for own, place in places if own is table],
            Bus(
                baud=int(bus.get("baud", 9600)),
                turnaround=bus.get("turnaround", 0.03) + rules.pause_ms / 1000,
                longest=rules.longest_read,
                barred=tuple((span.first, span.last) for span in rules.no_read if span.table is table),
            ),
        )
        for table in Table
    ]


def compare(name: str, register_map: RegisterMap, rates: frozenset[Poll]) -> list[list[str | int | float]]:
    """A poll's time at 9600 baud and 30 ms turnaround beside the optimum, the naive way and the bound."""
    tables = by_table(register_map, rates)
    bus = tables[0][1]
    reads = planned(register_map, rates)
    optimum = sum(least(places, bus) for places, bus in tables)
    brute = [(least_of_all(places, bus), least(places, bus)) for places, bus in tables if places]
    naive = sum(bus.seconds(last - first + 1) for places, bus in tables for first, last in places)
    below = sum(bound(places, bus) for places, bus in tables)
    taken = sum(bus.seconds(read.count) for read in reads)
    points = sum(len(places) for places, _ in tables)
    tried = [f"{by_trying:.3f} for {by_steps:.3f}" for by_trying, by_steps in brute if by_trying is not None]
    checked = ", ".join(tried) or "too many ways"
    return [
        [name, "Chargehand", len(reads), taken, taken / optimum],
        ["", f"optimum (a table's, by trying all ways: {checked})", "", optimum, 1.0],
        ["", "one request per point", points, naive, naive / optimum],
        ["", "bound: needed registers only, fewest requests", "", below, below / optimum],
    ]


def elsewhere(name: str, register_map: RegisterMap, rates: frozenset[Poll]) -> list[list[str | int | float]]:
    """The same reads on other lines than the usual one: what planning for 9600 baud and 30 ms costs there."""
    reads = planned(register_map, rates)
    rows: list[list[str | int | float]] = []
    for baud in (9600, 19200, 115200):
        for turnaround in (0.01, 0.03, 0.1):
            tables = by_table(register_map, rates, baud=baud, turnaround=turnaround)
            taken = sum(tables[0][1].seconds(read.count) for read in reads)
            optimum = sum(least(places, bus) for places, bus in tables)
            rows.append([name, baud, round(turnaround * 1000), taken, optimum, taken / optimum])
    return rows


def main() -> None:
    """Print both tables."""
    teasel, gappy = load_map(TEASEL), gappy_map()
    polls = (
        ("Teasel, fast poll", teasel, frozenset({Poll.FAST})),
        ("Teasel, slow poll", teasel, FULL),
        ("200 readings with gaps", gappy, FULL),
    )
    show(
        "Time on the line at 9600 baud, 30 ms turnaround",
        ("poll", "way", "requests", "s on the line", "to optimum"),
        [row for poll in polls for row in compare(*poll)],
    )
    show(
        "The same reads on other lines",
        ("poll", "baud", "turnaround ms", "Chargehand s", "optimum s", "ratio"),
        [row for poll in polls for row in elsewhere(*poll)],
    )


if __name__ == "__main__":
    main()
