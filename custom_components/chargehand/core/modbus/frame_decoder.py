"""What arrives by a connection, and which of it is the answer.

The library's framers build frames and its decoder reads answers. They are not used to find the answer among what comes: they take whatever
comes while a request is out for its answer, keep a frame that never ends, and raise for a frame that cannot be decoded.
"""

import asyncio
import secrets
from collections import deque
from collections.abc import Callable
from struct import unpack_from
from typing import override

from pymodbus.framer import FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU, ModbusPDU
from pymodbus.pdu.register_message import ReadHoldingRegistersResponse, ReadInputRegistersResponse

from .expected_response import NOTHING, shape_of_answer
from .health import LineHealth

MOST_WASTE = 0x10000
"""Bytes without an answer among them after which the connection is given up: its other end does not speak Modbus."""

READ_ANSWERS: dict[int, type[ModbusPDU]] = {3: ReadHoldingRegistersResponse, 4: ReadInputRegistersResponse}
"""The library's answers to reads, by function."""

IDS = 0x10000
"""An id has 16 bits (Modbus Messaging on TCP/IP V1.0b, 3.1.3)."""

MOST_OWED = 100
"""Ids kept in mind that an answer may still come to; none comes after so many requests that were given up."""

LONGEST_FRAME = 260
"""Bytes of the longest frame in either framing (Modbus Messaging on TCP/IP V1.0b, 3.1.2)."""


class FrameDecoder:
    """Hears one gateway: all connections to it, one after the other.

    `on_flood` is called when more than `MOST_WASTE` bytes have come without an answer.
    """

    framing: type[FramerSocket | FramerRTU]

    def __init__(self, health: LineHealth, on_flood: Callable[[], None]) -> None:
        """Listen for nothing yet."""
        self._decoder = DecodePDU(is_server=False)
        self._framer = self.framing(self._decoder)
        self.by_id = False
        """Whether answers have been seen to carry their request's own id; else only their order tells them apart."""

        self.repeats = False
        """Whether an answer has been seen to come again: some gateways repeat answers (common practice, no source)."""

        self.quiet_since = 0.0
        """When something other than an answer was heard last, or the connection began; on the event loop's clock."""

        self._health = health
        self._on_flood = on_flood
        self._asked: ModbusPDU | None = None
        self._shape = NOTHING
        self._heard = b""
        self._waste = 0
        self._damaged = False

    @property
    def torn(self) -> bool:
        """Whether the stream has stopped inside a frame, or in what is none."""
        return self._damaged or bool(self._heard)

    @property
    def flooded(self) -> bool:
        """Whether so much has come without an answer that none is to be expected."""
        return self._waste > MOST_WASTE

    def opened(self) -> None:
        """A new connection: nothing that was on its way by the old one can arrive any more."""
        self._asked, self._heard, self._waste, self._damaged = None, b"", 0, False
        self.quiet_since = asyncio.get_running_loop().time()

    def number(self, request: ModbusPDU) -> None:
        """Give a request the id that its answer is told by, where the framing has one."""

    def expect(self, request: ModbusPDU) -> bytes:
        """Listen for the answer to a request from now on; answers with the request's frame."""
        frame = self._framer.buildFrame(request)
        self._asked, self._shape, self._heard, self._damaged = request, shape_of_answer(request), b"", False
        return frame

    def gave_up(self) -> None:
        """The request that was out is not waited for any longer."""
        self.quiet_since = asyncio.get_running_loop().time()
        if self._damaged:
            self._health.record_damaged(self.quiet_since)
        self._asked = None

    def feed(self, data: bytes) -> ModbusPDU | None:
        """Take in what has come; answers with the answer once it is there."""
        asked = self._asked
        if asked is None:
            now = asyncio.get_running_loop().time()
            self._unasked(data, now)
            self._wasted(len(data), now)
            return None
        stream = self._heard + data if self._heard else data
        used, pdu = self._answer(stream, asked)
        if pdu is None:
            self._heard = stream[used:]
            self._wasted(len(data), asyncio.get_running_loop().time())
            return None
        rest = stream[used:]
        self._asked, self._heard, self._waste = None, b"", len(rest)
        # What came after the answer in the same breath was not asked for; the answer counts even if that is a flood.
        if rest:
            self.quiet_since = asyncio.get_running_loop().time()
            self._unasked(rest, self.quiet_since)
        # A frame with our id that answers another question ends the wait as well, but as nothing that could be taken for an answer.
        return (self._understood(pdu) if pdu else None) or ModbusPDU()

    def _understood(self, pdu: bytes) -> ModbusPDU | None:
        """An answer whose shape is right, as the library has it."""
        kind = READ_ANSWERS.get(pdu[0])
        if kind is None:
            return self._decoder.decode(pdu)
        # All registers at once: the library takes one after the other, which is most of what a poll costs.
        return kind(registers=list(unpack_from(f">{len(pdu) // 2 - 1}H", pdu, 2)))

    def _unasked(self, data: bytes, now: float) -> None:
        """Count what came while no request was out."""
        self._health.record_unasked(now, len(data))

    def _wasted(self, count: int, now: float) -> None:
        self.quiet_since = now
        self._waste += count
        if self.flooded:
            self._on_flood()

    def _answer(self, data: bytes, asked: ModbusPDU) -> tuple[int, bytes | None]:
        """Bytes used, and the answer's PDU: None while it has not come, empty where its id is right and all else is not."""
        raise NotImplementedError


