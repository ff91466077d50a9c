"""A gateway that makes one master of many: it queues its clients' requests and waits for each one's answer."""

import asyncio

from tests.bench.faults import NO_FAULT, Fault
from tests.bench.framing import RTU_EXTRA, Damaged, Frame, mbap, rtu, take_mbap, take_rtu
from tests.bench.front import Client, Front
from tests.bench.line import SerialLine
from tests.bench.plant import Plant
from tests.bench.request import Request, exception, parse

TARGET_SILENT = 0x0B
GATEWAY_CODES = {0x0A, TARGET_SILENT}
"""Exceptions that a gateway answers by itself (Modbus Application Protocol V1.1b3, 7)."""


class QueueingGateway:
    """Requests of all clients, one at a time, in the order in which they came."""

    def __init__(
        self, *, front: Front, line: SerialLine, plant: Plant, mbap: bool, timeout: float, own_ids: bool
    ) -> None:
        self.own_ids = own_ids
        self._front = front
        self._line = line
        self._plant = plant
        self._mbap = mbap
        self._timeout = timeout
        self._id = 0x5A00
        self._queue: asyncio.Queue[tuple[Client, Frame]] = asyncio.Queue()

    def receive(self, client: Client, data: bytes) -> None:
        """Queue every whole frame, and drop everything else."""
        client.stream += data
        take = take_mbap if self._mbap else take_rtu
        try:
            while frame := take(client.stream):
                self._queue.put_nowait((client, frame))
        except Damaged:
            self._line.damaged += 1

    def forget(self) -> None:
        """Drop what is queued."""
        while not self._queue.empty():
            self._queue.get_nowait()

    async def run(self) -> None:
        """Carry requests for ever."""
        while True:
            client, frame = await self._queue.get()
            await self._exchange(client, frame)

    async def _exchange(self, client: Client, frame: Frame) -> None:
        request = parse(frame.unit, frame.pdu)
        hurried = self._line.hurries()
        if hurried or not self._plant.listens(frame.unit):
            await self._line.request(len(frame.pdu) + RTU_EXTRA)
            await self._wait_in_vain(client, frame, request)
            return
        fault = self._plant.faults.meet(request, client.name)
        if self._stays_in_gateway(fault):
            pdu = self._plant.serve(request, client.name, fault)
        else:
            await self._line.request(len(frame.pdu) + RTU_EXTRA)
            pdu = self._plant.serve(request, client.name, fault)
            if fault.how.answers == "never" and fault.gateway_answers:
                await self._wait_in_vain(client, frame, request)
                return
            if fault.how.reaches or fault.how.answers != "never":
                await self._line.answer(len(pdu) + RTU_EXTRA)
        self._answer(client, frame, pdu, fault)

    def _stays_in_gateway(self, fault: Fault) -> bool:
        """Return whether a fault keeps the request off the serial line."""
        if fault.how.reaches:
            return False
        return fault.how.answers == "reset" or (fault.kind == "exception" and fault.code in GATEWAY_CODES)

    async def _wait_in_vain(self, client: Client, frame: Frame, request: Request) -> None:
        await self._line.wait(self._timeout)
        self._answer(client, frame, exception(request, TARGET_SILENT), NO_FAULT)

    def _answer(self, client: Client, frame: Frame, pdu: bytes, fault: Fault) -> None:
        wrong = int(fault.how.answers == "wrong_id")
        if self._mbap:
            self._id = (self._id + 1) % 0x10000
            transaction = self._id if self.own_ids else frame.transaction
            answer = mbap((transaction + wrong) % 0x10000, frame.unit, pdu)
        else:
            answer = rtu((frame.unit + wrong) % 0x100, pdu)
        self._front.deliver(client, answer, fault)
