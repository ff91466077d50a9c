"""Many random maps on inverters with holes, against an oracle that knows which registers exist and tries everything."""

import asyncio
import random
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

import pytest

from custom_components.chargehand.core.inverter.change_state import ChangeState
from custom_components.chargehand.core.inverter.polling import Polled
from custom_components.chargehand.core.inverter.reader import InverterReader
from custom_components.chargehand.core.modbus import LineError
from custom_components.chargehand.core.registers import LineRules, Point, Poll, Reading, RegisterMap, Table

from .memory_line import MemoryLine, Register, Sent

NOON = datetime(2026, 1, 10, 12, tzinfo=UTC)
TYPES = {1: "u16", 2: "u32", 4: "u64"}


@dataclass(frozen=True, slots=True)
class Value:
    """A reading of a random map: its table, first register and length."""

    table: Table
    first: int
    length: int

    @property
    def registers(self) -> list[Register]:
        return [(str(self.table), self.first + index) for index in range(self.length)]


@dataclass(frozen=True, slots=True)
class House:
    """A random map, and the memory of an inverter that does not have all of its registers."""

    values: dict[str, Value]
    memory: dict[Register, int]
    longest: int = 125

    @property
    def register_map(self) -> RegisterMap:
        points = {
            key: Point(table=value.table, first=value.first, type=TYPES[value.length], length=value.length)
            for key, value in self.values.items()
        }
        return RegisterMap(
            id="random",
            title="Random",
            maker="Nobody",
            model="Nothing",
            source="invented for this test",
            line=LineRules(longest_read=self.longest),
            readings={key: Reading(key=key, point=point) for key, point in points.items()},
        )

    def expected(self) -> dict[str, int]:
        """What can be read at all, by the bytes of the registers, high word first."""
        return {
            key: int.from_bytes(b"".join(self.memory[register].to_bytes(2) for register in value.registers))
            for key, value in self.values.items()
            if all(register in self.memory for register in value.registers)
        }


def random_house(seed: int) -> House:
    """Up to nine values in two tables, some of which overlap; up to five stretches that do not exist, between them or in them."""
    chance = random.Random(seed)
    values: dict[str, Value] = {}
    after = chance.randint(0, 20)
    for number in range(chance.randint(1, 9)):
        first = max(
            after + chance.choice([0, 0, chance.randint(-3, 3), chance.randint(1, 22), chance.randint(1, 60)]), 0
        )
        length = chance.choice([1, 1, 2, 4])
        table = Table.INPUT if chance.random() < 0.85 else Table.HOLDING
        values[f"v{number}"] = Value(table, first, length)
        after = first + length
    memory = {(str(table), address): chance.randrange(0x10000) for table in Table for address in range(after + 10)}
    for _ in range(chance.choice([0, 1, 1, 1, 2, 3, 5])):
        first = chance.randrange(after)
        for address in range(first, first + chance.choice([1, 1, 2, 8])):
            for table in Table if chance.random() < 0.5 else (Table.INPUT,):
                memory.pop((str(table), address), None)
    return House(values, memory, longest=chance.choice([125, 125, chance.randint(4, 40)]))


def reader_of(house: House, line: MemoryLine) -> InverterReader:
    return InverterReader(house.register_map, line, UTC, lambda: NOON, ChangeState())  # type: ignore[arg-type]


async def poll(reader: InverterReader, keys: Collection[str]) -> Polled | LineError:
    try:
        return await reader.poll(keys, {Poll.FAST})
    except LineError as failure:
        return failure


def got(polled: Polled | LineError) -> dict[str, object]:
    return {} if isinstance(polled, LineError) else dict(polled.values)


def cost(reads: Sequence[Sent]) -> float:
    # Modbus over Serial Line V1.02, 2.5.1, as worked out in test_batches.py: 20 characters and 30 ms a read, 2 a register.
    return sum((20 + 2 * read.count) * 11 / 9600 + 0.03 for read in reads)


def cuts(values: Sequence[tuple[int, int]]) -> Iterator[list[Sequence[tuple[int, int]]]]:
    for pattern in range(1 << max(len(values) - 1, 0)):
        edges = [0, *(index + 1 for index in range(len(values) - 1) if pattern >> index & 1), len(values)]
        yield [values[begin:end] for begin, end in pairwise(edges)]


def cheapest(house: House, table: Table) -> float:
    """The least time in which everything that exists can be read, by trying every set of reads and every register of each."""
    there = house.expected()
    values = sorted(
        (v.first, v.first + v.length) for key, v in house.values.items() if key in there and v.table is table
    )
    best = float("inf") if values else 0.0
    for parts in cuts(values) if values else ():
        reads = [
            Sent(str(table), part[0][0], max(end for _, end in part) - part[0][0], answered=True) for part in parts
        ]
        if all(read.count <= max(house.longest, 4) and read.registers <= house.memory.keys() for read in reads):
            best = min(best, cost(reads))
    return best


@pytest.mark.parametrize("block", range(10))
def test_everything_that_exists_is_read_at_once_and_nothing_else_is_asked_for_twice(block: int) -> None:
    refused = 0
    for seed in range(block * 300, block * 300 + 300):
        refused += asyncio.run(_one_house(seed))
    # A sweep without holes would show nothing.
    assert refused > 100


async def _one_house(seed: int) -> bool:
    house = random_house(seed)
    line = MemoryLine(house.memory, code=2 + seed % 2)
    reader = reader_of(house, line)
    expected = house.expected()
    first = await poll(reader, house.values)
    sent_first = line.take_sent()
    assert got(first) == expected, seed
    if not isinstance(first, LineError):
        assert first.missed == house.values.keys() - expected.keys(), seed
        assert (first.failure is None) == (first.missed == set()), seed
    assert len(sent_first) <= 4 * len(house.values), f"{seed}: at most three more for each span"
    for index, read in enumerate(sent_first):
        known = [one for one in sent_first[:index] if not one.answered and one.registers <= read.registers]
        # One refusal alone proves nothing: a read of just two values is sent a second time.
        assert len(known) <= (known[:1] == [read]), f"{seed}: its answer was known from an earlier one"
    sent_later: list[Sent] = []
    for _ in range(3):
        assert got(await poll(reader, house.values)) == expected, seed
        sent_later += line.take_sent()
    missing = {register for read in sent_first for register in read.registers} - house.memory.keys()
    assert not [read for read in sent_later if read.registers & missing], f"{seed}: asked for again"
    if house.longest == 125:
        assert all(read.answered for read in sent_later), seed
        least = sum(cheapest(house, table) for table in Table)
        assert cost(sent_later) == pytest.approx(3 * least), f"{seed}: reads more than it has to"
    return not all(read.answered for read in sent_first)
