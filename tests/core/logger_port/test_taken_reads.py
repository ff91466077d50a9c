"""Polls that take what the data logger has just read: how old values are, what they are made of, and what the line has to carry.

A simulated logger and polls run on a clock that jumps. The inverter's registers show the time, so each value says when it was read.
"""

import asyncio
import struct
from collections.abc import Coroutine, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, combinations, product
from types import SimpleNamespace

import pytest

from custom_components.chargehand.core.inverter import Inverter
from custom_components.chargehand.core.inverter.reads_of_others import Linked, share
from custom_components.chargehand.core.logger_port import LoggerGate, PortRules
from custom_components.chargehand.core.modbus import Line, Refused
from custom_components.chargehand.core.modbus.gateway import Answer
from custom_components.chargehand.core.modbus.passed_request import PassedRequest, PassedResponse
from custom_components.chargehand.core.registers import Batch, LineRules, Point, Poll, Reading, RegisterMap, Table
from tests.core.schedule.quick_inverter import LONDON
from tests.simulation.loop import SimulatedLoop

EVERY_S, FRESH_S, ALLOWED_S = 5.0, 2.0, 1.0
"""Time between polls, the owner's `fresh_seconds`, and a fifth of the time between polls."""

UNTIL_S = 31.0
MISSING_FROM = 1000
"""The first register that the inverter does not have."""

TICK_S = 0.01
"""What a register counts."""


def line_seconds(count: int) -> float:
    """A read at 9600 baud with 30 ms to turn around: 8 + 5 characters and 2 a register, 11 bits each (Modbus over Serial Line V1.02, 2.5.1)."""
    return (8 + 5 + 2 * count + 2 * 3.5) * 11 / 9600 + 0.03


class TimeGateway:
    """An inverter whose registers show the time. What it is asked takes no time, or as long as on the line."""

    def __init__(self, *, takes_time: bool) -> None:
        self.endpoint = SimpleNamespace(baud=9600)
        self.seconds = 0.0
        self.own_seconds = 0.0
        """Of these, those of Chargehand's own reads."""

        self._takes_time = takes_time
        self._turn = asyncio.Lock()

    async def request(self, request: object, **_options: object) -> Answer:
        loop = asyncio.get_running_loop()
        async with self._turn:
            sent, count = loop.time(), getattr(request, "count", 0)
            self.seconds += line_seconds(count)
            if self._takes_time:
                await asyncio.sleep(line_seconds(count))
        if getattr(request, "address", 0) + count > MISSING_FROM:
            raise Refused(2)
        registers = [int(sent / TICK_S) % 0x10000] * count
        response: object
        if not isinstance(request, PassedRequest):
            self.own_seconds += line_seconds(count)
            response = SimpleNamespace(function_code=request.function_code, registers=registers)  # type: ignore[attr-defined]
        elif request.is_read:
            response = PassedResponse(bytes((request.function_code, 2 * count)) + struct.pack(f">{count}H", *registers))
        else:
            response = PassedResponse(request.pdu)
        return Answer(response, line_seconds(count), 0, sent)  # type: ignore[arg-type]


def reading(
    key: str, first: int, type_: str = "u16", *, words: tuple[int, ...] = (), poll: Poll = Poll.FAST
) -> Reading:
    length = 2 if type_ == "u32" else 1
    return Reading(
        key=key, point=Point(table=Table.INPUT, first=first, type=type_, length=length, words=words), poll=poll
    )


def halves(high: int, low: int) -> Reading:
    """As flags: a number that jumps would not be believed at once."""
    far = reading(f"halves_{high}", high, "u32", words=(high, low))
    return replace(far, flags={bit: str(bit) for bit in range(32)})


def map_of(readings: Sequence[Reading]) -> RegisterMap:
    return RegisterMap(
        id="shown",
        title="Shown",
        maker="Nobody",
        model="Nothing",
        source="invented for this test",
        line=LineRules(),
        readings={one.key: one for one in readings},
    )


LAYOUTS: dict[str, tuple[Reading, ...]] = {
    "a row, and far from it another": (*(reading(f"r{at}", at) for at in (0, 2, 4)), reading("far", 60), reading("far_32", 62, "u32")),
    "values that share a register": (reading("one", 8, "u32"), reading("next", 9, "u32"), reading("apart", 40), reading("last", 70)),
    "halves far from each other": (halves(2, 30), reading("between", 12), reading("last", 70, "u32")),
    "halves between others": (halves(2, 30), halves(28, 90), halves(33, 92)),
    "all in one read": (reading("one", 0), reading("two", 14), reading("three", 28)),
    "fast and slow": (reading("fast", 1), reading("slow", 6, poll=Poll.SLOW), reading("slow_far", 45, "u32", poll=Poll.SLOW)),
}  # fmt: skip

