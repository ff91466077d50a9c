"""Finding the answer to a request among the bytes that a connection receives.

The Modbus library's framers build frames, and its decoder decodes answers. They do not search for the answer: they take any frame that
comes while a request is pending for its answer, keep a frame that never ends, and raise for a frame that cannot be decoded.
"""

import asyncio
from collections.abc import Callable
from struct import unpack_from

from pymodbus.framer import FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU, ModbusPDU
from pymodbus.pdu.register_message import ReadHoldingRegistersResponse, ReadInputRegistersResponse

from .expected_response import NO_RESPONSE, expected_response
from .health import LineHealth
from .passed_request import PassedRequest, PassedResponse

MAX_DISCARDED_BYTES = 0x10000
"""Bytes without an answer after which the connection is closed: the other end does not speak Modbus."""

READ_RESPONSES: dict[int, type[ModbusPDU]] = {3: ReadHoldingRegistersResponse, 4: ReadInputRegistersResponse}
"""The library's responses to reads, by function code."""

MAX_FRAME_LENGTH = 260
"""Bytes of the longest frame in either framing (Modbus Messaging on TCP/IP V1.0b, 3.1.2)."""


class FrameDecoder:
    """Decodes what one gateway sends, over one connection after another.

    It calls `on_flood` when more than `MAX_DISCARDED_BYTES` have come without an answer.
    """

    framing: type[FramerSocket | FramerRTU]

    def __init__(self, health: LineHealth, on_flood: Callable[[], None]) -> None:
        """Set up a decoder that expects no answer yet."""
        self._decoder = DecodePDU(is_server=False)
        self._framer = self.framing(self._decoder)
        self.returns_ids = False
        """Whether the gateway returns each request's own id in its answer. If not, only the order shows which answer is whose."""

        self.repeats_answers = False
        """Whether the gateway has sent an answer twice, as some do (common practice, no source)."""

        self.quiet_since = 0.0
        """When something other than an answer came last, or the connection opened, on the event loop's clock."""

        self._health = health
        self._on_flood = on_flood
        self._request: ModbusPDU | None = None
        self._expected = NO_RESPONSE
        self._buffer = b""
        self._discarded = 0
        self._damaged = False

    @property
    def inside_frame(self) -> bool:
        """Return whether the stream has stopped inside a frame, or inside bytes that are no frame."""
        return self._damaged or bool(self._buffer)

    @property
    def flooded(self) -> bool:
        """Return whether too many bytes have come without an answer to expect one still."""
        return self._discarded > MAX_DISCARDED_BYTES

    def reset(self) -> None:
        """Start on a new connection, on which nothing from the old one can arrive."""
        self._request, self._buffer, self._discarded, self._damaged = None, b"", 0, False
        self.quiet_since = asyncio.get_running_loop().time()

    def assign_id(self, request: ModbusPDU) -> None:
        """Assign the request its transaction id, if the framing has one."""

    def expect(self, request: ModbusPDU) -> bytes:
        """Expect the answer to a request from now on, and return the request's frame."""
        frame = self._framer.buildFrame(request)
        self._request, self._expected, self._buffer, self._damaged = request, expected_response(request), b"", False
        return frame

    def give_up(self) -> None:
        """Stop expecting the answer to the pending request."""
        self.quiet_since = asyncio.get_running_loop().time()
        if self._damaged:
            self._health.record_damaged(self.quiet_since)
        self._request = None

    def feed(self, data: bytes) -> ModbusPDU | None:
        """Process received bytes, and return the answer once it is complete."""
        request = self._request
        if request is None:
            now = asyncio.get_running_loop().time()
            self._record_unsolicited(data, now)
            self._discard(len(data), now)
            return None
        stream = self._buffer + data if self._buffer else data
        used, pdu = self._find_answer(stream, request)
        if pdu is None:
            self._buffer = stream[used:]
            self._discard(len(data), asyncio.get_running_loop().time())
            return None
        rest = stream[used:]
        self._request, self._buffer, self._discarded = None, b"", len(rest)
        # Nobody requested what follows the answer in the same packet. The answer counts even if a flood follows it.
        if rest:
            self.quiet_since = asyncio.get_running_loop().time()
            self._record_unsolicited(rest, self.quiet_since)
        # A frame with our id that answers another request also ends the wait, as an empty PDU that no caller takes for an answer.
        return (self._decode(pdu, request) if pdu else None) or ModbusPDU()

    def _decode(self, pdu: bytes, request: ModbusPDU) -> ModbusPDU | None:
        """Return the library's object for a PDU that matches the expected response; of a passed request, the bytes as they came."""
        if isinstance(request, PassedRequest):
            return PassedResponse(pdu)
        response = READ_RESPONSES.get(pdu[0])
        if response is None:
            return self._decoder.decode(pdu)
        # All registers at once: the library unpacks one at a time, which would be most of a poll's processor time.
        return response(registers=list(unpack_from(f">{len(pdu) // 2 - 1}H", pdu, 2)))

    def _record_unsolicited(self, data: bytes, now: float) -> None:
        """Count bytes that came while no request was pending."""
        self._health.record_unsolicited(now, len(data))

    def _discard(self, count: int, now: float) -> None:
        self.quiet_since = now
        self._discarded += count
        if self.flooded:
            self._on_flood()

    def _find_answer(self, data: bytes, request: ModbusPDU) -> tuple[int, bytes | None]:
        """Return the number of bytes used, and the answer's PDU.

        The PDU is None until the answer has come, and empty for a frame that has the request's id but is no answer to it.
        """
        raise NotImplementedError
