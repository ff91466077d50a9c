"""What is concluded from a read that is refused, and what is not."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

import pytest

from custom_components.chargehand.core.inverter.change_state import ChangeState
from custom_components.chargehand.core.inverter.holes import PointsRefused
from custom_components.chargehand.core.inverter.polling import Polled
from custom_components.chargehand.core.inverter.reader import InverterReader
from custom_components.chargehand.core.modbus import LineError, NoAnswer, Refused
from custom_components.chargehand.core.registers import LineRules, Point, Poll, Reading, RegisterMap, Span, Table

from .memory_line import MemoryLine, Sent

INPUT = Table.INPUT
ROW = (0, 5, 10, 15)
"""Registers near enough for one read."""


def span(first: int, last: int) -> Span:
    return Span(table=INPUT, first=first, last=last)


def map_of(*registers: int, **rules: object) -> RegisterMap:
    return RegisterMap(
        id="row",
        title="Row",
        maker="Nobody",
        model="Nothing",
        source="invented for this test",
        line=LineRules(**rules),  # type: ignore[arg-type]
        readings={f"at_{at}": Reading(key=f"at_{at}", point=Point(table=INPUT, first=at)) for at in registers},
    )


def there(*missing: int) -> Mapping[tuple[str, int], int]:
    return {("input", at): 1000 + at for at in range(200) if at not in missing}


@dataclass
class Subject:
    """A reader on a line in memory, at a time of the test's own."""

    line: MemoryLine
    register_map: RegisterMap = field(default_factory=lambda: map_of(*ROW))
    now: datetime = datetime(2026, 1, 10, 12, tzinfo=UTC)

    def __post_init__(self) -> None:
        self.reader = InverterReader(self.register_map, self.line, UTC, lambda: self.now, ChangeState())  # type: ignore[arg-type]
        self.holes = self.reader.reads.holes

    async def poll(self) -> Polled:
        return await self.reader.poll(self.register_map.readings.keys(), {Poll.FAST})

    def sent(self) -> list[tuple[int, int, bool]]:
        return [(read.first, read.count, read.answered) for read in self.line.take_sent()]


def once(matching: Callable[[Sent], bool], failure: LineError) -> Callable[[Sent], LineError | None]:
    """Fail the first read that matches."""
    waiting = [failure]
    return lambda sent: waiting.pop() if waiting and matching(sent) else None


async def test_a_hole_is_found_in_the_poll_that_meets_it_and_left_out_from_then_on() -> None:
    subject = Subject(MemoryLine(there(7)))
    polled = await subject.poll()
    assert dict(polled.values) == {f"at_{at}": 1000 + at for at in ROW}
    assert (polled.missed, polled.failure) == (set(), None)
    # The halves, and then just across what is between them.
    assert subject.sent() == [(0, 16, False), (0, 6, True), (10, 6, True), (5, 6, False)]
    await subject.poll()
    assert subject.sent() == [(0, 6, True), (10, 6, True)]
    assert subject.holes.unlisted == (span(6, 9),)


@pytest.mark.parametrize("code", [1, 4, 8, 10])
async def test_other_refusals_are_no_reason_to_split(code: int) -> None:
    subject = Subject(MemoryLine(there(), fails=lambda _sent: Refused(code)))
    with pytest.raises(Refused):
        await subject.poll()
    assert len(subject.sent()) == 1
    assert subject.holes.version == 0


@pytest.mark.parametrize("failure", [NoAnswer("silent"), Refused(6), Refused(5), Refused(11), Refused(4)])
@pytest.mark.parametrize("at", [1, 2, 3])
async def test_a_busy_or_silent_inverter_is_taken_for_no_hole(failure: LineError, at: int) -> None:
    line = MemoryLine(there(7))
    subject = Subject(line)
    line.fails = once(lambda _sent: len(line.sent) == at, failure)
    if at == 1:
        with pytest.raises(type(failure)):
            await subject.poll()
    else:
        polled = await subject.poll()
        assert polled.failure is failure
        assert dict(polled.values).items() <= {f"at_{at}": 1000 + at for at in ROW}.items()
        assert polled.missed == {f"at_{at}" for at in ROW} - polled.values.keys()
    assert subject.holes.version == 0
    # It is found at the next poll, with nothing beside it.
    assert len((await subject.poll()).values) == len(ROW)
    assert subject.holes.unlisted == (span(6, 9),)


@pytest.mark.parametrize("row", [(0, 5), (0, 5, 10), ROW])
async def test_a_refusal_that_does_not_come_again_is_forgotten(row: tuple[int, ...]) -> None:
    subject = Subject(MemoryLine(there(), fails=once(lambda _sent: True, Refused(2))), map_of(*row))
    assert len((await subject.poll()).values) == len(row)
    sent = subject.sent()
    assert len(sent) == len({(first, count) for first, count, _ in sent}) + 1, "only what was refused is sent again"
    await subject.poll()
    assert subject.sent() == [(0, row[-1] + 1, True)]
    assert subject.holes.version == 0


