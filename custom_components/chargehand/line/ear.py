"""What arrives by a connection, and which of it is the answer.

Takes the place of the library's own framers, which take whatever comes while a request is out for its answer, keep a frame that
never ends, and end the connection with a traceback for a frame that cannot be decoded.
"""

import asyncio
import secrets
from collections.abc import Callable
from struct import unpack_from
from typing import override

from pymodbus.framer import FramerBase, FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU, ModbusPDU
from pymodbus.pdu.register_message import ReadHoldingRegistersResponse, ReadInputRegistersResponse

from .health import LineHealth
from .shape import Shape, shape_of_answer

MOST_WASTE = 0x10000
"""Bytes without an answer among them after which the connection is given up: its other end does not speak Modbus."""

READ_ANSWERS: dict[int, type[ModbusPDU]] = {3: ReadHoldingRegistersResponse, 4: ReadInputRegistersResponse}
"""The library's answers to reads, by function."""

LONGEST_FRAME = 260
"""Bytes of the longest frame in either framing (Modbus Messaging on TCP/IP V1.0b, 3.1.2)."""


class Ear(FramerBase):
    """Hears one gateway: all connections to it, one after the other.

    `on_flood` is called when more than `MOST_WASTE` bytes have come without an answer.
    """

    def __init__(self, health: LineHealth, on_flood: Callable[[], None]) -> None:
        """Listen for nothing yet."""
        super().__init__(DecodePDU(False))
        self.by_id = False
        """Whether answers have been seen to carry their request's own id; else only their order tells them apart."""

        self.quiet_since = 0.0
        """When something other than an answer was heard last, or the connection began; on the event loop's clock."""

        self.first_id = 1
        """The first id of this connection."""

        self._health = health
        self._on_flood = on_flood
        self._asked: ModbusPDU | None = None
        self._kept = 0
        self._waste = 0
        self._damaged = False

    @property
    def torn(self) -> bool:
        """Whether the stream has stopped inside a frame, or in what is none."""
        return self._damaged or self._kept > 0

    @property
    def flooded(self) -> bool:
        """Whether so much has come without an answer that none is to be expected."""
        return self._waste > MOST_WASTE

    def opened(self) -> None:
        """A new connection: nothing that was on its way by the old one can arrive any more."""
        self._asked, self._kept, self._waste, self._damaged = None, 0, 0, False
        self.quiet_since = asyncio.get_running_loop().time()

    def gave_up(self) -> None:
        """The request that was out is not waited for any longer."""
        if self._damaged:
            self._health.record_damaged(asyncio.get_running_loop().time())
        self._asked = None

    @override
    def buildFrame(self, message: ModbusPDU) -> bytes:
        """Frame a request, and listen for its answer from now on."""
        self._asked, self._kept, self._damaged = message, 0, False
        return super().buildFrame(message)

    @override
    def handleFrame(self, data: bytes, exp_devid: int, exp_tid: int) -> tuple[int, ModbusPDU | None]:
        """Find the answer in what has come and was not used yet; answers with how much is used now, and the answer."""
        now = asyncio.get_running_loop().time()
        came = len(data) - self._kept
        self._kept = 0
        if self._asked is None:
            self._health.record_unasked(now, came)
            self._wasted(came, now)
            return len(data), None
        used, pdu = self._answer(data, self._asked, shape_of_answer(self._asked))
        if pdu is None:
            self._kept = len(data) - used
            self._wasted(came, now)
            return used, None
        answer = self._understood(pdu) if pdu else None
        # A frame with our id that answers another question ends the wait as well, but as nothing that could be taken for an answer.
        answer = answer or ModbusPDU()
        answer.dev_id, answer.transaction_id = exp_devid, exp_tid
        self._asked, self._waste = None, len(data) - used
        # What came after the answer in the same breath was not asked for; the answer counts even if that is a flood.
        if self._waste:
            self._health.record_unasked(now, self._waste)
            self.quiet_since = now
        return len(data), answer

    def _understood(self, pdu: bytes) -> ModbusPDU | None:
        """An answer whose shape is right, as the library has it."""
        kind = READ_ANSWERS.get(pdu[0])
        if kind is None:
            return self.decoder.decode(pdu)
        # All registers at once: the library takes one after the other, which is most of what a poll costs.
        return kind(registers=list(unpack_from(f">{len(pdu) // 2 - 1}H", pdu, 2)))

    def _wasted(self, count: int, now: float) -> None:
        self.quiet_since = now
        self._waste += count
        if self.flooded:
            self._on_flood()

    def _answer(self, data: bytes, asked: ModbusPDU, shape: Shape) -> tuple[int, bytes | None]:
        """Bytes used, and the answer's PDU: None while it has not come, empty where its id is right and all else is not."""
        raise NotImplementedError


class TcpEar(Ear, FramerSocket):
    """Frames with an id. Most gateways give back the request's; some number their answers themselves (common practice)."""

    def __init__(self, health: LineHealth, on_flood: Callable[[], None]) -> None:
        """Trust no gateway's ids before they have been seen to be ours."""
        super().__init__(health, on_flood)
        self._foreign = False

    @override
    def opened(self) -> None:
        """Begin with any id: a gateway that counts from 1 must not be taken for one that gives back ours."""
        super().opened()
        self.first_id = 1 + secrets.randbelow(30_000)

    @override
    def gave_up(self) -> None:
        """An answer in every respect but with an id that was never sent says that this gateway numbers answers itself."""
        super().gave_up()
        self.by_id = self.by_id and not self._foreign
        self._foreign = False

    @override
    def _answer(self, data: bytes, asked: ModbusPDU, shape: Shape) -> tuple[int, bytes | None]:
        used = 0
        while len(data) >= used + 8:
            frame_id, protocol, length = (int.from_bytes(data[used + at : used + at + 2]) for at in (0, 2, 4))
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
                self._foreign |= not self.first_id <= frame_id <= asked.transaction_id
                if not self.by_id:
                    return used, pdu
        return used, None


class RtuEar(Ear, FramerRTU):
    """Frames without an id, or any mark of where they begin: looked for is what begins as the answer must and has its CRC.

    Some adapters hear what they send (local echo, common practice): a read tells, since its answer is not like the request. That of
    function 6 or 8 is the request over again, and must not be found in the echo.
    """

    def __init__(self, health: LineHealth, on_flood: Callable[[], None]) -> None:
        """Take it that there is no echo."""
        super().__init__(health, on_flood)
        self._sent = b""
        self._echoes = False

    @override
    def buildFrame(self, message: ModbusPDU) -> bytes:
        """Remember what is sent."""
        self._sent = super().buildFrame(message)
        return self._sent

    @override
    def _answer(self, data: bytes, asked: ModbusPDU, shape: Shape) -> tuple[int, bytes | None]:
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
                if self.compute_CRC(frame[:-2]) == int.from_bytes(frame[-2:]):
                    if asked.function_code in READ_ANSWERS:
                        self._echoes = echoed
                    return at + size, frame[1:-2]
                self._damaged |= size > 5
                at = data.find(head, at + 1)
        # The echo stays until the answer is there: it is told by how the bytes begin.
        return (0 if echoed else keep), None
