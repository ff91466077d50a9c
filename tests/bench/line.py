"""The serial line: what a frame costs in time, and how much time it has cost (Modbus over Serial Line V1.02)."""

import asyncio
from math import inf

CHARACTER_BITS = 11
FIXED_SILENCE_ABOVE_BAUD = 19_200
FIXED_SILENCE_S = 0.00175


class SerialLine:
    """Half duplex, one exchange at a time, in real time; lengths in characters, times in seconds."""

    def __init__(self, *, baud: int, turnaround: float, frame_gap: float = 0.0) -> None:
        """Begin silent; `frame_gap` is what an inverter needs between a frame and the next request."""
        self.character = CHARACTER_BITS / baud
        self.silence = FIXED_SILENCE_S if baud > FIXED_SILENCE_ABOVE_BAUD else 3.5 * self.character
        self.turnaround = turnaround
        self.frame_gap = frame_gap
        self.hurried = 0
        self.requests = 0
        self.bytes = 0
        self.busy = 0.0
        self.measured = 0.0
        self.waiting = 0.0
        self.collisions = 0
        self.damaged = 0
        self._deadline = 0.0
        self._mark = 0.0
        self._ended = -inf

    def hurries(self) -> bool:
        """Return whether a request that begins now comes too soon after the frame before, and count it if so."""
        hurried = asyncio.get_running_loop().time() - self._ended < self.frame_gap
        self.hurried += hurried
        return hurried

    async def request(self, length: int) -> None:
        """Carry a request, and the silence that ends it."""
        self.requests += 1
        self._deadline = self._mark = asyncio.get_running_loop().time()
        await self._carry(length, self.silence)

    async def answer(self, length: int) -> None:
        """Let the inverter turn around and answer, and carry the silence that ends it."""
        await self._carry(length, self.turnaround + self.silence)

    async def wait(self, seconds: float) -> None:
        """Hold the line for an answer that does not come."""
        await asyncio.sleep(seconds)
        self.waiting += seconds

    async def _carry(self, length: int, quiet: float) -> None:
        loop = asyncio.get_running_loop()
        seconds = length * self.character + quiet
        # Counting on from the last deadline keeps late wake-ups from adding up within an exchange.
        self._deadline += seconds
        await asyncio.sleep(self._deadline - loop.time())
        self.note(length, seconds)
        self.measured += loop.time() - self._mark
        self._mark = self._ended = loop.time()

    def note(self, length: int, seconds: float) -> None:
        """Count characters and the time that they took, quiet times included."""
        self.bytes += length
        self.busy += seconds
