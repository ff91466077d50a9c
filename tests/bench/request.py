"""A request to the inverter, as bytes and as what it asks for (Modbus Application Protocol V1.1b3, 6)."""

import struct
from dataclasses import dataclass

READ_HOLDING, READ_INPUT, WRITE_ONE, WRITE_SEVERAL = 3, 4, 6, 16
FUNCTION, ADDRESS, VALUE = 1, 2, 3
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
    refusal: int = 0

    @property
    def is_write(self) -> bool:
        """Whether it changes something."""
        return self.function in {WRITE_ONE, WRITE_SEVERAL}

    def touches(self, address: int) -> bool:
        """Whether an address is among those it names."""
        return self.first <= address < self.first + self.count


def parse(unit: int, pdu: bytes) -> Request:
    """What a request's PDU asks for."""
    function = pdu[0]
    match function:
        case 3 | 4 if len(pdu) == 5:
            first, count = struct.unpack(">HH", pdu[1:])
            values: tuple[int, ...] = ()
            sound = 1 <= count <= LONGEST_READ
        case 6 if len(pdu) == 5:
            first, value = struct.unpack(">HH", pdu[1:])
            count, values, sound = 1, (value,), True
        case 16 if len(pdu) >= 6:
            first, count, size = struct.unpack(">HHB", pdu[1:6])
            sound = 1 <= count <= LONGEST_WRITE and size == 2 * count == len(pdu) - 6
            values = struct.unpack(f">{count}H", pdu[6:]) if sound else ()
        case _:
            refusal = VALUE if function in {3, 4, 6, 16} else FUNCTION
            return Request(unit=unit, function=function, pdu=pdu, refusal=refusal)
    refusal = 0 if sound else VALUE
    if sound and first + count > 0x10000:
        refusal = ADDRESS
    return Request(unit=unit, function=function, pdu=pdu, first=first, count=count, values=values, refusal=refusal)


def exception(request: Request, code: int) -> bytes:
    """The PDU of an exception."""
    return bytes((request.function | 0x80, code))


def values_answer(request: Request, registers: list[int]) -> bytes:
    """The PDU that answers a read."""
    return struct.pack(f">BB{len(registers)}H", request.function, 2 * len(registers), *registers)


def written_answer(request: Request) -> bytes:
    """The PDU that answers a write: its first five bytes."""
    return request.pdu[:5]
