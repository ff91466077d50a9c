"""The Modbus requests that Chargehand sends; there are no others."""

from pymodbus.pdu import ModbusPDU
from pymodbus.pdu.register_message import (
    MaskWriteRegisterRequest,
    ReadHoldingRegistersRequest,
    ReadInputRegistersRequest,
    WriteMultipleRegistersRequest,
    WriteSingleRegisterRequest,
)

READS: dict[str, type[ModbusPDU]] = {"input": ReadInputRegistersRequest, "holding": ReadHoldingRegistersRequest}
"""By table."""

READS_BY_FUNCTION = {kind.function_code: kind for kind in READS.values()}
TABLES = {kind.function_code: table for table, kind in READS.items()}
"""Tables by the function that reads them."""

MASK_WRITE = MaskWriteRegisterRequest
"""The request that changes bits of one holding register without reading it first (Modbus Application Protocol V1.1b3, 6.16)."""

WRITES_BY_FUNCTION = {kind.function_code: kind for kind in (WriteSingleRegisterRequest, WriteMultipleRegistersRequest)}
