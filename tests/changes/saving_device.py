"""A small inverter that has to be unlocked before it is written, and acts on what it was told to save; and its map."""

from collections.abc import AsyncIterator, Collection
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

from tests.bench.plain import HOLDING, Plain, Request, plain_device

UNLOCK, SAVE = 80, 90
KEY = 0xA5A5
SETTINGS = range(40, 64)
BUZZER = 40
FIRST_CHARGE = 51

MAP = """\
line: {timeout_ms: 300, settle_ms: 0}
readings:
  battery_level: {input: 100, unit: "%"}
controls:
  buzzer:
    holding: 40
    bit: 0
    name: Buzzer
    before_write: [{holding: 80, write: 0xA5A5, reads: 1, lasts: 60}]
    after_write: [{holding: 90, write: 1, activates: true}]
clock:
  holding: 42
  layout: six_registers
  keeps: local
  before_write: [{holding: 80, write: 0xA5A5, reads: 1, lasts: 60}]
  after_write: [{holding: 90, write: 1, activates: true}]
schedule:
  before_write: [{holding: 80, write: 0xA5A5, reads: 1, lasts: 60}]
  after_write: [{holding: 90, write: 1, activates: true}]
  charge:
    windows:
      - start: {holding: 51, layout: packed}
        end: {holding: 52, layout: packed}
        power: {holding: 54, min: 0, max: 5000}
"""

DECLARED = frozenset({BUZZER, *range(42, 48), 51, 52, 54, UNLOCK, SAVE})
NIGHT = {51: 0x1628, 52: 0x0214, 54: 2000}
LATER = {51: 0x1728, 52: 0x0314, 54: 2500}


@dataclass
class SavingDevice:
    """The inverter: `saved` is what it acts on."""

    plain: Plain
    saved: dict[int, int] = field(default_factory=dict)
    refuses_save: int | None = None
    """The exception to a save, if any."""

    @property
    def held(self) -> dict[int, int]:
        """Its settings as they read."""
        return {at: self.plain.registers[HOLDING][at] for at in SETTINGS}

    def hold(self, values: dict[int, int]) -> None:
        """Hold these settings, saved."""
        self.plain.registers[HOLDING] |= values
        self.saved = self.held

    def restart(self) -> None:
        """Lose what was not saved, and be locked."""
        self.plain.registers[HOLDING] |= {**self.saved, UNLOCK: 0}

    def saves_of(self, addresses: Collection[int]) -> dict[int, int]:
        """What it acts on, of some registers."""
        return {at: self.saved[at] for at in addresses}

    @property
    def written(self) -> list[int]:
        """The first register of each write that came so far."""
        return [first for first, _ in self.plain.written]

    def refuse(self, request: Request) -> int | None:
        """Refuse what is written while it is locked, and a save where that is ordered."""
        if not request.writes or request.touches(HOLDING, UNLOCK):
            return None
        if self.plain.registers[HOLDING][UNLOCK] != 1:
            return 2
        return self.refuses_save if request.touches(HOLDING, SAVE) else None

    def after(self, request: Request) -> None:
        """Unlock, or save."""
        if request.writes and request.touches(HOLDING, UNLOCK):
            self.plain.registers[HOLDING][UNLOCK] = int(request.values == (KEY,))
        if request.writes and request.touches(HOLDING, SAVE):
            self.saved = self.held
            self.plain.registers[HOLDING][SAVE] = 0


@asynccontextmanager
async def saving_device() -> AsyncIterator[SavingDevice]:
    """Serve one that holds the night's window."""
    holding = dict.fromkeys(range(40, 100), 0)
    async with plain_device(holding=holding, inputs={100: 50}) as plain:
        device = SavingDevice(plain)
        device.hold(NIGHT)
        plain.refuses, plain.after = device.refuse, device.after
        yield device
