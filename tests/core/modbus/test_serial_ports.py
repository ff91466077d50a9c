"""Serial ports of every kind that the platform's selector offers: what works through them, and why one is refused."""

import asyncio
import os
import socket
import threading
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path

import pytest
import serial
from serial.rfc2217 import PortManager

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, NoConnection
from tests.bench.remote import Bench
from tests.bench.teasel import RATED_POWER, RESERVE_LEVEL, SERIAL_NUMBER
from tests.conftest import QUICK
from tests.pseudo_terminal import adapter_to

pytestmark = pytest.mark.usefixtures("socket_enabled")


@asynccontextmanager
async def line_to(device: str, **adapter: object) -> AsyncIterator[Line]:
    gateway = Gateway(Endpoint(device=device, framing=Framing.SERIAL, **adapter))  # type: ignore[arg-type]
    yield Line(gateway, unit=1, timeout_ms=1000)
    gateway.close()


async def reads_and_writes(line: Line, bench: Bench) -> None:
    assert list(await line.read("input", SERIAL_NUMBER, 8)) == await bench.registers("input", SERIAL_NUMBER, 8)
    await line.write(RESERVE_LEVEL, [42])
    assert await line.read("holding", RESERVE_LEVEL, 1) == (42,)


@pytest.mark.parametrize(
    "adapter", [{}, {"baud": 19200, "parity": "E"}, {"baud": 115200, "parity": "O", "stop_bits": 2}]
)
async def test_an_adapter_of_this_computer(adapter: dict[str, object]) -> None:
    async with (
        await Bench.start(**QUICK, gateway="transparent") as bench,
        adapter_to(bench.port) as device,
        line_to(device, **adapter) as line,
    ):
        await reads_and_writes(line, bench)


async def test_it_is_opened_and_set_up_outside_of_the_event_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    here = threading.get_ident()
    opened: list[int] = []
    really = os.open

    def noting(path: str, flags: int, *rest: int, **named: int) -> int:
        if str(path).startswith("/dev/pts/"):
            opened.append(threading.get_ident())
        return really(path, flags, *rest, **named)

    async with await Bench.start(**QUICK, gateway="transparent") as bench, adapter_to(bench.port) as device:
        monkeypatch.setattr(os, "open", noting)
        async with line_to(device) as line:
            await reads_and_writes(line, bench)
    assert opened
    assert here not in opened


async def test_an_adapter_is_not_opened_again_for_an_answer_that_does_not_come(monkeypatch: pytest.MonkeyPatch) -> None:
    """Opening it may reset what is wired to its handshake lines, and nothing is held up in it."""
    async with (
        await Bench.start(**QUICK, gateway="transparent") as bench,
        adapter_to(bench.port) as device,
        line_to(device) as line,
    ):
        await line.read("input", SERIAL_NUMBER, 8)
        connection = line.gateway._connection
        await bench.fault("no_answer")
        assert list(await line.read("input", SERIAL_NUMBER, 8)) == await bench.registers("input", SERIAL_NUMBER, 8)
        assert line.gateway._connection is connection


@pytest.mark.parametrize("kind", ["socket", "tcp"])
async def test_a_port_in_the_network_that_passes_bytes(kind: str) -> None:
    async with (
        await Bench.start(**QUICK, gateway="transparent") as bench,
        line_to(f"{kind}://{bench.host}:{bench.port}") as line,
    ):
        await reads_and_writes(line, bench)


class FarEnd(serial.Serial):
    """What a pseudo-terminal lacks and the server wants: handshake lines, and a parity to keep in mind."""

    cts = dsr = ri = cd = rts = dtr = False

    @property
    def parity(self) -> str:
        return self._requested

    @parity.setter
    def parity(self, parity: str) -> None:
        self._requested, self._parity = parity, serial.PARITY_NONE


