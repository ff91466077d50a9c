"""What the response to a request must look like, as far as the request determines it (Modbus Application Protocol V1.1b3, 6)."""

from dataclasses import dataclass
from functools import cache

from pymodbus.pdu import ModbusPDU

from .requests import MASK_WRITE, READS_BY_FUNCTION

EXCEPTION_BIT = 0x80
"""Set in the function code of an exception response (Modbus Application Protocol V1.1b3, 7)."""

EXCEPTION_LENGTH = 2
"""Bytes in the PDU of an exception response: function code and exception code."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ExpectedResponse:
    """The first bytes of the response's PDU, and its length in bytes."""

    prefix: bytes
    length: int

    @property
    def exception_prefix(self) -> bytes:
        """Return the first byte of an exception response to the same request."""
        return bytes((self.prefix[0] | EXCEPTION_BIT,))

    def matches(self, pdu: bytes) -> bool:
        """Return whether a PDU can be the response, or an exception response, to the request."""
        return (len(pdu) == self.length and pdu.startswith(self.prefix)) or (
            len(pdu) == EXCEPTION_LENGTH and pdu.startswith(self.exception_prefix)
        )


NO_RESPONSE = ExpectedResponse(prefix=b"\0", length=0)
"""Expected before the first request."""


def expected_response(request: ModbusPDU) -> ExpectedResponse:
    """Return what the response to a request looks like.

    A read returns a byte count and the registers. A write returns the first four bytes of its own data, a mask write all six.
    """
    function = request.function_code
    if function in READS_BY_FUNCTION:
        return _expected_registers(function, request.count)
    repeated = request.encode()[: 6 if function == MASK_WRITE.function_code else 4]
    return ExpectedResponse(prefix=bytes((function,)) + repeated, length=1 + len(repeated))


@cache
def _expected_registers(function: int, count: int) -> ExpectedResponse:
    size = 2 * count
    return ExpectedResponse(prefix=bytes((function, size)), length=2 + size)
