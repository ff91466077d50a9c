"""The registers that one commit reads and writes."""

from collections.abc import Collection, Sequence

from ..modbus import LineCounts, LineError
from ..registers import Address, Group
from ..schedule import CommitSteps, Frame, Image
from .frame_writer import FrameWriter
from .reader import InverterReader


class ScaleMoved(LineError):
    """A power of ten, or what limits are a percentage of, changed since the commit began: what was written now means something else."""


class CommitRegisters:
    """The registers that one commit reads and writes. Those that are not `named` have to stay as they are."""

    def __init__(
        self,
        reader: InverterReader,
        writer: FrameWriter,
        groups: Sequence[Group],
        named: Collection[Address],
        counts: LineCounts,
        *,
        steps: CommitSteps | None = None,
    ) -> None:
        """Set up the registers of `groups`, of which the `named` ones may be written. `counts` counts the requests, `steps` tells of them."""
        self._reader = reader
        self._writer = writer
        self._addresses = tuple(address for group in groups for address in group)
        self._groups = tuple(groups)
        self._scales = tuple(address for address in self._addresses if address not in named)
        self._first: Image | None = None
        self._counts = counts
        self._steps = steps or CommitSteps()
        self.registers_read = 0
        """Registers that the last `read` read, with those between the commit's own."""

    async def read(self) -> Image:
        """Read the whole image. Raises LineError."""
        self._steps.reads()
        raw = await self._reader.reads.read_groups(self._groups, urgent=True, counts=self._counts)
        self.registers_read = len(raw)
        # A batch also reads registers between the commit's own. The clock among them changes all the time.
        image = {address: raw[address] for address in self._addresses}
        self._first = self._first or image
        if any(image[address] != self._first[address] for address in self._scales):
            raise ScaleMoved("the power of ten or rated power that it is kept with changed meanwhile")
        return image

    async def read_some(self, addresses: Collection[Address]) -> Image:
        """Read some of the registers. Raises LineError."""
        groups = [(address,) for address in addresses]
        raw = await self._reader.reads.read_groups(groups, urgent=True, counts=self._counts)
        return {address: raw[address] for address in addresses}

    async def write(self, frame: Frame) -> None:
        """Send one write request. Raises LineError."""
        self._steps.writes()
        await self._writer.write(frame, self._counts)
