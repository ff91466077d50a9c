"""A request to the inverter, as bytes and as what it asks for (Modbus Application Protocol V1.1b3, 6)."""

import struct
from dataclasses import dataclass

READ_HOLDING, READ_INPUT, WRITE_ONE, WRITE_SEVERAL, WRITE_MASK = 3, 4, 6, 16, 22
FUNCTION, ADDRESS, VALUE, BUSY = 1, 2, 3, 6
LONGEST_READ, LONGEST_WRITE = 125, 123


@dataclass(frozen=True, kw_only=True, slots=True)
class Request:
    """One request; `refusal` is the exception code for what makes no sense to any unit, 0 for a sound one."""

    unit: int
    function: int
    pdu: bytes
    first: int = 0
    count: int = 0
    values: tuple[int, ...] = ()
    """What is to be written; of a mask write its AND mask and its OR mask."""
    refusal: int = 0

    @property
    def is_write(self) -> bool:
        """Whether it changes something."""
        return self.function in {WRITE_ONE, WRITE_SEVERAL, WRITE_MASK}

    def touches(self, address: int) -> bool:
        """Return whether an address is among those it names."""
        return self.first <= address < self.first + self.count


def parse(unit: int, pdu: bytes) -> Request:
    """Return what a request's PDU asks for."""
    function = pdu[0]
    match function:
        case 3 | 4 if len(pdu) == 5:
            first, count = struct.unpack(">HH", pdu[1:])
            values: tuple[int, ...] = ()
            sound = 1 <= count <= LONGEST_READ
        case 6 if len(pdu) == 5:
            first, value = struct.unpack(">HH", pdu[1:])
            count, values, sound = 1, (value,), True
        case 22 if len(pdu) == 7:
            first, and_mask, or_mask = struct.unpack(">HHH", pdu[1:])
            count, values, sound = 1, (and_mask, or_mask), True
        case 16 if len(pdu) >= 6:
            first, count, size = struct.unpack(">HHB", pdu[1:6])
            sound = 1 <= count <= LONGEST_WRITE and size == 2 * count == len(pdu) - 6
            values = struct.unpack(f">{count}H", pdu[6:]) if sound else ()
        case _:
            refusal = VALUE if function in {3, 4, 6, 16, 22} else FUNCTION
            return Request(unit=unit, function=function, pdu=pdu, refusal=refusal)
    refusal = 0 if sound else VALUE
    if sound and first + count > 0x10000:
        refusal = ADDRESS
    return Request(unit=unit, function=function, pdu=pdu, first=first, count=count, values=values, refusal=refusal)


def exception(request: Request, code: int) -> bytes:
    """Return the PDU of an exception."""
    return bytes((request.function | 0x80, code))


def values_answer(request: Request, registers: list[int]) -> bytes:
    """Return the PDU that answers a read."""
    return struct.pack(f">BB{len(registers)}H", request.function, 2 * len(registers), *registers)


def written_answer(request: Request) -> bytes:
    """Return the PDU that answers a write: its first five bytes, or all of a mask write."""
    return request.pdu if request.function == WRITE_MASK else request.pdu[:5]


def masked(value: int, masks: tuple[int, ...]) -> int:
    """Return what a mask write makes of a register (Modbus Application Protocol V1.1b3, 6.16)."""
    and_mask, or_mask = masks
    return (value & and_mask) | (or_mask & ~and_mask & 0xFFFF)
