"""Taking requests out of what a client sends, and building the frames of answers, in both framings."""

import asyncio
from dataclasses import dataclass
from typing import Protocol

from pymodbus.exceptions import NotImplementedException
from pymodbus.framer import FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU

from ..modbus import Framing

FRAME_SECONDS = 5.0
"""How long the rest of a Modbus TCP frame may take. Its bytes come in one packet."""

SILENCE_SECONDS = 0.5
"""A pause after which the beginning of an RTU frame no longer counts: on the network, 3.5 characters cannot be measured."""

HEADER_LENGTH = 7
MOST_LENGTH = 254
"""Bytes of a header, and the highest number in its length field: unit and PDU (Modbus Messaging on TCP/IP V1.0b, 3.1.3)."""

SHORTEST_RTU, LONGEST_RTU = 4, 256
"""Bytes of an RTU frame (Modbus over Serial Line V1.02, 2.5.1)."""

_DECODER = DecodePDU(is_server=True)
_SOCKET, _RTU = FramerSocket(_DECODER), FramerRTU(_DECODER)


class FrameBroken(Exception):
    """The client sends what is no Modbus, or too slowly: where the next frame begins is unknown."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RequestFrame:
    """One request: its transaction id (0 in RTU), the unit that it is for, and its PDU."""

    transaction: int
    unit: int
    pdu: bytes


class RequestFrames(Protocol):
    """The requests of one client."""

    answers_for_others: bool
    """Whether a request to another unit is answered, as a gateway does; on a serial line nobody would."""

    async def next(self) -> RequestFrame:
        """Wait for the next request. Raises FrameBroken, EOFError, OSError."""
        ...

    def build(self, request: RequestFrame, answer: bytes) -> bytes:
        """Return the frame of an answer's PDU."""
        ...


class TcpRequestFrames:
    """Modbus TCP."""

    answers_for_others = True

    def __init__(self, reader: asyncio.StreamReader) -> None:
        """Read from a client."""
        self._reader = reader

    async def next(self) -> RequestFrame:
        """Wait for the next request, however long; once it has begun, for all of it. Raises FrameBroken, EOFError, OSError."""
        begin = await self._reader.readexactly(1)
        try:
            async with asyncio.timeout(FRAME_SECONDS):
                header = begin + await self._reader.readexactly(HEADER_LENGTH - 1)
                length = int.from_bytes(header[4:6])
                if header[2:4] != b"\0\0" or not 2 <= length <= MOST_LENGTH:
                    raise FrameBroken
                pdu = await self._reader.readexactly(length - 1)
        except TimeoutError as slow:
            raise FrameBroken from slow
        return RequestFrame(transaction=int.from_bytes(header[:2]), unit=header[6], pdu=pdu)

    def build(self, request: RequestFrame, answer: bytes) -> bytes:
        """Return the frame of an answer's PDU, with the request's own transaction id."""
        return _SOCKET.encode(answer, request.unit, request.transaction)


class RtuRequestFrames:
    """RTU frames in TCP. What is no frame is dropped at the next pause, as a unit on a serial line does."""

    answers_for_others = False

    def __init__(self, reader: asyncio.StreamReader) -> None:
        """Read from a client."""
        self._reader = reader
        self._buffer = b""

    async def next(self) -> RequestFrame:
        """Wait for the next request. Raises EOFError, OSError."""
        while True:
            if (frame := self._take()) is not None:
                return frame
            try:
                async with asyncio.timeout(SILENCE_SECONDS if self._buffer else None):
                    data = await self._reader.read(LONGEST_RTU)
            except TimeoutError:
                self._buffer = b""
                continue
            if not data:
                raise EOFError
            self._buffer += data

    def build(self, request: RequestFrame, answer: bytes) -> bytes:
        """Return the frame of an answer's PDU."""
        return _RTU.encode(answer, request.unit, 0)

    def _take(self) -> RequestFrame | None:
        """Take the first frame out of the buffer; None if it is not there yet."""
        buffer = self._buffer
        if len(buffer) < SHORTEST_RTU:
            return None
        length = _rtu_length(buffer)
        end = len(buffer) if length is None else length
        if end <= LONGEST_RTU and len(buffer) < end:
            return None
        frame = buffer[:end]
        if end > LONGEST_RTU or FramerRTU.compute_CRC(frame[:-2]) != int.from_bytes(frame[-2:]):
            # Where the length is unknown, the rest may still come.
            self._buffer = buffer if length is None and end < LONGEST_RTU else b""
            return None
        self._buffer = buffer[end:]
        return RequestFrame(transaction=0, unit=frame[0], pdu=frame[1:-2])


def _rtu_length(buffer: bytes) -> int | None:
    """Return the length of the frame that begins here; None for an unknown function, whose frame ends with what has come."""
    kind = _DECODER.lookupPduClass(buffer)
    if kind is None:
        return None
    try:
        # Where the byte count has not come yet, the library returns 0.
        return kind.calculateRtuFrameSize(buffer) or len(buffer) + 1
    except NotImplementedException:
        return None


def frames_of(framing: Framing, reader: asyncio.StreamReader) -> RequestFrames:
    """Return the requests of one client in this framing."""
    return RtuRequestFrames(reader) if framing is Framing.RTU_OVER_TCP else TcpRequestFrames(reader)