class TcpFrameDecoder(FrameDecoder):
    """Frames with an id. Most gateways give back the request's; some number their answers themselves (common practice)."""

    framing = FramerSocket

    def __init__(self, health: LineHealth, on_flood: Callable[[], None]) -> None:
        """Trust no gateway's ids before they have been seen to be ours."""
        super().__init__(health, on_flood)
        self._foreign = False
        self._last_id = 0
        self._owed: deque[int] = deque(maxlen=MOST_OWED)

    @override
    def opened(self) -> None:
        """Begin with any id: a gateway that counts from 1 must not be taken for one that gives back ours."""
        super().opened()
        self._last_id = secrets.randbelow(30_000)
        self._owed.clear()

    @override
    def number(self, request: ModbusPDU) -> None:
        """Count on, round from the highest number that an id can be."""
        self._last_id = request.transaction_id = (self._last_id + 1) % IDS

    @override
    def expect(self, request: ModbusPDU) -> bytes:
        """Keep in mind that one that is sent again may be answered twice."""
        if self._asked is request:
            self._owed.append(request.transaction_id)
        return super().expect(request)

    @override
    def gave_up(self) -> None:
        """An answer in every respect but with an id that none is pending to says that this gateway numbers answers itself.

        Its ids may meet ours once by chance: that ours are no longer pending then is what it is told by.
        """
        if self._asked is not None:
            self._owed.append(self._asked.transaction_id)
        super().gave_up()
        self.by_id = self.by_id and not self._foreign
        self._foreign = False

    @override
    def _answer(self, data: bytes, asked: ModbusPDU) -> tuple[int, bytes | None]:
        used, shape = 0, self._shape
        while len(data) >= used + 8:
            frame_id, protocol, length = unpack_from(">HHH", data, used)
            if protocol or not 2 <= length <= LONGEST_FRAME - 6:
                # Without a header there is no telling where the next frame begins.
                self._damaged = True
                return len(data), None
            end = used + 6 + length
            if end > len(data):
                break
            unit, pdu = data[used + 6], data[used + 7 : end]
            used = end
            if unit != asked.dev_id:
                continue
            if frame_id == asked.transaction_id:
                self.by_id, self._foreign = True, False
                return used, pdu if shape.fits(pdu) else b""
            if shape.fits(pdu):
                self._foreign |= frame_id not in self._owed
                if not self.by_id:
                    return used, pdu
        return used, None


class RtuFrameDecoder(FrameDecoder):
    """Frames without an id, or any mark of where they begin: looked for is what begins as the answer must and has its CRC.

    Some adapters feed what they send (local echo, common practice): a read tells, since its answer is not like the request. That of
    function 6 or 22 is the request over again, and must not be found in the echo.
    """

    framing = FramerRTU

    def __init__(self, health: LineHealth, on_flood: Callable[[], None]) -> None:
        """Take it that there is no echo."""
        super().__init__(health, on_flood)
        self._sent = b""
        self._echoes = False
        self._answered = b""
        """The frame that was the last answer."""

    @override
    def expect(self, request: ModbusPDU) -> bytes:
        """Remember what is sent."""
        self._sent = super().expect(request)
        return self._sent

    @override
    def _unasked(self, data: bytes, now: float) -> None:
        """Know the last answer when it comes again."""
        super()._unasked(data, now)
        if data == self._answered:
            self._came_again()

    def _came_again(self) -> None:
        self.repeats = True
        self._health.repeated += 1

    @override
    def _answer(self, data: bytes, asked: ModbusPDU) -> tuple[int, bytes | None]:
        shape, last = self._shape, self._answered
        # Where the answer that is waited for looks like the last one, nothing tells the last one from it.
        if last and last in data and not (last[0] == asked.dev_id and shape.fits(last[1:-2])):
            self._came_again()
            self._answered = b""
        if len(data) < len(self._sent) and self._sent.startswith(data):
            return 0, None
        echoed = data.startswith(self._sent)
        begin = len(self._sent) if self._echoes and echoed else 0
        unit = bytes((asked.dev_id,))
        heads = {unit + shape.head: 1 + shape.length + 2, unit + shape.refusal: 5}
        earliest = max(begin, len(data) - 2 * LONGEST_FRAME)
        keep = max(earliest, len(data) - len(unit + shape.head) + 1)
        for head, size in heads.items():
            at = data.find(head, earliest)
            while at >= 0:
                frame = data[at : at + size]
                if len(frame) < size:
                    keep = min(keep, at)
                    break
                if FramerRTU.compute_CRC(frame[:-2]) == int.from_bytes(frame[-2:]):
                    if asked.function_code in READ_ANSWERS:
                        self._echoes = echoed
                    self._answered = frame
                    return at + size, frame[1:-2]
                self._damaged |= size > 5
                at = data.find(head, at + 1)
        # The echo stays until the answer is there: it is told by how the bytes begin.
        return (0 if echoed else keep), None
