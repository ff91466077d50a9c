"""Keeping requests and answers in step where only their order shows which answer belongs to which request.

An answer that is missing may still come, and must not be taken for the answer to a later request. It can be held up in two places:

- in the gateway, on its way back. It then belongs to the connection of its request, and ends with it: the gateway object closes the
  connection after a missing answer.
- on the serial line. There, answers come in the order of their requests: after the answer to a later request, no older one comes.

The answer to a read shows its function and its number of registers. The answer to a write shows its function and addresses (Modbus
Application Protocol V1.1b3, 6). A request whose answer cannot look like a missing one is sent at once, and its answer shows that no older
one can come. Before any other request, Chargehand sends a read whose answer looks like none that is missing: one that the unit has answered
before, or the beginning of one. There are as many of these as the longest read has registers. If all of them are missing, the one that has
been missing longest is sent again. All exceptions to one function look alike: while an answer to that function may be late, an exception
answers nothing.

Some gateways send an answer twice. The decoder drops a repeated answer that comes before the next request is sent, and skips one that looks
different from the expected answer. Nothing distinguishes it from an answer that looks the same: frames have no ids, and registers may not have
changed. So if a read must not be answered by an earlier answer, and the last answer of its unit looks like its own, Chargehand sends another
read first, as above: after the answer to that one, the earlier answer does not come again.

If there is nothing else to read, because the unit has only ever answered for one register, Chargehand waits on a new connection until nothing
has come for a whole time-out. An answer that comes later than that would be taken for the next one.
"""

import asyncio
import secrets
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from pymodbus.pdu import ModbusPDU

from .errors import Missing, NoAnswer, Refused
from .frame_decoder import FrameDecoder
from .requests import READS_BY_FUNCTION

TIMEOUTS_UNTIL_FORGOTTEN = {True: 100, False: 10}
"""Time-outs after which a missing answer no longer counts: of a unit that has answered a read, and of one that has not.

Otherwise an exchanged inverter, or one beside a second master that never pauses, could be shut out for good.
"""

type ResponseKey = tuple[int, ...]
"""What a response looks like: two requests with the same key could both be answered by one response."""


class RequestFields(NamedTuple):
    """A request's function, first address, and number of registers."""

    function: int
    first: int
    length: int

    @property
    def response_key(self) -> ResponseKey:
        """Return what the response to this request looks like."""
        return (self.function, self.length) if self.function in READS_BY_FUNCTION else self

    @classmethod
    def of(cls, request: ModbusPDU) -> RequestFields:
        """Return the fields of a request."""
        return cls(request.function_code, request.address, request.count)

    def read_request(self, unit: int) -> ModbusPDU:
        """Return the request with these fields, which must be those of a read."""
        return READS_BY_FUNCTION[self.function](address=self.first, count=self.length, dev_id=unit)


type Transact = Callable[[ModbusPDU], Awaitable[object]]


@dataclass(slots=True)
class _Unit:
    """The pending answers of one unit, and the reads that it has answered."""

    pending: dict[ResponseKey, float] = field(default_factory=dict)
    """What the pending answers look like, and when each was last missed, on the event loop's clock."""

    pending_functions: set[int] = field(default_factory=set)

    pending_since: float = 0.0
    """When the first of them was missed."""

    answered_reads: dict[ResponseKey, RequestFields] = field(default_factory=dict)
    """One read for each look of a response."""

    def clear_pending(self) -> None:
        """Forget the pending answers, because none of them can come any more."""
        self.pending.clear()
        self.pending_functions.clear()


