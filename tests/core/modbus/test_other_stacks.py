"""The same reads and writes against two other Modbus stacks, umodbus and pyModbusTCP, by TCP and through a pseudo-terminal."""

import asyncio
import logging
import os
import select
import threading
import tty
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from pathlib import Path
from socketserver import ThreadingTCPServer
from typing import Any

import pytest
from pyModbusTCP.server import DataBank, ModbusServer
from umodbus.server.serial import get_server as serial_server
from umodbus.server.serial.rtu import RTUServer
from umodbus.server.tcp import RequestHandler
from umodbus.server.tcp import get_server as tcp_server

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, NoAnswer, NoConnection, Refused
from custom_components.chargehand.core.modbus.back_off import FIRST_DELAY
from tests.core.modbus.peers import open_files

pytestmark = pytest.mark.usefixtures("socket_enabled")

INPUT = {444: 55, 445: 0xFFFF, 446: 0x8000}
HOLDING = {732: 1, 733: 20, 734: 0, 735: 1000}
TIMEOUT_MS = 400


class Terminal:
    """The far end of a pseudo-terminal as the serial port that umodbus expects."""

    baudrate = 115200
    inter_byte_timeout = 0.0
    timeout = 0.0

    def __init__(self) -> None:
        self.far, self.near = os.openpty()
        tty.setraw(self.near)
        self.device = os.ttyname(self.near)
        self.deaf = False

    def read(self, most: int) -> bytes:
        """Return what comes until nothing has come for 5 ms: a frame."""
        data = b""
        wait = 0.02
        while len(data) < most and select.select([self.far], [], [], wait)[0]:
            data += os.read(self.far, most - len(data))
            wait = 0.005
        return b"" if self.deaf else data

    def write(self, data: bytes) -> None:
        os.write(self.far, data)

    def close(self) -> None:
        for end in (self.far, self.near):
            os.close(end)


def routed(server: Any) -> Any:
    """Return a umodbus server with the registers, unit 1."""
    holding = dict(HOLDING)

    @server.route(slave_ids=[1], function_codes=[4], addresses=list(INPUT))
    def read_input(slave_id: int, function_code: int, address: int) -> int:
        return INPUT[address]

    @server.route(slave_ids=[1], function_codes=[3], addresses=list(HOLDING))
    def read_holding(slave_id: int, function_code: int, address: int) -> int:
        return holding[address]

    @server.route(slave_ids=[1], function_codes=[6, 16], addresses=list(HOLDING))
    def write_holding(slave_id: int, function_code: int, address: int, value: int) -> None:
        holding[address] = value

    return server


@contextmanager
def umodbus_tcp() -> Iterator[Endpoint]:
    class Server(ThreadingTCPServer):
        daemon_threads = True

    server = routed(tcp_server(Server, ("127.0.0.1", 0), RequestHandler))
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    yield Endpoint(host="127.0.0.1", port=server.server_address[1], framing=Framing.TCP)
    server.shutdown()
    server.server_close()
    thread.join()


@contextmanager
def umodbus_serial(terminal: Terminal) -> Iterator[Endpoint]:
    server = routed(serial_server(RTUServer, terminal))
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    yield Endpoint(device=terminal.device, baud=115200, framing=Framing.SERIAL)
    server.shutdown()
    thread.join()


@contextmanager
def pymodbustcp() -> Iterator[Endpoint]:
    bank = DataBank()
    for first, value in INPUT.items():
        bank.set_input_registers(first, [value])
    for first, value in HOLDING.items():
        bank.set_holding_registers(first, [value])
    server = ModbusServer("127.0.0.1", 0, no_block=True, data_bank=bank)
    server.start()
    yield Endpoint(host="127.0.0.1", port=server._service.server_address[1], framing=Framing.TCP)
    server.stop()


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    terminal = Terminal()
    yield terminal
    terminal.close()


@pytest.fixture(params=["umodbus by TCP", "umodbus through a terminal", "pyModbusTCP"])
async def line(request: pytest.FixtureRequest, terminal: Terminal) -> AsyncIterator[Line]:
    stack = {
        "umodbus by TCP": umodbus_tcp,
        "umodbus through a terminal": lambda: umodbus_serial(terminal),
        "pyModbusTCP": pymodbustcp,
    }[request.param]
    with stack() as endpoint:
        gateway = Gateway(endpoint)
        yield Line(gateway, unit=1, timeout_ms=TIMEOUT_MS)
        gateway.close()
        await asyncio.sleep(0.05)