@pytest.mark.parametrize("whole_first", [True, False])
async def test_values_are_those_of_the_last_read_whether_it_came_whole_or_in_parts(whole_first: bool) -> None:
    """A read that is refused by turns, and what is found at it is never certain."""
    line = MemoryLine(there())
    subject = Subject(line)
    for number in range(6):
        line.memory = {register: value + number % 2 for register, value in there().items()}
        if (number % 2 == 0) is not whole_first:
            refusals = [NoAnswer("silent"), Refused(2)]
            # Whole: refused. Then a half that comes, and one that does not.
            line.fails = lambda sent, left=refusals: left.pop() if sent.count == 16 or sent.first == 10 else None  # type: ignore[misc]
        else:
            line.fails = lambda _sent: None
        polled = await subject.poll()
        assert all(polled.values[key] == 1000 + int(key[3:]) + number % 2 for key in polled.values)
        assert {"at_0", "at_5"} <= polled.values.keys()
    assert subject.holes.version == 0


async def test_an_inverter_that_answers_shorter_reads_only_gets_shorter_reads() -> None:
    subject = Subject(MemoryLine(there(), code=3, longest=12), map_of(*range(0, 48, 2)))
    assert len((await subject.poll()).values) == 24
    longest = subject.holes.longest_read
    assert longest is not None
    assert longest <= 12
    assert subject.holes.unlisted == ()
    subject.line.take_sent()
    await subject.poll()
    assert all(answered for _, _, answered in subject.sent())


async def test_a_longest_read_is_never_shorter_than_a_value() -> None:
    register_map = map_of(*range(16))
    long = Reading(key="long", point=Point(table=INPUT, first=16, length=8, type="text"))
    readings = {**register_map.readings, "long": long}
    subject = Subject(MemoryLine(there(), code=3, longest=5), replace(register_map, readings=readings))
    assert (await subject.poll()).missed == {"long"}
    # When it is asked for again, it is sent as it has to be.
    subject.now += timedelta(hours=1)
    assert (await subject.poll()).missed == {"long"}


async def test_a_point_that_is_refused_is_named_and_asked_for_at_growing_intervals_until_it_comes() -> None:
    line = MemoryLine(there(10))
    subject = Subject(line, map_of(*ROW, numbering="from_1"))
    polled = await subject.poll()
    assert polled.missed == {"at_10"}
    assert isinstance(polled.failure, PointsRefused)
    assert polled.failure.registers == "input 11", "as the map counts"
    assert dict(subject.holes.keys) == {"at_10": {span(10, 10)}}
    line.take_sent()
    asked = []
    for second in range(1, 3 * 3600):
        subject.now += timedelta(seconds=1)
        assert len((await subject.poll()).values) == len(ROW) - 1
        if any(read.first == 10 and read.count == 1 for read in line.take_sent()):
            asked.append(second)
    # 10 s, doubled up to an hour, from each refusal on.
    assert asked == [10, 30, 70, 150, 310, 630, 1270, 2550, 5110, 8710]
    line.memory = there()
    subject.now += timedelta(hours=1)
    assert len((await subject.poll()).values) == len(ROW)
    line.take_sent()
    await subject.poll()
    assert subject.sent() == [(0, 16, True)]
    assert dict(subject.holes.keys) == {}


async def test_an_inverter_that_refuses_everything_is_asked_for_nothing_until_it_is_time() -> None:
    subject = Subject(MemoryLine({}))
    for _ in range(2):
        with pytest.raises(PointsRefused):
            await subject.poll()
    # Each register alone, and what led there.
    assert len(subject.sent()) == 7
    subject.line.memory = there()
    subject.now += timedelta(seconds=10)
    assert len((await subject.poll()).values) == len(ROW)


async def test_what_is_read_for_a_change_is_asked_for_whatever_was_refused_before() -> None:
    line = MemoryLine(there(10))
    subject = Subject(line)
    await subject.poll()
    groups = [((INPUT, at),) for at in ROW]
    with pytest.raises(PointsRefused, match="02"):
        await subject.reader.reads.read_groups(groups, urgent=True)
    line.memory = there()
    raw = await subject.reader.reads.read_groups(groups, urgent=True)
    assert {raw[INPUT, at] for at in ROW} == {1000 + at for at in ROW}


async def test_registers_that_the_map_names_are_not_proposed_for_no_read() -> None:
    # The poll asks for two of three readings; the hole lies at the third or beside it.
    subject = Subject(MemoryLine(there(8)), map_of(0, 8, 16))
    await subject.reader.poll({"at_0", "at_16"}, {Poll.FAST})
    assert subject.holes.unlisted == (span(1, 7), span(9, 15))
    polled = await subject.poll()
    assert polled.missed == {"at_8"}
    assert (polled.values["at_0"], polled.values["at_16"]) == (1000, 1016)
    assert subject.holes.unlisted == (), "the reading explains it"
    subject.line.take_sent()
    assert (await subject.reader.poll({"at_0", "at_16"}, {Poll.FAST})).failure is None
    assert all(answered for _, _, answered in subject.sent())
