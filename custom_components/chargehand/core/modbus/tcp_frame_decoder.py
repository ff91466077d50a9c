"""Decoding Modbus TCP, whose frames carry a transaction id."""

import secrets
from collections import deque
from collections.abc import Callable
from struct import unpack_from
from typing import override

from pymodbus.framer import FramerSocket
from pymodbus.pdu import ModbusPDU

from .frame_decoder import MAX_FRAME_LENGTH, FrameDecoder
from .health import LineHealth

TRANSACTION_IDS = 0x10000
"""A transaction id has 16 bits (Modbus Messaging on TCP/IP V1.0b, 3.1.3)."""

MAX_PENDING_IDS = 100
"""Ids kept of requests that may still be answered; no answer comes after so many later requests without one."""


class TcpFrameDecoder(FrameDecoder):
    """Decodes frames with an id. Most gateways return the request's id; some number their answers themselves (common practice)."""

    framing = FramerSocket

    def __init__(self, health: LineHealth, on_flood: Callable[[], None]) -> None:
        """Set up a decoder that does not trust the gateway's ids until it has seen one of ours."""
        super().__init__(health, on_flood)
        self._foreign_id = False
        """Whether a frame matched the expected response, but had an id of no request of ours."""

        self._last_id = 0
        self._pending_ids: deque[int] = deque(maxlen=MAX_PENDING_IDS)

    @override
    def reset(self) -> None:
        """Start with a random id, so that a gateway that counts from 1 does not seem to return our ids."""
        super().reset()
        self._last_id = secrets.randbelow(30_000)
        self._pending_ids.clear()

    @override
    def assign_id(self, request: ModbusPDU) -> None:
        """Assign the next id; start again from 0 after the highest."""
        self._last_id = request.transaction_id = (self._last_id + 1) % TRANSACTION_IDS

    @override
    def expect(self, request: ModbusPDU) -> bytes:
        """Expect the answer to a request, and remember that a repeated request may be answered twice."""
        if self._request is request:
            self._pending_ids.append(request.transaction_id)
        return super().expect(request)

    @override
    def give_up(self) -> None:
        """Stop expecting the answer, and stop trusting ids if the gateway has turned out to number its answers itself.

        It does if a frame was the answer in every respect, but had an id of no pending request. Its ids may equal ours once by chance,
        which is why an id that is no longer pending decides.
        """
        if self._request is not None:
            self._pending_ids.append(self._request.transaction_id)
        super().give_up()
        self.returns_ids = self.returns_ids and not self._foreign_id
        self._foreign_id = False

    @override
    def _find_answer(self, data: bytes, request: ModbusPDU) -> tuple[int, bytes | None]:
        used, expected = 0, self._expected
        while len(data) >= used + 8:
            frame_id, protocol, length = unpack_from(">HHH", data, used)
            if protocol or not 2 <= length <= MAX_FRAME_LENGTH - 6:
                # Without a valid header there is no way to find where the next frame begins.
                self._damaged = True
                return len(data), None
            end = used + 6 + length
            if end > len(data):
                break
            unit, pdu = data[used + 6], data[used + 7 : end]
            used = end
            if unit != request.dev_id:
                continue
            if frame_id == request.transaction_id:
                self.returns_ids, self._foreign_id = True, False
                return used, pdu if expected.matches(pdu) else b""
            if expected.matches(pdu):
                self._foreign_id |= frame_id not in self._pending_ids
                if not self.returns_ids:
                    return used, pdu
        return used, None
