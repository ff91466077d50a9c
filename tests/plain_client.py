"""A plain Modbus client, pymodbus alone, on the bench."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from pymodbus import FramerType
from pymodbus.client import AsyncModbusTcpClient

from tests.bench.remote import Bench


@asynccontextmanager
async def client(
    bench: Bench, *, framer: FramerType = FramerType.SOCKET, timeout: float = 5.0
) -> AsyncIterator[AsyncModbusTcpClient]:
    """A plain client that asks once and waits `timeout` seconds."""
    modbus = AsyncModbusTcpClient(bench.host, port=bench.port, framer=framer, timeout=timeout, retries=0)
    assert await modbus.connect()
    try:
        yield modbus
    finally:
        modbus.close()


async def inputs(modbus: AsyncModbusTcpClient, first: int, count: int = 1) -> list[int]:
    """Input registers from `first` on, as on the wire."""
    values: list[int] = (await modbus.read_input_registers(first, count=count)).registers
    return values


async def holdings(modbus: AsyncModbusTcpClient, first: int, count: int = 1) -> list[int]:
    """Holding registers from `first` on, as on the wire."""
    values: list[int] = (await modbus.read_holding_registers(first, count=count)).registers
    return values


async def input_code(modbus: AsyncModbusTcpClient, first: int, count: int = 1) -> int:
    """The exception that a read of input registers gets; 0 for none."""
    code: int = (await modbus.read_input_registers(first, count=count)).exception_code
    return code


async def holding_code(modbus: AsyncModbusTcpClient, first: int, count: int = 1) -> int:
    """The exception that a read of holding registers gets; 0 for none."""
    code: int = (await modbus.read_holding_registers(first, count=count)).exception_code
    return code


async def write_one(modbus: AsyncModbusTcpClient, address: int, value: int) -> int:
    """Write with function 6, and return the exception; 0 for none."""
    code: int = (await modbus.write_register(address, value)).exception_code
    return code


async def write_several(modbus: AsyncModbusTcpClient, first: int, values: list[int]) -> int:
    """Write with function 16, and return the exception; 0 for none."""
    code: int = (await modbus.write_registers(first, values)).exception_code
    return code
