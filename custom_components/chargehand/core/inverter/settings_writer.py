"""Writing one control, and the time into the clock, with what the map has written around them."""

from collections.abc import Callable

from ..modbus import LineCounts, LineError
from ..reasons import Reason
from ..registers import Clock, ClockPoint, Control, Point, Value
from ..schedule import (
    NOT_SAVED,
    SAVE_REFUSED,
    ChangeWriter,
    CommitSession,
    Image,
    NotTaken,
    Sent,
    Uncertain,
    Why,
    frames,
)
from .commit_registers import CommitRegisters
from .commit_rules import MapCommitRules
from .frame_writer import FrameWriter
from .reader import InverterReader


class SettingsWriter:
    """Writes single settings of one inverter. Whoever calls it holds the lock of changes."""

    def __init__(self, reader: InverterReader, writer: FrameWriter, rules: MapCommitRules) -> None:
        """Know of nothing that it is saved."""
        self._reader = reader
        self._writer = writer
        self._rules = rules
        self._saved: set[str] = set()
        """Controls of which what they hold is known to be saved. Any other is saved when it is set, even to what it holds already."""

        self._unsaved: set[str] = set()
        """Controls whose last change was to be saved, and may not have been."""

    async def write_control(self, control: Control, value: Value) -> tuple[Value, Image]:
        """Write a control, and return the value and the registers read back.

        Raises ValueRefused or LineError before the write, NotTaken or Uncertain after.
        """
        rules = self._rules.for_control(control)
        key, was_saved = control.key, control.key in self._saved
        session = CommitSession(
            self._registers(control.point), rules, owes_save=key in self._unsaved, is_saved=lambda _image: was_saved
        )
        before = await session.read()
        session.decide({**before, **control.encode(value, before)})
        self._saved.discard(key)
        try:
            await session.write()
            taken = await session.prove()
        except Uncertain:
            self._unsaved.add(key)
            raise
        except NotTaken:
            self._unsaved.discard(key)
            if was_saved:
                self._saved.add(key)
            raise
        self._unsaved.discard(key)
        self._saved.add(key)
        shown = control.decode(taken.image)
        return value if shown is None else shown, taken.image

    async def write_clock(self, clock: Clock, time: Callable[[], Image]) -> None:
        """Write what `time` returns once the inverter takes it. Raises LineError, or NotTaken where the inverter did not take or save it."""
        rules = self._rules.for_clock(clock)
        writer = ChangeWriter(self._registers(clock.point), rules)
        if await writer.unlock() is not Sent.ANSWERED:
            raise _failure(writer.sender.why)
        values = time()
        # Write the whole clock, even registers that are right already: half a time must not stay for long.
        other = {address: value ^ 1 for address, value in values.items()}
        for frame in frames(other, values, rules.frames):
            if await writer.send(frame) is not Sent.ANSWERED:
                raise _failure(writer.sender.why)
        saved = await writer.save()
        if saved is not Sent.ANSWERED:
            raise _failure(SAVE_REFUSED if saved is Sent.REFUSED else NOT_SAVED)

    def _registers(self, point: Point | ClockPoint) -> CommitRegisters:
        return CommitRegisters(self._reader, self._writer, point.groups, point.addresses, LineCounts())


def _failure(why: Why) -> LineError | NotTaken:
    return NotTaken(why, {}) if isinstance(why, Reason) else why
