"""What an answer to a request must look like, as far as the request tells (Modbus Application Protocol V1.1b3, 6)."""

from dataclasses import dataclass
from functools import cache

from pymodbus.pdu import ModbusPDU

from .requests import MASK_WRITE, READS_BY_FUNCTION

EXCEPTION = 0x80


@dataclass(frozen=True, kw_only=True, slots=True)
class Shape:
    """The answer's PDU: how it begins and how many bytes it has; an exception has two."""

    head: bytes
    length: int

    @property
    def refusal(self) -> bytes:
        """How an exception begins."""
        return bytes((self.head[0] | EXCEPTION,))

    def fits(self, pdu: bytes) -> bool:
        """Whether a PDU may be the answer."""
        return (len(pdu) == self.length and pdu.startswith(self.head)) or (
            len(pdu) == 2 and pdu.startswith(self.refusal)
        )


NOTHING = Shape(head=b"\0", length=0)
"""While nothing was asked."""


def shape_of_answer(request: ModbusPDU) -> Shape:
    """A read is answered with a count of bytes and the registers, a write with its own first four bytes, a mask write with all six."""
    function = request.function_code
    if function in READS_BY_FUNCTION:
        return _registers(function, request.count)
    echoed = request.encode()[: 6 if function == MASK_WRITE.function_code else 4]
    return Shape(head=bytes((function,)) + echoed, length=1 + len(echoed))


@cache
def _registers(function: int, count: int) -> Shape:
    size = 2 * count
    return Shape(head=bytes((function, size)), length=2 + size)