class Resynchronizer:
    """Tracks the pending answers of all units on one gateway."""

    def __init__(self) -> None:
        """Set up without pending answers."""
        self._units: dict[int, _Unit] = {}
        self._last_answer: tuple[int, ResponseKey] = (0, ())
        """Unit and look of the last answer; of an exception only its function."""

    def record_missing(self, request: ModbusPDU) -> None:
        """Record that the answer to a request did not come."""
        unit, fields = self._units.setdefault(request.dev_id, _Unit()), RequestFields.of(request)
        now = asyncio.get_running_loop().time()
        if not unit.pending:
            unit.pending_since = now
        unit.pending[fields.response_key] = now
        unit.pending_functions.add(fields.function)

    def record_answer(self, request: ModbusPDU, *, is_exception: bool) -> None:
        """Record an answer that can only be the answer to this request, so that no older one can come."""
        unit, fields = self._units.setdefault(request.dev_id, _Unit()), RequestFields.of(request)
        key = fields.response_key
        if unit.pending:
            unit.clear_pending()
        self._last_answer = (request.dev_id, (fields.function,) if is_exception else key)
        # A refused read would be refused again, and an exception that comes twice could be the answer to any read.
        is_read = fields.function in READS_BY_FUNCTION and fields.length > 0
        if not is_exception and is_read and key not in unit.answered_reads:
            unit.answered_reads[key] = fields

    def may_be_late_exception(self, request: ModbusPDU) -> bool:
        """Return whether an exception that comes now may answer an earlier request of the same function."""
        unit = self._units.get(request.dev_id)
        return unit is not None and request.function_code in unit.pending_functions

    def can_send(self, request: ModbusPDU, decoder: FrameDecoder) -> bool:
        """Return whether the request can be sent at once, because its answer has its id or looks like no pending one."""
        unit = self._units.get(request.dev_id)
        if unit is None or not unit.pending:
            return True
        if decoder.returns_ids:
            unit.clear_pending()
        return RequestFields.of(request).response_key not in unit.pending

    def may_match_last_answer(self, request: ModbusPDU, decoder: FrameDecoder) -> bool:
        """Return whether the last answer, if it came again, would be taken for the answer to this request."""
        if decoder.returns_ids or request.function_code not in READS_BY_FUNCTION:
            return False
        unit, key = self._last_answer
        return unit == request.dev_id and key in (RequestFields.of(request).response_key, (request.function_code,))

    async def resynchronize(
        self, request: ModbusPDU, timeout: float, decoder: FrameDecoder, transact: Transact
    ) -> None:
        """Return once no older answer can be taken for the answer to `request`. Raises NoAnswer while one can.

        `transact` sends a request on the connection that `request` will use.
        """
        unit = self._units[request.dev_id]
        if unit.pending:
            missing_for = asyncio.get_running_loop().time() - unit.pending_since
            if missing_for > TIMEOUTS_UNTIL_FORGOTTEN[bool(unit.answered_reads)] * timeout:
                unit.clear_pending()
                return
        # The answer to the other read may come twice too, so it must not look like the answer to `request` either.
        avoid = {RequestFields.of(request).response_key: inf} | (unit.pending or {self._last_answer[1]: 0.0})
        other = _choose_read(unit, avoid)
        if other is None:
            if unit.pending and not await _stays_quiet(timeout, decoder):
                raise NoAnswer(f"unit {request.dev_id} may still answer an earlier request", Missing.LATE)
            unit.clear_pending()
            return
        try:
            await transact(other.read_request(request.dev_id))
        except Refused:
            # No pending answer has this function: the exception answers this read, and serves as well as registers.
            return


def _choose_read(unit: _Unit, avoid: Mapping[ResponseKey, float]) -> RequestFields | None:
    """Return a read, answered before or the beginning of one, whose response has no look in `avoid`.

    If there is none, return the one that has been missing longest; None if the unit has answered only one.
    """
    answered = unit.answered_reads.values()
    parts = (RequestFields(one.function, one.first, length) for one in answered for length in range(1, one.length))
    by_key = {one.response_key: one for one in (*parts, *answered)}
    if suitable := [one for key, one in by_key.items() if key not in avoid]:
        # Chosen at random: on a wire with a second master, one mistaken answer must not be mistaken at every attempt.
        return secrets.choice(suitable)
    return by_key[min(by_key, key=lambda key: avoid[key])] if len(by_key) > 1 else None


async def _stays_quiet(timeout: float, decoder: FrameDecoder) -> bool:
    """Wait until a whole time-out has passed since anything came last, and return whether nothing came meanwhile."""
    loop = asyncio.get_running_loop()
    since = decoder.quiet_since
    await asyncio.sleep(max(0.0, since + timeout - loop.time()))
    return decoder.quiet_since == since
