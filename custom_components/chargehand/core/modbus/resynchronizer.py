"""Keeping requests and answers in step where only their order tells which answer belongs to which request.

An answer that is missing may still come, and must not be taken for a later request's. It can be held up in two places:

- on the gateway's way back to us. It then belongs to the connection that it was asked by, and ends with it: the gateway drops the
  connection after a missing answer.
- on the serial line. There, answers come in the order of their requests: once a later request is answered, nothing older comes.

An answer to a read tells its function and how many registers it brings, one to a write its function and addresses (Modbus Application
Protocol V1.1b3, 6). A request whose answer cannot look like a missing one is asked at once, and its own answer says that nothing older
comes. Before one whose answer could, the unit is asked something else: a read that it has answered before, or the beginning of one, whose
answer looks like none that is missing. There are as many of these as its longest read has registers; once all are missing, the one that
has been missing longest is asked again. An exception looks like any other of its function: while one of that function may be late, it
answers nothing.

Some gateways send an answer twice. One that comes again before the next request is sent is dropped; one that comes in front of an answer
that looks otherwise is passed over. In front of one that looks the same, nothing tells it from that: frames have no ids, and registers may
hold what they held. So where an answer must not be an earlier one, and the last answer of the unit looks like it, the unit is asked something
else first, as above: behind its answer the earlier one does not come again.

Where there is nothing else to ask (all that was ever answered is one register), nothing must have been heard for a whole time-out by a
new connection; an answer that is later than that would be taken for the next one's.
"""

import asyncio
import secrets
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from pymodbus.pdu import ModbusPDU

from .errors import NoAnswer, Refused
from .frame_decoder import FrameDecoder
from .requests import READS_BY_FUNCTION

FORGOTTEN = {True: 100, False: 10}
"""Time-outs after which a missing answer is given up whatever is heard: of a unit that has answered a read, and of one that has not.

It keeps an exchanged inverter, or one beside a second master that is never quiet, from being shut out for good.
"""


class Question(NamedTuple):
    """What is asked: function, first address, number of registers."""

    function: int
    first: int
    length: int

    @property
    def looks(self) -> tuple[int, ...]:
        """What its answer looks like: the same for two questions that one answer could be to."""
        return (self.function, self.length) if self.function in READS_BY_FUNCTION else self

    @classmethod
    def of(cls, request: ModbusPDU) -> Question:
        """What a request asks."""
        return cls(request.function_code, request.address, request.count)

    def to(self, unit: int) -> ModbusPDU:
        """The request that asks it; of a read only."""
        return READS_BY_FUNCTION[self.function](address=self.first, count=self.length, dev_id=unit)


type Transact = Callable[[ModbusPDU], Awaitable[object]]


@dataclass(slots=True)
class _Unit:
    """What may still come from one unit, and what it has answered."""

    pending: dict[tuple[int, ...], float] = field(default_factory=dict)
    """How the missing answers look, and when such a one was missed last, on the event loop's clock."""

    functions: set[int] = field(default_factory=set)
    """Their functions."""

    since: float = 0.0
    """When the first of them did not come."""

    answered: dict[tuple[int, ...], Question] = field(default_factory=dict)
    """Reads that it has answered, one of each look."""

    def nothing_owed(self) -> None:
        """Whatever was missing cannot come any more."""
        self.pending.clear()
        self.functions.clear()


class Resynchronizer:
    """Which answers of which units may still come."""

    def __init__(self) -> None:
        """Begin in step."""
        self._units: dict[int, _Unit] = {}
        self._last: tuple[int, tuple[int, ...]] = (0, ())
        """Unit and look of the last answer; of an exception its function alone."""

    def missing(self, request: ModbusPDU) -> None:
        """The answer to a request did not come."""
        known, question = self._units.setdefault(request.dev_id, _Unit()), Question.of(request)
        now = asyncio.get_running_loop().time()
        if not known.pending:
            known.since = now
        known.pending[question.looks] = now
        known.functions.add(question.function)

    def answered(self, request: ModbusPDU, *, refused: bool) -> None:
        """An answer came that can only be to this request: nothing older comes after it."""
        known, question = self._units.setdefault(request.dev_id, _Unit()), Question.of(request)
        if known.pending:
            known.nothing_owed()
        self._last = (request.dev_id, (question.function,) if refused else question.looks)
        # A read that was refused will be refused again, and a refusal that comes twice is taken for the answer to any read.
        if not refused and question.function in READS_BY_FUNCTION and question.looks not in known.answered:
            known.answered[question.looks] = question

    def may_be_older(self, request: ModbusPDU) -> bool:
        """Whether an exception that comes now may be the answer to an earlier request of the same function."""
        known = self._units.get(request.dev_id)
        return known is not None and request.function_code in known.functions

    def keeps(self, request: ModbusPDU, decoder: FrameDecoder) -> bool:
        """Whether the request can be sent at once: its answer tells itself by its id, or looks like none that is missing."""
        known = self._units.get(request.dev_id)
        if known is None or not known.pending:
            return True
        if decoder.by_id:
            known.nothing_owed()
        return Question.of(request).looks not in known.pending

    def may_be_the_last(self, request: ModbusPDU, decoder: FrameDecoder) -> bool:
        """Whether the last answer, should it come again, would be taken for the answer to this request."""
        if decoder.by_id or request.function_code not in READS_BY_FUNCTION:
            return False
        unit, looks = self._last
        return unit == request.dev_id and looks in (Question.of(request).looks, (request.function_code,))

    async def resynchronize(
        self, request: ModbusPDU, timeout: float, decoder: FrameDecoder, transact: Transact
    ) -> None:
        """Answer when nothing older can be taken for the answer to `request` any more; raises NoAnswer while it may.

        `transact` sends on the connection that the next request will take.
        """
        unit = request.dev_id
        known = self._units[unit]
        if (
            known.pending
            and asyncio.get_running_loop().time() - known.since > FORGOTTEN[bool(known.answered)] * timeout
        ):
            known.nothing_owed()
            return
        # The answer to the other read may come twice too, so it must not look like the answer to `request` either.
        avoid = {Question.of(request).looks: inf} | (known.pending or {self._last[1]: 0.0})
        other = _other(known, avoid)
        if other is None:
            if known.pending and not await _quiet(timeout, decoder):
                raise NoAnswer(f"unit {unit} may still answer an earlier request")
            known.nothing_owed()
            return
        try:
            await transact(other.to(unit))
        except Refused:
            # Its function is none of those missing: it is this question's, and as good as registers.
            return


def _other(known: _Unit, avoid: Mapping[tuple[int, ...], float]) -> Question | None:
    """A read, answered before or the beginning of one, whose answer has a look that is not to be avoided, else one that is longest."""
    answered = known.answered.values()
    parts = (Question(one.function, one.first, length) for one in answered for length in range(1, one.length))
    by_look = {one.looks: one for one in (*parts, *answered)}
    if fit := [one for looks, one in by_look.items() if looks not in avoid]:
        # By lot: on a wire with a second master, what was mistaken once must not be mistaken at every try.
        return secrets.choice(fit)
    return by_look[min(by_look, key=lambda looks: avoid[looks])] if len(by_look) > 1 else None


async def _quiet(timeout: float, decoder: FrameDecoder) -> bool:
    """Whether nothing is heard until a whole time-out is over since the last that was."""
    loop = asyncio.get_running_loop()
    since = decoder.quiet_since
    await asyncio.sleep(max(0.0, since + timeout - loop.time()))
    return decoder.quiet_since == since
