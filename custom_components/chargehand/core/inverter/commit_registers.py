"""Some registers of one inverter, read and written as a commit does it."""

from collections.abc import Awaitable, Callable, Collection, Sequence

from ..modbus import LineCounts, LineError
from ..registers import Address, Batch, Group
from ..schedule import Frame, Image
from .reads import Reads

type WriteFrame = Callable[[Frame, LineCounts], Awaitable[None]]
"""Sends one write request. Raises LineError."""


class ScaleMoved(LineError):
    """A power of ten is another than when the work began: what was written by it now means something else."""


class CommitRegisters:
    """Some registers of one inverter, read and written as a commit does it. Those that are not `named` have to stay as they are."""

    def __init__(
        self,
        reads: Reads,
        write: WriteFrame,
        groups: Sequence[Group],
        named: Collection[Address],
        counts: LineCounts,
    ) -> None:
        """Read the registers of `groups`; of these, those that are `named` may be written."""
        self._reads = reads
        self._write = write
        self._addresses = tuple(address for group in groups for address in group)
        self._batches = reads.batches(groups)
        self._scales = tuple(address for address in self._addresses if address not in named)
        self._first: Image | None = None
        self._counts = counts
        self.registers_read = 0

    async def read(self) -> Image:
        """Read the whole image. Raises LineError."""
        self.registers_read = sum(batch.count for batch in self._batches)
        image = await self._read(self._batches, self._addresses)
        self._first = self._first or image
        if any(image[address] != self._first[address] for address in self._scales):
            raise ScaleMoved("the power of ten that it is kept with changed meanwhile")
        return image

    async def read_some(self, addresses: Collection[Address]) -> Image:
        """Read some of its registers. Raises LineError."""
        return await self._read(self._reads.batches([(address,) for address in addresses]), addresses)

    async def _read(self, batches: Sequence[Batch], addresses: Collection[Address]) -> Image:
        raw: dict[Address, int] = {}
        for batch in batches:
            raw |= await self._reads.read_batch(batch, urgent=True, counts=self._counts)
        # A batch runs across registers that are not the schedule's; the clock among them never stands still.
        return {address: raw[address] for address in addresses}

    async def write(self, frame: Frame) -> None:
        """Send one write request. Raises LineError."""
        await self._write(frame, self._counts)
