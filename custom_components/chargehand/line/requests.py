"""The Modbus library's requests that are used; there are no others."""

from pymodbus.pdu import ModbusPDU
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadInputRegistersRequest,
    WriteMultipleRegistersRequest,
    WriteSingleRegisterRequest,
)

READS: dict[str, type[ModbusPDU]] = {"input": ReadInputRegistersRequest, "holding": ReadHoldingRegistersRequest}
"""By table."""

READS_BY_FUNCTION = {kind.function_code: kind for kind in READS.values()}
WRITES_BY_FUNCTION = {kind.function_code: kind for kind in (WriteSingleRegisterRequest, WriteMultipleRegistersRequest)}
