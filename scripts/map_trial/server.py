"""The simulated inverter on a TCP port, served by pymodbus."""

from collections.abc import Callable

from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from custom_components.chargehand.core.registers import Table

from .inverter import WRITES, Refusal, TrialInverter
from .said import acting

READ_HOLDING, READ_INPUT = 3, 4
"""Function codes (Modbus Application Protocol V1.1b3, 6)."""

type Tell = Callable[[str], None]


def server(inverter: TrialInverter, host: str, port: int, tell: Tell) -> ModbusTcpServer:
    """Return a server of the map's unit address; what is written and refused is told, with which windows act then."""

    async def access(  # noqa: PLR0917 - pymodbus calls it so.
        function: int, start: int, address: int, count: int, registers: list[int], values: list[int] | list[bool] | None
    ) -> ExcCodes | None:
        before = acting(inverter)
        try:
            if values is None:
                registers[address - start : address - start + count] = inverter.read(_table(function), address, count)
                return None
            inverter.write(function, address, [int(value) for value in values])
        except Refusal as refusal:
            tell(f"refused, exception {refusal.code:02d}: {refusal}")
            return refusal.code
        written = ", ".join(str(int(value)) for value in values)
        tell(f"written from register {address}: {written}")
        if (now := acting(inverter)) != before:
            tell(now)
        return None

    # pymodbus wants all four tables; the two of bits are never served.
    bits, registers = [SimData(0, datatype=DataType.BITS)], [SimData(0, count=1 << 16, datatype=DataType.REGISTERS)]
    device = SimDevice(inverter.map.line.unit, simdata=(bits, bits, registers, registers), action=access)
    return ModbusTcpServer(device, address=(host, port))


def _table(function: int) -> Table:
    """Return the table that a function reads; pymodbus reads what was written by the function that wrote it."""
    if function == READ_INPUT:
        return Table.INPUT
    if function in {READ_HOLDING, *WRITES}:
        return Table.HOLDING
    raise Refusal(ExcCodes.ILLEGAL_FUNCTION, f"an inverter has no use for function {function}")
