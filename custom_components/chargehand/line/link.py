"""The Modbus library's client for an endpoint."""

from collections.abc import Callable

from pymodbus import FramerType
from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient, ModbusBaseClient

from .ear import Ear, RtuEar, TcpEar
from .endpoint import Endpoint, Framing
from .health import LineHealth

EARS: dict[Framing, type[Ear]] = {
    Framing.TCP: TcpEar,
    Framing.RTU_OVER_TCP: RtuEar,
    Framing.SERIAL: RtuEar,
}


def ear_for(endpoint: Endpoint, health: LineHealth, on_flood: Callable[[], None]) -> Ear:
    """What listens to an endpoint."""
    return EARS[endpoint.framing](health, on_flood)


def client_for(
    endpoint: Endpoint, ear: Ear, timeout: float, connection_changed: Callable[[bool], None]
) -> ModbusBaseClient:
    """Make a client that is not connected yet and hears through `ear`. It never connects by itself."""
    name = str(endpoint)
    client: ModbusBaseClient
    # The library's own reconnecting would go on in the background after an entry is unloaded.
    if endpoint.framing is Framing.SERIAL:
        client = AsyncModbusSerialClient(
            endpoint.device,
            baudrate=endpoint.baud,
            parity=endpoint.parity,
            stopbits=endpoint.stop_bits,
            name=name,
            timeout=timeout,
            reconnect_delay=0,
            trace_connect=connection_changed,
        )
    else:
        client = AsyncModbusTcpClient(
            endpoint.host,
            port=endpoint.port,
            framer=FramerType.SOCKET,
            name=name,
            timeout=timeout,
            reconnect_delay=0,
            trace_connect=connection_changed,
        )
    client.ctx.framer = ear
    return client


async def connect(client: ModbusBaseClient, ear: Ear) -> bool:
    """Connect, and begin to count ids; answers whether it worked."""
    ear.opened()
    # Not the client's own connect, which sleeps 0.1 s after every one.
    if not await client.ctx.connect():
        return False
    client.ctx.next_tid = ear.first_id - 1
    return True


def abandon(client: ModbusBaseClient) -> None:
    """Close a client that was closed while it was connecting, which the library takes for done."""
    client.ctx.is_closing = False
    client.close()
