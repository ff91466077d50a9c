"""The clock as the line sees it: its registers, and, where the inverter has to be told to save, a second clock until it is."""

from collections.abc import Mapping

from tests.bench.clock import Clock
from tests.bench.make import Make


class ClockRegisters:
    """The clock that the inverter acts by, and the one that its registers show."""

    def __init__(self, make: Make, clock: Clock) -> None:
        self._make = make
        self.acting = clock
        self._written: Clock | None = None
        """What was written and not saved."""

    def shown(self, at: float) -> dict[int, int]:
        """Return the registers at a simulated second."""
        return self._registers(self._written or self.acting, at)

    def kept(self, at: float) -> dict[int, int]:
        """Return the registers by the clock that the inverter acts by."""
        return self._registers(self.acting, at)

    def touches(self, wanted: Mapping[int, int]) -> bool:
        """Return whether some of these registers are the clock's."""
        return not wanted.keys().isdisjoint(self._make.clock)

    def check(self, wanted: Mapping[int, int], at: float) -> None:
        """Check what would be written. Raises ValueError."""
        if self.touches(wanted):
            self._make.clock_from(self.shown(at) | dict(wanted))

    def write(self, wanted: Mapping[int, int], at: float) -> None:
        """Set the clock by its registers. Raises ValueError."""
        if not self.touches(wanted):
            return
        local = self._make.clock_from(self.shown(at) | dict(wanted))
        if self._make.clock_second not in wanted:
            local = local.replace(microsecond=(self._written or self.acting).read(at).microsecond)
        written = Clock(local, at)
        written.set_drift(self.acting.drift, at)
        if self._make.save:
            self._written = written
        else:
            self.acting.set(local, at)

    def save(self) -> None:
        """Act by what was written."""
        if self._written:
            self.acting, self._written = self._written, None

    def forget(self) -> None:
        """Lose what was not saved."""
        self._written = None

    def _registers(self, clock: Clock, at: float) -> dict[int, int]:
        return dict(self._make.clock_registers(clock.read(at)))