BLOCKS: dict[str, tuple[tuple[int, int], ...]] = {
    "the beginning": ((0, 10),),
    "torn": ((0, 9),),
    "half": ((0, 50),),
    "all": ((0, 80),),
    "the middle": ((5, 45),),
    "the end": ((60, 4), (70, 2)),
    "in a gap": ((13, 3),),
    "at an end": ((28, 1),),
    "small ones": ((0, 3), (3, 3), (8, 3), (40, 2)),
    "beginning and end": ((0, 35), (55, 20)),
}


@dataclass(slots=True)
class Course:
    """What came of one run."""

    values: list[tuple[float, float, dict[str, object]]] = field(default_factory=list)
    """Of each poll: when it began, when the last write had ended, what it brought."""

    seconds: float = 0.0
    own_seconds: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Case:
    """A map, and what the logger does."""

    readings: tuple[Reading, ...]
    blocks: tuple[tuple[int, int], ...]
    every: float
    phase: float
    writes_every: float | None = None
    silent_after: float = UNTIL_S
    takes_time: bool = False

    def run(self, *, learns: bool) -> Course:
        """Let the logger and the polls run."""
        with asyncio.Runner(loop_factory=SimulatedLoop) as runner:
            return runner.run(self._run(EVERY_S if learns else 0.0))

    async def _run(self, poll_seconds: float) -> Course:
        gateway, course = TimeGateway(takes_time=self.takes_time), Course()
        register_map = map_of(self.readings)
        inverter = Inverter(register_map, Line(gateway, unit=1), LONDON)  # type: ignore[arg-type]
        rules = PortRules(port=0, hosts=frozenset(), fresh_seconds=FRESH_S, poll_seconds=poll_seconds)
        gate, loop = LoggerGate(inverter, rules), asyncio.get_running_loop()
        wrote = [-1.0]

        async def ask(number: int) -> None:
            first, count = self.blocks[number]
            due = self.phase + 0.03 * number
            while due < self.silent_after:
                await asyncio.sleep(due - loop.time())
                answer = await gate.answer(struct.pack(">BHH", 4, first, count))
                assert len(answer or b"") == 2 + 2 * count
                due += self.every

        async def write() -> None:
            due = 0.31
            while self.writes_every is not None and due < UNTIL_S:
                await asyncio.sleep(due - loop.time())
                await gate.answer(struct.pack(">BHH", 6, 500, 1))
                wrote[0] = loop.time()
                due += self.writes_every

        async def poll() -> None:
            for number in range(int(UNTIL_S / EVERY_S)):
                await asyncio.sleep(number * EVERY_S + 0.5 - loop.time())
                began, ended = loop.time(), wrote[0]
                rates = {Poll.FAST} if number % 3 else {Poll.FAST, Poll.SLOW}
                polled = await inverter.reader.poll(register_map.readings, rates)
                assert (polled.failure, polled.missed) == (None, set())
                course.values.append((began, ended, {key: polled.values[key] for key in polled.keys}))

        work: list[Coroutine[object, object, None]] = [poll(), write(), *map(ask, range(len(self.blocks)))]
        await asyncio.gather(*work)
        course.seconds, course.own_seconds = gateway.seconds, gateway.own_seconds
        return course


def cases(**same: object) -> Iterator[Case]:
    every = product(LAYOUTS.values(), BLOCKS.values(), (1.0, 2.6, 5.0), (0.04, 0.33, 0.77))
    for readings, blocks, often, phase in every:
        yield Case(readings=readings, blocks=blocks, every=often, phase=phase, **same)  # type: ignore[arg-type]


def check_values(case: Case, course: Course) -> None:
    """Each value is new enough, later than the last write, and whole."""
    for began, wrote, values in course.values:
        for key, shown in values.items():
            value = sum(1 << int(bit) for bit in shown) if isinstance(shown, tuple) else shown
            assert isinstance(value, int), (case, key)
            high, low = divmod(value, 0x10000)
            if not case.takes_time and high:
                assert high == low, f"{case}: halves of two moments"
            at = (low + 1) * TICK_S
            assert at > began - ALLOWED_S, f"{case}: {key} is {began - at:.2f} s old"
            assert at > wrote, f"{case}: {key} is from before a write"


def test_values_are_new_whole_and_cost_the_line_no_more_than_without() -> None:
    saved = own_saved = 0.0
    for case in cases():
        without, course = case.run(learns=False), case.run(learns=True)
        check_values(case, course)
        assert course.seconds <= without.seconds + 1e-9, case
        assert course.own_seconds <= without.own_seconds + 1e-9, case
        saved += without.seconds - course.seconds
        own_saved += without.own_seconds - course.own_seconds
    assert min(saved, own_saved) > 10, "where it can be saved, it is"