async def test_reads_and_writes_mean_the_same_to_other_stacks(line: Line) -> None:
    assert await line.read("input", 444, 3) == (55, 0xFFFF, 0x8000)
    assert await line.read("holding", 732, 4) == (1, 20, 0, 1000)
    await line.write(733, [30, 2])
    await line.write(735, [65535], function=6)
    assert await line.read("holding", 732, 4) == (1, 30, 2, 65535)


async def test_an_address_that_is_not_there_is_refused_by_other_stacks_too(line: Line) -> None:
    with pytest.raises(Refused) as refused:
        await line.read("holding", 65535, 2)
    assert refused.value.code == 2
    assert await line.read("input", 444, 1) == (55,)


async def test_an_adapter_that_is_pulled_out_is_no_connection(terminal: Terminal) -> None:
    with umodbus_serial(terminal) as endpoint:
        gateway = Gateway(endpoint)
        line = Line(gateway, unit=1, timeout_ms=TIMEOUT_MS)
        assert await line.read("input", 444, 1) == (55,)
    reading = asyncio.create_task(line.read("input", 444, 1))
    await asyncio.sleep(0.1)
    os.close(terminal.far)
    terminal.far = os.open(os.devnull, os.O_RDONLY)
    with pytest.raises(NoConnection):
        await reading
    gateway.close()


async def test_an_adapter_that_is_put_back_is_found_again_under_its_name(tmp_path: Path) -> None:
    """By a connection that follows the adapter to whatever device it has become, as those of /dev/serial/by-id do."""
    name = tmp_path / "adapter"
    gateway = Gateway(Endpoint(device=str(name), baud=115200, framing=Framing.SERIAL))
    line = Line(gateway, unit=1, timeout_ms=TIMEOUT_MS)
    for _ in range(2):
        terminal = Terminal()
        name.symlink_to(terminal.device)
        with umodbus_serial(terminal):
            await asyncio.sleep(FIRST_DELAY)
            assert await line.read("input", 444, 1) == (55,)
        # Pulled out while nothing is asked.
        name.unlink()
        terminal.close()
        await asyncio.sleep(0.05)
        with pytest.raises(NoConnection):
            await line.read("input", 444, 1)
    gateway.close()


async def test_an_adapter_that_another_program_has_is_no_connection(terminal: Terminal) -> None:
    with umodbus_serial(terminal) as endpoint:
        first, second = Gateway(endpoint), Gateway(endpoint)
        assert await Line(first, unit=1, timeout_ms=TIMEOUT_MS).read("input", 444, 1) == (55,)
        with pytest.raises(NoConnection):
            await Line(second, unit=1, timeout_ms=TIMEOUT_MS).read("input", 444, 1)
        first.close()
        await asyncio.sleep(FIRST_DELAY)
        assert await Line(second, unit=1, timeout_ms=TIMEOUT_MS).read("input", 444, 1) == (55,)
        second.close()


@pytest.mark.parametrize("requests", [0, 1, 2, 20])
async def test_an_adapter_that_is_given_up_while_it_is_opened_or_silent_is_closed_at_once(
    terminal: Terminal, requests: int, caplog: pytest.LogCaptureFixture
) -> None:
    before = open_files()
    gateway = Gateway(Endpoint(device=terminal.device, framing=Framing.SERIAL))
    reading = asyncio.create_task(Line(gateway, unit=1, timeout_ms=60_000).read("input", 444, 1))
    for _ in range(requests):
        await asyncio.sleep(0)
    gateway.close()
    async with asyncio.timeout(5):
        with pytest.raises(NoConnection):
            await reading
    await asyncio.sleep(0.01)
    assert open_files() == before
    assert not [record for record in caplog.records if record.levelno >= logging.ERROR]


@pytest.mark.parametrize("device", ["/dev/no-such-adapter", "no-such-kind://adapter"])
async def test_a_device_that_is_not_there_is_no_connection(device: str) -> None:
    line = Line(Gateway(Endpoint(device=device, framing=Framing.SERIAL)), unit=1, timeout_ms=TIMEOUT_MS)
    with pytest.raises(NoConnection, match=device):
        await line.read("input", 444, 1)


async def test_a_silent_inverter_on_an_adapter_is_no_answer_and_answers_again_later(terminal: Terminal) -> None:
    with umodbus_serial(terminal) as endpoint:
        gateway = Gateway(endpoint)
        line = Line(gateway, unit=1, timeout_ms=150)
        terminal.deaf = True
        with pytest.raises(NoAnswer):
            await line.read("input", 444, 1)
        terminal.deaf = False
        assert await line.read("input", 444, 1) == (55,)
        gateway.close()
