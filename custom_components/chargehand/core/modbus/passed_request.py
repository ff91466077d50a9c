"""Another client's request, passed on to the unit byte by byte, and the answer to it."""

from struct import unpack_from
from typing import override

from pymodbus.pdu import ModbusPDU

from .requests import READS_BY_FUNCTION

READ_LENGTH = 5
"""Bytes in the PDU of a read: function, first address, number of registers (Modbus Application Protocol V1.1b3, 6.3)."""

MOST_READ = 125
"""Registers that one read can have (the same)."""


class PassedRequest(ModbusPDU):
    """A request of any function, also of one that nobody here knows."""

    def __init__(self, pdu: bytes, unit: int) -> None:
        """Take the bytes of the PDU. Only a read of registers has an address and a count; all others of one function look alike."""
        super().__init__(dev_id=unit)
        self.function_code = pdu[0]
        self.pdu = pdu
        if self.is_read:
            self.address, self.count = unpack_from(">HH", pdu, 1)

    @property
    def is_read(self) -> bool:
        """Return whether this is a well-formed read of registers."""
        pdu = self.pdu
        well_formed = pdu[0] in READS_BY_FUNCTION and len(pdu) == READ_LENGTH
        return well_formed and 1 <= int.from_bytes(pdu[3:]) <= MOST_READ

    @override
    def encode(self) -> bytes:
        """Return everything behind the function code, as it came."""
        return self.pdu[1:]


class PassedResponse(ModbusPDU):
    """The answer to a passed request, an exception or not."""

    def __init__(self, pdu: bytes) -> None:
        """Take the bytes of the PDU."""
        super().__init__()
        self.function_code = pdu[0]
        self.pdu = pdu
        if self.isError():
            self.exception_code = pdu[1]
