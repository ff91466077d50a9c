"""The weeks before: the bench's own inverter, battery and all, run through them in seconds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from tests.bench.house import House
from tests.bench.inverter import Inverter
from tests.bench.readings import Totals
from tests.bench.teasel import CHARGE, TEASEL, WINDOW_REGISTERS

from .weather import STEP, ZONE, powers

CLOCK_OFF_S = 2.0

CHARGE_WINDOWS = CHARGE[0].start
"""Address of the first window register."""

METERS = {
    "load_energy": "load",
    "solar_energy": "solar",
    "grid_energy_imported": "imported",
    "grid_energy_exported": "exported",
    "battery_energy_charged": "charged",
    "battery_energy_discharged": "discharged",
}
"""The inverter's counters as Chargehand names them, and as the bench does."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Sample:
    """The inverter at one moment: the level in %, and the counters in Wh."""

    at: datetime
    level: float
    totals: Totals


class Past:
    """One inverter from a moment in the past on; `samples` every five minutes."""

    def __init__(self, first: datetime) -> None:
        """Begin at an aware moment, on a step, with the schedule that the bench is made with."""
        self._first = self.now = first.astimezone(UTC)
        local = self._local()
        self._inverter = Inverter(make=TEASEL, unit=1, start=local, clock=local)
        self.samples = [self._sample()]

    def run_to(self, moment: datetime) -> None:
        """Run on to an aware moment."""
        until = moment.astimezone(UTC)
        while self.now < until:
            step = self._first + ((self.now - self._first) // STEP + 1) * STEP
            load, solar = powers(self.now)
            self._inverter.house = House(load=(load,) * 24, solar=(solar,) * 24)
            self.now = min(step, until)
            self._inverter.run_to((self.now - self._first).total_seconds())
            self._keep_clock()
            if self.now == step:
                self.samples.append(self._sample())

    @property
    def level(self) -> int:
        """The level in %, as the inverter's register shows it."""
        return round(self._inverter.battery.level)

    counters = tuple(METERS.values())

    @property
    def exact_level(self) -> float:
        """The level in %."""
        return self._inverter.battery.level

    def hold(self, windows: Sequence[Mapping[str, Any]]) -> None:
        """Hold these charge windows of a plan, and no others."""
        self._inverter.write(CHARGE_WINDOWS, window_registers(windows))

    @property
    def held(self) -> list[int]:
        """The registers of all charge windows."""
        return self._inverter.read("holding", CHARGE_WINDOWS, WINDOW_REGISTERS * len(CHARGE))

    def ending_at(self, totals: Mapping[str, float]) -> list[Sample]:
        """Return the samples with counters that go on to these, in Wh by the bench's names."""
        ended = self._sample().totals
        shifts = {name: wh - getattr(ended, name) for name, wh in totals.items()}
        return [
            replace(one, totals=replace(one.totals, **{n: getattr(one.totals, n) + by for n, by in shifts.items()}))
            for one in self.samples
        ]

    def hourly(self, meter: str) -> list[tuple[datetime, float]]:
        """Return what a counter of METERS rose by in each whole hour, in kWh."""
        whole = [one for one in self.samples if not one.at.minute]
        kwh = [getattr(one.totals, METERS[meter]) / 1000 for one in whole]
        return [(one.at, after - before) for one, before, after in zip(whole[:-1], kwh[:-1], kwh[1:], strict=True)]

    def _sample(self) -> Sample:
        return Sample(at=self.now, level=self._inverter.battery.level, totals=replace(self._inverter.totals))

    def _keep_clock(self) -> None:
        """Set the clock when the house's was moved, as the owner or Chargehand does."""
        shown = self._inverter.clock.read((self.now - self._first).total_seconds())
        if abs((shown - self._local()).total_seconds()) > CLOCK_OFF_S:
            self._inverter.set_clock(self._local())

    def _local(self) -> datetime:
        return self.now.astimezone(ZONE).replace(tzinfo=None)


def window_registers(windows: Sequence[Mapping[str, Any]]) -> list[int]:
    """Return the registers of all charge windows, those without a window at 0."""
    registers: list[int] = []
    for window in windows:
        start, end = (int(window[edge].replace(":", "")) for edge in ("start", "end"))
        registers += [start, round(window["power"]), round(window["stop_level"]), end]
    return registers + [0] * (WINDOW_REGISTERS * len(CHARGE) - len(registers))
