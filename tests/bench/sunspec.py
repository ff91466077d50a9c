"""A Modbus TCP server of its own process that shows a given image of holding registers, and nothing else: `python -m tests.bench.sunspec`.

One JSON object a line in: `{"first": 40000, "values": [...]}` puts registers there, `{"clear": true}` takes all away, `{}` does
nothing. One a line out: first `{"port": P}`, then after each line `{"reads": R, "writes": W}`, the requests so far: R with
function 3, W with any other but 4, the read of input registers; all but function 3 are refused. Registers that were not put there are refused with exception 2. It ends
when its standard input does. Reads of at most 125 registers (Modbus Application Protocol V1.1b3, 6.3).
"""

import asyncio
import json
import sys
from contextlib import suppress
from dataclasses import dataclass, field

_READ_HOLDING, _READ_INPUT = 3, 4
_LONGEST_READ = 125


@dataclass
class Image:
    """Holding registers by address, and the requests that came for them."""

    registers: dict[int, int] = field(default_factory=dict)
    reads: int = 0
    writes: int = 0

    def answer(self, pdu: bytes) -> bytes:
        """Return the answer to a request, both from the function code on."""
        function = pdu[0]
        if function != _READ_HOLDING:
            self.writes += function != _READ_INPUT
            return bytes((function | 0x80, 1))
        self.reads += 1
        first, count = int.from_bytes(pdu[1:3]), int.from_bytes(pdu[3:5])
        if not 0 < count <= _LONGEST_READ:
            return bytes((function | 0x80, 3))
        try:
            values = b"".join(self.registers[address].to_bytes(2) for address in range(first, first + count))
        except KeyError:
            return bytes((function | 0x80, 2))
        return bytes((function, len(values))) + values

    async def talk(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Serve one client: a header of seven bytes, its fifth and sixth the length from the unit on."""
        with suppress(asyncio.IncompleteReadError, ConnectionError):
            while True:
                header = await reader.readexactly(7)
                pdu = self.answer(await reader.readexactly(int.from_bytes(header[4:6]) - 1))
                writer.write(header[:4] + (len(pdu) + 1).to_bytes(2) + header[6:] + pdu)
                await writer.drain()
        writer.close()

    def order(self, line: str) -> None:
        """Carry out one line of standard input."""
        order = json.loads(line)
        if order.get("clear"):
            self.registers.clear()
        self.registers |= dict(enumerate(order.get("values", []), start=order.get("first", 0)))


async def run() -> None:
    """Serve on a free port of loopback until standard input ends."""
    image = Image()
    server = await asyncio.start_server(image.talk, "127.0.0.1", 0)
    print(json.dumps({"port": server.sockets[0].getsockname()[1]}), flush=True)
    # A thread reads, because not every standard input can be waited for by the event loop.
    while line := await asyncio.to_thread(sys.stdin.readline):
        image.order(line)
        print(json.dumps({"reads": image.reads, "writes": image.writes}), flush=True)
    server.close()
    server.close_clients()


if __name__ == "__main__":
    asyncio.run(run())
