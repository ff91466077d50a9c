"""Keeping requests and answers in step where only their order tells which answer belongs to which request.

An answer that is missing may still come: it must be out of the way before the same unit is asked again. (Answers carry their
unit, so the others can be asked meanwhile.) It can be held up in two places:

- on the gateway's way back to us. It then belongs to the connection that it was asked by, and ends with it: the gateway drops the
  connection after a missing answer.
- on the serial line. There, answers come in the order of their requests: once a later request is answered, nothing older comes.
  The later request is a Return Query Data (function 08, sub-function 0000; Modbus Application Protocol V1.1b3, 6.8) with data
  that no other had. It changes nothing, and its answer - the same data, or an exception for function 08 - answers nothing else.

Whether a unit answers queries is learned while all is well. Before one that does not is asked again, nothing must have been heard
for a whole time-out by a new connection; a later answer than that would be taken for the next one's.
"""

import asyncio
import secrets
from collections import Counter, deque
from collections.abc import Awaitable, Callable
from itertools import count

from pymodbus.client import ModbusBaseClient
from pymodbus.pdu import ModbusPDU

from .ear import Ear
from .errors import NoAnswer, Refused

type Send = Callable[[ModbusBaseClient], Awaitable[ModbusPDU]]
type Ask = Callable[[Send], Awaitable[object]]

QUERIES = 2
"""How many queries in a row a unit may leave unanswered before it counts as one that answers none."""

FORGOTTEN = {True: 100, False: 10}
"""Time-outs after which a missing answer is given up whatever is heard, of a unit that answers queries and of one that does not.

It keeps an exchanged inverter, or one beside a second master that is never quiet, from being shut out for good.
"""


class Step:
    """Which units may still answer an earlier request, and which of them answer queries."""

    def __init__(self) -> None:
        """Begin in step."""
        self._missing_since: dict[int, float] = {}
        self._met: set[int] = set()
        self._answering: set[int] = set()
        self._unanswered = Counter[int]()
        self._open: dict[int, deque[float]] = {}
        """When each query was sent whose answer has not been seen."""

        self._nonces = count(secrets.randbelow(0x10000))

    def missing(self, unit: int) -> None:
        """An answer of `unit` did not come."""
        self._missing_since.setdefault(unit, asyncio.get_running_loop().time())

    def answered(self, unit: int) -> None:
        """An answer of `unit` came. Queries that it met with silence before its first one say nothing: it was not there."""
        if unit not in self._met:
            self._met.add(unit)
            del self._unanswered[unit]

    def kept(self, unit: int, ear: Ear) -> bool:
        """Whether `unit` can be asked at once: whichever answer comes, it tells its request."""
        if ear.by_id and self._missing_since:
            self._missing_since.pop(unit, None)
        return ear.by_id

    async def regain(self, unit: int, timeout: float, ear: Ear, ask: Ask) -> None:
        """Answer when nothing that `unit` was asked before can come any more; raises NoAnswer while it may.

        `ask` sends on the connection that the next request will take.
        """
        since = self._missing_since.get(unit)
        if since is None:
            if unit in self._met and unit not in self._answering:
                await self._query(unit, timeout, ear, ask)
            return
        patience = FORGOTTEN[unit in self._answering] * timeout
        if (
            asyncio.get_running_loop().time() - since < patience
            and not await self._query(unit, timeout, ear, ask)
            and (unit in self._answering or not await _quiet(timeout, ear))
        ):
            raise NoAnswer(f"unit {unit} may still answer an earlier request")
        del self._missing_since[unit]

    async def _query(self, unit: int, timeout: float, ear: Ear, ask: Ask) -> bool:
        """Whether a query's answer shows that nothing older can come; one that is left unanswered often enough is not sent."""
        if self._unanswered[unit] >= QUERIES and unit not in self._answering:
            return False
        now = asyncio.get_running_loop().time()
        open_queries = self._open.setdefault(unit, deque())
        while open_queries and now - open_queries[0] > FORGOTTEN[True] * timeout:
            open_queries.popleft()
        open_queries.append(now)
        nonce = (next(self._nonces) % 0x10000).to_bytes(2)
        try:
            await ask(lambda client: client.diag_query_data(nonce, device_id=unit))
        except NoAnswer:
            self._unanswered[unit] += 1
            return False
        except Refused:
            # One exception is like the other: it may be an earlier query's, unless every one's has come. Then it tells that no further
            # one comes within a time-out; what is later than that is not told. Traffic of another master does not count: it never ends.
            self._answering.add(unit)
            open_queries.popleft()
            return not open_queries or await _no_refusal(timeout, ear)
        self._answering.add(unit)
        open_queries.clear()
        return True


async def _no_refusal(timeout: float, ear: Ear) -> bool:
    """Whether no exception for a query is heard for a whole time-out."""
    loop = asyncio.get_running_loop()
    began = loop.time()
    await asyncio.sleep(timeout)
    return ear.refusal_since < began


async def _quiet(timeout: float, ear: Ear) -> bool:
    """Whether nothing is heard until a whole time-out is over since the last that was."""
    loop = asyncio.get_running_loop()
    since = ear.quiet_since
    await asyncio.sleep(max(0.0, since + timeout - loop.time()))
    return ear.quiet_since == since
