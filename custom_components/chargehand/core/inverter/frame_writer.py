"""Sending write requests to one inverter. Everything that is ever written passes here."""

from collections.abc import Callable

from ..modbus import Line, LineCounts
from ..registers import RegisterMap
from ..schedule import Frame
from .change_state import ChangeState


class FrameWriter:
    """Sends write requests, only to registers that the map declares as writable."""

    def __init__(self, register_map: RegisterMap, line: Line, changes: ChangeState) -> None:
        """Set up a writer that records each request in `changes`."""
        self._map = register_map
        self._line = line
        self._changes = changes
        self.on_written: Callable[[int], None] | None = None
        """Called before each write request, with the number of registers in it."""

    async def write(self, frame: Frame, counts: LineCounts | None = None) -> None:
        """Send one write request. Raises ValueError for a register that the map does not declare as writable, and LineError."""
        if barred := set(frame.addresses) - self._map.writable:
            raise ValueError(f"register {min(barred)[1]} may not be written: no part of the map declares it")
        self._changes.record_write()
        if self.on_written is not None:
            self.on_written(len(frame.values))
        if frame.mask is not None:
            await self._line.write_mask(frame.first, ~frame.mask & 0xFFFF, frame.values[0], counts=counts)
            return
        function = 16 if frame.whole else self._map.line.write_function
        await self._line.write(frame.first, frame.values, function=function, counts=counts)
