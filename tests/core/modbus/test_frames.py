"""What goes over the wire, against the worked frames of the Modbus specification and another stack's arithmetic."""

import asyncio
from collections.abc import AsyncIterator

import pytest

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, NoAnswer, NoConnection, Refused
from custom_components.chargehand.core.registers import bus_seconds

pytestmark = pytest.mark.usefixtures("socket_enabled")


class Recorder:
    """A peer that keeps what it is sent and returns prepared PDUs; it knows nothing of Modbus but the header's length."""

    def __init__(self, *answers: bytes) -> None:
        self.answers = list(answers)
        self.requests: list[bytes] = []
        self.port = 0

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while header := await reader.read(6):
            body = await reader.readexactly(int.from_bytes(header[4:6]))
            self.requests.append(body[1:])
            answer = body[:1] + self.answers.pop(0)
            writer.write(header[:4] + len(answer).to_bytes(2) + answer)
        writer.close()


@pytest.fixture
async def recorder() -> AsyncIterator[Recorder]:
    peer = Recorder()
    server = await asyncio.start_server(peer.serve, "127.0.0.1", 0)
    peer.port = server.sockets[0].getsockname()[1]
    yield peer
    server.close()


@pytest.fixture
async def line(recorder: Recorder) -> AsyncIterator[Line]:
    gateway = Gateway(Endpoint(host="127.0.0.1", port=recorder.port, framing=Framing.TCP))
    yield Line(gateway, unit=17, timeout_ms=500, busy_ms=0)
    gateway.close()


async def test_a_read_of_holding_registers_is_the_specifications_worked_frame(recorder: Recorder, line: Line) -> None:
    """Modbus Application Protocol V1.1b3, 6.3: registers 108-110, answered 022B 0000 0064 (frames from memory)."""
    recorder.answers = [bytes.fromhex("03 06 02 2B 00 00 00 64")]
    assert await line.read("holding", 0x6B, 3) == (0x022B, 0, 0x64)
    assert recorder.requests == [bytes.fromhex("03 00 6B 00 03")]


async def test_a_read_of_input_registers_is_the_specifications_worked_frame(recorder: Recorder, line: Line) -> None:
    """Modbus Application Protocol V1.1b3, 6.4: input register 9, answered 000A (frames from memory)."""
    recorder.answers = [bytes.fromhex("04 02 00 0A")]
    assert await line.read("input", 8, 1) == (0x0A,)
    assert recorder.requests == [bytes.fromhex("04 00 08 00 01")]


async def test_a_write_of_one_register_is_the_specifications_worked_frame(recorder: Recorder, line: Line) -> None:
    """Modbus Application Protocol V1.1b3, 6.6: register 2 to 0003, echoed (frames from memory)."""
    recorder.answers = [bytes.fromhex("06 00 01 00 03")]
    await line.write(1, [3], function=6)
    assert recorder.requests == [bytes.fromhex("06 00 01 00 03")]


async def test_a_write_of_several_registers_is_the_specifications_worked_frame(recorder: Recorder, line: Line) -> None:
    """Modbus Application Protocol V1.1b3, 6.12: registers 2-3 to 000A 0102 (frames from memory)."""
    recorder.answers = [bytes.fromhex("10 00 01 00 02")]
    await line.write(1, [0x0A, 0x0102])
    assert recorder.requests == [bytes.fromhex("10 00 01 00 02 04 00 0A 01 02")]


@pytest.mark.parametrize("code", [1, 2, 3, 4, 5, 6, 10, 11])
async def test_an_exception_has_its_code(recorder: Recorder, line: Line, code: int) -> None:
    """Modbus Application Protocol V1.1b3, 7: function + 0x80, then the code."""
    recorder.answers = [bytes([0x83, code])]
    with pytest.raises(Refused) as refused:
        await line.read("holding", 0, 1)
    assert refused.value.code == code


async def test_an_answer_with_fewer_registers_than_requested_is_none(recorder: Recorder, line: Line) -> None:
    recorder.answers = [bytes.fromhex("03 02 00 64")]
    with pytest.raises(NoAnswer):
        await line.read("holding", 0, 3)


async def test_an_answer_to_another_function_is_none(recorder: Recorder, line: Line) -> None:
    recorder.answers = [bytes.fromhex("04 02 00 64")]
    with pytest.raises(NoAnswer):
        await line.read("holding", 0, 1)


async def test_a_write_whose_answer_names_another_register_is_not_answered(recorder: Recorder, line: Line) -> None:
    recorder.answers = [bytes.fromhex("10 00 05 00 02")]
    with pytest.raises(NoAnswer):
        await line.write(1, [10, 258])


async def test_function_6_takes_one_register() -> None:
    gateway = Gateway(Endpoint(host="127.0.0.1", port=1, framing=Framing.TCP))
    with pytest.raises(ValueError, match="one register"):
        await Line(gateway, unit=1).write(0, [1, 2], function=6)


async def test_a_line_that_was_closed_connects_no_more(recorder: Recorder, line: Line) -> None:
    line.gateway.close()
    with pytest.raises(NoConnection):
        await line.read("holding", 0, 1)


def test_the_time_of_a_read_is_the_serial_lines() -> None:
    """Modbus over Serial Line V1.02, 2.5.1: 11 bits a character; at 9600 baud 1.146 ms (worked by hand).

    58 registers: (8 + 5 + 116) characters and two silences of 3.5 are 136 x 1.1458 ms = 155.83 ms, and 30 ms turnaround.
    """
    assert bus_seconds(58, baud=9600, turnaround=0.03) == pytest.approx(0.18583, abs=5e-5)
    # Above 19 200 baud the silence is 1.75 ms: (13 + 20) x 11 / 115200 s = 3.151 ms and 3.5 ms.
    assert bus_seconds(10, baud=115200, turnaround=0) == pytest.approx(0.0066510, abs=1e-6)
