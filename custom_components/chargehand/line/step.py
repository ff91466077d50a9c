"""Keeping requests and answers in step where only their order tells which answer belongs to which request.

An answer that is missing may still come: it must be out of the way before the same unit is asked again. (Answers carry their
unit, so the others can be asked meanwhile.) It can be held up in two places:

- on the gateway's way back to us. It then belongs to the connection that it was asked by, and ends with it: the gateway drops the
  connection after a missing answer.
- on the serial line. There, answers come in the order of their requests: once a later request is answered, nothing older comes.
  The later request is a Return Query Data (function 08, sub-function 0000; Modbus Application Protocol V1.1b3, 6.8) with data
  that no other had. It changes nothing, and its answer - the same data, or an exception for function 08 - answers nothing else.

An inverter that ignores what it does not know answers no such query. Before it is asked again, nothing must have been heard for a
whole time-out by a new connection.
"""

import asyncio
import secrets
from collections.abc import Awaitable, Callable
from itertools import count

from pymodbus.client import ModbusBaseClient
from pymodbus.pdu import ModbusPDU

from .ear import Ear
from .errors import NoAnswer, Refused

type Send = Callable[[ModbusBaseClient], Awaitable[ModbusPDU]]
type Ask = Callable[[Send], Awaitable[object]]

FORGOTTEN = 10
"""Time-outs after which a missing answer is no longer to be expected, whatever is heard."""


class Step:
    """Which units may still answer an earlier request, and which of them answer queries."""

    def __init__(self) -> None:
        """Begin in step."""
        self._missing_since: dict[int, float] = {}
        self._echoing: set[int] = set()
        self._mute: set[int] = set()
        self._nonces = count(secrets.randbelow(0x10000))

    def missing(self, unit: int) -> None:
        """An answer of `unit` did not come."""
        self._missing_since.setdefault(unit, asyncio.get_running_loop().time())

    def answered(self, unit: int) -> None:
        """`unit` is there: should it fail again, a query is worth another try."""
        self._mute.discard(unit)

    async def regain(self, unit: int, timeout: float, ear: Ear, ask: Ask) -> None:
        """Answer when nothing that `unit` was asked before can come any more; raises NoAnswer while it may.

        `ask` sends on the connection that the next request will take.
        """
        loop = asyncio.get_running_loop()
        since = self._missing_since.get(unit)
        if since is None:
            return
        settled = ear.by_id or loop.time() - since > FORGOTTEN * timeout
        if settled or await self._echoed(unit, ask) or await _quiet(timeout, ear):
            del self._missing_since[unit]
            return
        raise NoAnswer(f"unit {unit} may still answer an earlier request")

    async def _echoed(self, unit: int, ask: Ask) -> bool:
        if unit in self._mute:
            return False
        nonce = (next(self._nonces) % 0x10000).to_bytes(2)
        try:
            await ask(lambda client: client.diag_query_data(nonce, device_id=unit))
        except Refused:
            pass  # The exception for function 08 is in its turn as the echo would be.
        except NoAnswer:
            if unit in self._echoing:
                raise
            self._mute.add(unit)
            return False
        self._echoing.add(unit)
        return True


async def _quiet(timeout: float, ear: Ear) -> bool:
    """Whether nothing is heard until a whole time-out is over since the last that was."""
    loop = asyncio.get_running_loop()
    since = ear.quiet_since
    await asyncio.sleep(max(0.0, since + timeout - loop.time()))
    return ear.quiet_since == since
