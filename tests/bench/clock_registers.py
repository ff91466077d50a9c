"""The clock as the line sees it: its registers, which another clock stands behind until it is saved, where it has to be."""

from collections.abc import Mapping
from datetime import datetime

from tests.bench.clock import Clock
from tests.bench.make import Make

_WEEK = 7


class ClockRegisters:
    """The clock that the inverter acts by, and the one that its registers show."""

    def __init__(self, make: Make, clock: Clock) -> None:
        self._make = make
        self.acting = clock
        self._written: Clock | None = None
        """What was written and not saved."""
        self._waiting: dict[int, int] = {}
        """Registers that make no date until others are written too."""
        self._weekday_ahead = 0
        """Days from the date's weekday to the one that the clock has counted."""

    def shown(self, at: float) -> dict[int, int]:
        """Return the registers at a simulated second."""
        return self._registers(self._written or self.acting, at) | self._waiting

    def kept(self, at: float) -> dict[int, int]:
        """Return the registers by the clock that the inverter acts by."""
        return self._registers(self.acting, at)

    def set(self, local: datetime, at: float) -> None:
        """Set it as the panel does, weekday and all."""
        self.acting.set(local, at)
        self._weekday_ahead = 0
        self._waiting.clear()

    def check(self, wanted: Mapping[int, int], at: float) -> None:
        """Check what would be written. Raises ValueError."""
        if not self._make.clock_waits and not wanted.keys().isdisjoint(self._make.clock):
            self._make.clock_from(self.shown(at) | dict(wanted))

    def write(self, wanted: Mapping[int, int], at: float) -> None:
        """Set the clock by its registers. Raises ValueError."""
        weekday = self._make.clock_weekday
        mine = {one: value for one, value in wanted.items() if one in self._make.clock and one != weekday}
        day = None if weekday is None else wanted.get(weekday, self.kept(at)[weekday])
        if mine:
            self._write(mine, at)
        if weekday is not None and day is not None:
            self._weekday_ahead = (day - self._make.clock_registers(self.acting.read(at))[weekday]) % _WEEK

    def save(self) -> None:
        """Act by what was written."""
        if self._written:
            self.acting, self._written = self._written, None

    def forget(self) -> None:
        """Lose what was not saved."""
        self._written = None
        self._waiting.clear()

    def _write(self, mine: dict[int, int], at: float) -> None:
        try:
            local = self._make.clock_from(self.shown(at) | mine)
        except ValueError:
            if not self._make.clock_waits:
                raise
            self._waiting |= mine
            return
        if self._make.clock_second not in mine:
            local = local.replace(microsecond=(self._written or self.acting).read(at).microsecond)
        self._waiting.clear()
        if self._make.save:
            self._written = Clock(local, at)
            self._written.set_drift(self.acting.drift, at)
        else:
            self.acting.set(local, at)

    def _registers(self, clock: Clock, at: float) -> dict[int, int]:
        registers = dict(self._make.clock_registers(clock.read(at)))
        weekday = self._make.clock_weekday
        if weekday is not None:
            registers[weekday] = (registers[weekday] + self._weekday_ahead) % _WEEK
        return registers
