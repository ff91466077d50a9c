"""One request of the data logger: what it reads, and what it may change (Modbus Application Protocol V1.1b3, 6)."""

import struct
from collections.abc import Callable
from dataclasses import dataclass

from ..registers import Table

READS_ONLY = frozenset({1, 2, 3, 4, 7, 11, 12, 17, 20, 24, 43})
"""Functions of the standard that change no register. Any other one, also an unknown one, may write."""

WRITES = frozenset({5, 6, 15, 16, 21, 22, 23})
"""Functions of the standard that write. What an unknown one does, nobody here can tell."""

EXCEPTION_BIT = 0x80
BAD_FUNCTION, BAD_ADDRESS, BUSY, NO_TARGET = 1, 2, 6, 11
"""Exceptions that Chargehand itself answers with (the same, 7)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Stretch:
    """Registers that follow each other."""

    table: Table
    first: int
    count: int


@dataclass(frozen=True, kw_only=True, slots=True)
class LoggerRequest:
    """A request's PDU, and as much of it as is known."""

    pdu: bytes
    reads: Stretch | None = None
    writes: Stretch | None = None
    values: tuple[int, ...] = ()
    """The values that the written registers are to have; empty if unknown."""

    @property
    def function(self) -> int:
        """Return the function code."""
        return self.pdu[0]

    @property
    def may_write(self) -> bool:
        """Return whether the request may change registers."""
        return self.function not in READS_ONLY

    @property
    def is_write(self) -> bool:
        """Return whether the request is known to write."""
        return self.function in WRITES


def parse(pdu: bytes) -> LoggerRequest:
    """Return what a request says. One that is not well-formed says nothing; it is the inverter's to refuse it."""
    read = _PARSERS.get(pdu[0])
    try:
        return LoggerRequest(pdu=pdu) if read is None else read(pdu)
    except struct.error, ValueError:
        return LoggerRequest(pdu=pdu)


def exception(pdu: bytes, code: int) -> bytes:
    """Return the PDU of an exception to a request."""
    return bytes((pdu[0] | EXCEPTION_BIT, code))


def _read(pdu: bytes) -> LoggerRequest:
    first, count = struct.unpack(">HH", pdu[1:])
    return LoggerRequest(pdu=pdu, reads=_stretch(Table.HOLDING if pdu[0] == 3 else Table.INPUT, first, count))


def _write_single(pdu: bytes) -> LoggerRequest:
    first, value = struct.unpack(">HH", pdu[1:])
    return LoggerRequest(pdu=pdu, writes=_stretch(Table.HOLDING, first, 1), values=(value,))


def _write_multiple(pdu: bytes) -> LoggerRequest:
    first, count, size = struct.unpack_from(">HHB", pdu, 1)
    return LoggerRequest(pdu=pdu, writes=_stretch(Table.HOLDING, first, count), values=_values(pdu[6:], count, size))


def _write_mask(pdu: bytes) -> LoggerRequest:
    first, _and_mask, _or_mask = struct.unpack(">HHH", pdu[1:])
    return LoggerRequest(pdu=pdu, writes=_stretch(Table.HOLDING, first, 1))


def _read_and_write(pdu: bytes) -> LoggerRequest:
    first, count, written, width, size = struct.unpack_from(">HHHHB", pdu, 1)
    return LoggerRequest(
        pdu=pdu,
        reads=_stretch(Table.HOLDING, first, count),
        writes=_stretch(Table.HOLDING, written, width),
        values=_values(pdu[10:], width, size),
    )


_PARSERS: dict[int, Callable[[bytes], LoggerRequest]] = {
    3: _read,
    4: _read,
    6: _write_single,
    16: _write_multiple,
    22: _write_mask,
    23: _read_and_write,
}


def _stretch(table: Table, first: int, count: int) -> Stretch:
    """Return a stretch that a request can have. Raises ValueError."""
    if not 1 <= count <= 125 or first + count > 0x10000:
        raise ValueError("no such stretch of registers")
    return Stretch(table=table, first=first, count=count)


def _values(data: bytes, count: int, size: int) -> tuple[int, ...]:
    """Return the values that a request writes. Raises ValueError where its counts do not agree."""
    if not len(data) == size == 2 * count:
        raise ValueError("the counts do not agree")
    return struct.unpack(f">{count}H", data)
