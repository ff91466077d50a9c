"""What the response to a request must look like, as far as the request determines it (Modbus Application Protocol V1.1b3, 6)."""

from dataclasses import dataclass
from functools import cache

from pymodbus.pdu import ModbusPDU

from .passed_request import PassedRequest
from .requests import READS_BY_FUNCTION

EXCEPTION_BIT = 0x80
"""Set in the function code of an exception response (Modbus Application Protocol V1.1b3, 7)."""

REPEATED = {5: 4, 6: 4, 15: 4, 16: 4, 22: 6}
"""Bytes of its own data that the response to a write repeats, by function (the same, 6)."""

EXCEPTION_LENGTH = 2
"""Bytes in the PDU of an exception response: function code and exception code."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ExpectedResponse:
    """The first bytes of the response's PDU, and its length in bytes; None: the request does not say."""

    prefix: bytes
    length: int | None

    @property
    def exception_prefix(self) -> bytes:
        """Return the first byte of an exception response to the same request."""
        return bytes((self.prefix[0] | EXCEPTION_BIT,))

    def matches(self, pdu: bytes) -> bool:
        """Return whether a PDU can be the response, or an exception response, to the request."""
        return (self.length in (None, len(pdu)) and pdu.startswith(self.prefix)) or (
            len(pdu) == EXCEPTION_LENGTH and pdu.startswith(self.exception_prefix)
        )


NO_RESPONSE = ExpectedResponse(prefix=b"\0", length=0)
"""Expected before the first request."""


def expected_response(request: ModbusPDU) -> ExpectedResponse:
    """Return what the response to a request looks like.

    A read returns a byte count and the registers. A write repeats the beginning of its own data. Of a passed request that is neither, only
    the function is known.
    """
    function = request.function_code
    if function in READS_BY_FUNCTION and not (isinstance(request, PassedRequest) and not request.is_read):
        return _expected_registers(function, request.count)
    size = REPEATED.get(function, 0)
    repeated = request.encode()[:size]
    if not size or len(repeated) < size:
        return ExpectedResponse(prefix=bytes((function,)), length=None)
    return ExpectedResponse(prefix=bytes((function,)) + repeated, length=1 + size)


@cache
def _expected_registers(function: int, count: int) -> ExpectedResponse:
    size = 2 * count
    return ExpectedResponse(prefix=bytes((function, size)), length=2 + size)