@pytest.mark.parametrize("takes_time", [False, True])
def test_after_a_write_and_on_a_slow_line_values_are_as_new(*, takes_time: bool) -> None:
    for case in cases(writes_every=1.7, takes_time=takes_time):
        check_values(case, case.run(learns=True))


def test_when_the_logger_falls_silent_the_next_poll_reads_everything_itself() -> None:
    for case in cases(silent_after=12.0):
        without, course = case.run(learns=False), case.run(learns=True)
        check_values(case, course)
        assert [sorted(values) for *_, values in course.values] == [sorted(values) for *_, values in without.values]
        assert [values for *_, values in course.values[3:]] == [values for *_, values in without.values[3:]]


def test_a_poll_that_takes_all_that_there_is_does_not_fail_by_what_the_inverter_does_not_have() -> None:
    async def polls() -> None:
        gateway, register_map = TimeGateway(takes_time=False), map_of([reading("there", 3), reading("missing", 1200)])
        inverter = Inverter(register_map, Line(gateway, unit=1), LONDON)  # type: ignore[arg-type]
        gate = LoggerGate(inverter, PortRules(port=0, hosts=frozenset(), fresh_seconds=FRESH_S, poll_seconds=EVERY_S))
        for _ in range(2):
            polled = await inverter.reader.poll(register_map.readings, {Poll.FAST})
            assert (polled.missed, polled.values["there"]) == (
                {"missing"},
                int(asyncio.get_running_loop().time() / TICK_S),
            )
            await asyncio.sleep(EVERY_S)
            before = gateway.own_seconds
            await gate.answer(struct.pack(">BHH", 4, 0, 10))
        polled = await inverter.reader.poll(register_map.readings, {Poll.FAST})
        assert (polled.missed, gateway.own_seconds) == ({"missing"}, before)

    with asyncio.Runner(loop_factory=SimulatedLoop) as runner:
        runner.run(polls())


@dataclass(frozen=True, slots=True)
class Others:
    """What another client reads."""

    reads: Sequence[Batch]

    def lately(self) -> dict[Batch, tuple[int, ...]]:
        return {read: (7,) * read.count for read in self.reads}

    def asked(self) -> Sequence[Batch]:
        return self.reads


def ways(registers: Sequence[int]) -> Iterator[tuple[Batch, ...]]:
    """All sensible sets of reads for single registers: cut between them everywhere or not."""
    if not registers:
        yield ()
        return
    for cuts in product((False, True), repeat=len(registers) - 1):
        starts = [registers[0], *(at for at, cut in zip(registers[1:], cuts, strict=True) if cut)]
        ends = [*(at for at, cut in zip(registers, cuts, strict=False) if cut), registers[-1]]
        yield tuple(Batch(Table.INPUT, first, last - first + 1) for first, last in zip(starts, ends, strict=True))


def total(reads: Sequence[Batch]) -> float:
    return sum(line_seconds(read.count) for read in reads)


def cheapest(registers: Sequence[int]) -> tuple[Batch, ...]:
    return min(ways(registers), key=total)


REGISTERS = (0, 4, 30, 34, 64)


@pytest.mark.parametrize("reads", [*chain(*(combinations([(0, 3), (0, 5), (4, 27), (28, 10), (33, 40), (50, 20)], n) for n in (1, 2)))])  # fmt: skip
def test_the_reads_that_are_left_are_the_cheapest(reads: tuple[tuple[int, int], ...]) -> None:
    """Where the logger loses nothing by it, no set of reads for what it did not read is cheaper: all of them are tried."""
    batches = [Batch(Table.INPUT, first, count) for first, count in reads]
    known = {at for first, count in reads for at in range(first, first + count)}
    if sum(count for _, count in reads) != len(known):
        return
    takeable = [Linked(frozenset({str(at)}), frozenset({(Table.INPUT, at)})) for at in REGISTERS]

    def without(keys: frozenset[str]) -> tuple[Batch, ...]:
        return cheapest([at for at in REGISTERS if str(at) not in keys])

    usual = cheapest(REGISTERS)
    chosen = share(usual, takeable, Others(batches), without=without, seconds=lambda some: total(list(some)))
    brought = {at for read in chosen.batches for at in range(read.first, read.first + read.count)}
    assert brought.isdisjoint(at for _, at in chosen.taken), "what is read anyway is not taken"
    assert {*REGISTERS} <= brought | {at for _, at in chosen.taken}
    assert total(chosen.batches) <= total(usual)
    answered = [read for read in batches if {*range(read.first, read.first + read.count)} <= {at for one in usual for at in range(one.first, one.first + one.count)}]  # fmt: skip
    if not answered:
        assert total(chosen.batches) == pytest.approx(total(cheapest([at for at in REGISTERS if at not in known])))