class Acknowledging(PortManager):
    """It leaves two commands without the acknowledgement that RFC 2217 asks for: the masks of line and modem states, 10 and 11."""

    def _telnet_process_subnegotiation(self, suboption: bytes) -> None:
        super()._telnet_process_subnegotiation(suboption)
        if suboption[1] in {10, 11}:
            self.rfc2217_send_subnegotiation(bytes((suboption[1] + 100,)), suboption[2:3])


@contextmanager
def rfc2217_server(device: str) -> Iterator[tuple[int, serial.Serial]]:
    """pyserial's own server side of RFC 2217 on loopback, for one client, with a device behind it."""
    port = FarEnd(device, timeout=0.01)
    ended = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def serve() -> None:
            peer, _ = listener.accept()
            peer.settimeout(0.01)

            class Connection:
                def write(self, data: bytes) -> None:
                    peer.sendall(data)

            manager = Acknowledging(port, Connection())
            with peer:
                while not ended.is_set():
                    if data := port.read(port.in_waiting or 1):
                        peer.sendall(b"".join(manager.escape(data)))
                    try:
                        came = peer.recv(1024)
                    except TimeoutError:
                        continue
                    except ConnectionError:
                        return
                    if not came:
                        return
                    port.write(b"".join(manager.filter(came)))

        thread = threading.Thread(target=serve)
        thread.start()
        yield listener.getsockname()[1], port
        ended.set()
        thread.join()
    port.close()


async def test_a_port_in_the_network_by_rfc_2217_takes_baud_rate_and_parity() -> None:
    async with await Bench.start(**QUICK, gateway="transparent") as bench, adapter_to(bench.port) as device:
        with rfc2217_server(device) as (port, far):
            async with line_to(f"rfc2217://127.0.0.1:{port}", baud=19200, parity="E", stop_bits=2) as line:
                await reads_and_writes(line, bench)
                assert (far.baudrate, far.parity, far.stopbits) == (19200, "E", 2)
            await asyncio.sleep(0.1)


@pytest.mark.parametrize(
    ("device", "why"),
    [
        ("/dev/no-such-adapter", "No such file or directory"),
        ("/dev/null", "Inappropriate ioctl for device"),
        ("no-such-kind://adapter", "No handler registered for URI scheme"),
        ("socket://127.0.0.1", "expected both host and port"),
        ("socket://127.0.0.1:1", "Connect call failed"),
        ("rfc2217://127.0.0.1:1", "Connect call failed"),
        ("esphome://127.0.0.1/?port_name=bus", ""),
    ],
)
async def test_one_that_cannot_be_opened_says_why(device: str, why: str) -> None:
    async with line_to(device) as line:
        with pytest.raises(NoConnection) as refused:
            await line.read("input", SERIAL_NUMBER, 8)
        assert why in refused.value.why
        assert refused.value.why
        with pytest.raises(NoConnection) as again:
            await line.read("input", SERIAL_NUMBER, 8)
        assert again.value.why == refused.value.why, "also while it is not tried again yet"


async def test_a_server_that_is_no_rfc_2217_ends_in_time() -> None:
    """It takes the connection and answers none of the options; the line's own time-out ends it."""
    async with await Bench.start(**QUICK, gateway="transparent") as bench:
        gateway = Gateway(Endpoint(device=f"rfc2217://{bench.host}:{bench.port}", framing=Framing.SERIAL))
        with pytest.raises(NoConnection):
            await Line(gateway, unit=1, timeout_ms=300).read("input", SERIAL_NUMBER, 8)
        gateway.close()


async def test_an_adapter_that_was_just_let_go_is_had_at_once(tmp_path: Path) -> None:
    """A form that has tried it gives it back, and the entry that is made of it opens it in the next moment."""
    async with await Bench.start(**QUICK, gateway="transparent") as bench, adapter_to(bench.port) as device:
        for _ in range(10):
            async with line_to(device) as line:
                assert await line.read("holding", RATED_POWER, 1) == (5000,)
