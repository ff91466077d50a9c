"""A gateway that knows no frames: all its TCP clients' bytes go onto one bus, and what is answered goes to all of them.

Two masters on one bus collide. Where bytes of two clients run into each other, or into an answer, they are lost.
"""

import asyncio
from enum import Enum, auto

from tests.bench.faults import Fault
from tests.bench.framing import Damaged, rtu, take_rtu
from tests.bench.front import Client, Front
from tests.bench.line import SerialLine
from tests.bench.plant import Plant
from tests.bench.request import parse


class _Bus(Enum):
    LISTENING = auto()
    TURNING = auto()
    """The inverter has a request and makes its answer."""
    ANSWERING = auto()


class TransparentGateway:
    """Bytes from TCP go out in the order in which they came; an inverter answers what it can make sense of."""

    def __init__(self, *, front: Front, line: SerialLine, plant: Plant) -> None:
        self._front = front
        self._line = line
        self._plant = plant
        self._bus = _Bus.LISTENING
        self._sent_until = 0.0
        self._answers_at = 0.0
        self._spoilt = False
        self._speaker: Client | None = None
        self._frame = bytearray()
        self._silence: asyncio.TimerHandle | None = None

    def receive(self, client: Client, data: bytes) -> None:
        """Send a client's bytes as soon as those before them are out."""
        loop = asyncio.get_running_loop()
        start = max(loop.time(), self._sent_until)
        self._sent_until = start + len(data) * self._line.character
        loop.call_at(start, self._on_bus, client, data, self._sent_until)

    def forget(self) -> None:
        """Drop what has been received so far."""
        self._frame.clear()

    def _on_bus(self, client: Client, data: bytes, until: float) -> None:
        self._line.note(len(data), len(data) * self._line.character)
        if self._bus is not _Bus.LISTENING:
            self._line.collisions += 1
            self._spoilt |= self._bus is _Bus.ANSWERING or until > self._answers_at
            return
        if self._frame and client is not self._speaker:
            self._line.collisions += 1
        self._frame += data
        self._speaker = client
        if self._silence:
            self._silence.cancel()
        loop = asyncio.get_running_loop()
        self._silence = loop.call_at(until + self._line.silence, self._frame_ended, client)

    def _frame_ended(self, client: Client) -> None:
        self._silence = None
        stream, self._frame = self._frame, bytearray()
        try:
            frame = take_rtu(stream)
        except Damaged:
            frame = None
        if frame is None or stream:
            self._line.damaged += 1
            return
        self._line.requests += 1
        if not self._plant.listens(frame.unit):
            return
        request = parse(frame.unit, frame.pdu)
        fault = self._plant.faults.meet(request, client.name)
        pdu = self._plant.serve(request, client.name, fault)
        if not fault.how.reaches and fault.how.answers in {"never", "reset"}:
            self._front.deliver(client, b"", fault)
            return
        self._send_answer(client, frame.unit, pdu, fault)

    def _send_answer(self, client: Client, unit: int, pdu: bytes, fault: Fault) -> None:
        wrong = int(fault.how.answers == "wrong_id")
        answer = rtu((unit + wrong) % 0x100, pdu)
        loop = asyncio.get_running_loop()
        self._bus, self._spoilt = _Bus.TURNING, False
        self._answers_at = loop.time() + self._line.turnaround
        ends = self._answers_at + len(answer) * self._line.character
        self._line.note(len(answer), ends + 2 * self._line.silence - loop.time())
        loop.call_at(self._answers_at, self._start_answer)
        loop.call_at(ends + self._line.silence, self._answered, client, answer, fault)

    def _start_answer(self) -> None:
        self._bus = _Bus.ANSWERING

    def _answered(self, client: Client, answer: bytes, fault: Fault) -> None:
        self._bus = _Bus.LISTENING
        if fault.how.answers == "reset":
            client.reset()
            return
        if self._spoilt:
            half = len(answer) // 2
            answer = answer[:half] + bytes(byte ^ 0x55 for byte in answer[half:])
        for listener in tuple(self._front.clients):
            self._front.deliver(listener, answer, fault)
