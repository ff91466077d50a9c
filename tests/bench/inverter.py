"""The inverter: its memory, its clock, its battery, and the schedule on which it acts."""

import math
from datetime import datetime

from tests.bench.battery import CAPACITY_WH, Battery
from tests.bench.clock import Clock
from tests.bench.flow import Flow, flow
from tests.bench.house import House
from tests.bench.make import Make
from tests.bench.memory import Memory, Refused
from tests.bench.protocol import Acted, Acting
from tests.bench.readings import Readings, Totals
from tests.bench.request import ADDRESS, FUNCTION
from tests.bench.schedule import Duty, Task

LONGEST_STEP_S = 60.0


class Inverter:
    """One inverter of a make in simulated time; `start` is the world's local time at second 0, `clock` what its clock shows then."""

    def __init__(self, *, make: Make, unit: int, start: datetime, clock: datetime) -> None:
        self.make = make
        self.unit = unit
        self.serial = make.serial.format(41 + unit)
        self.battery = Battery()
        self.house = House()
        self.totals = Totals()
        self.answers = True
        self.acted: list[Acted] = []
        self._start = Clock(start, 0.0)
        self._at = 0.0
        self._memory = Memory(make, Clock(clock, 0.0))
        self._sensor = True
        self._forced_input: dict[int, int] = {}
        self._minute = self.clock.minute(0.0)
        self._day = self.clock.read(0.0).date()
        self._duty = Duty(task=Task.HOLD)
        self._act()

    def run_to(self, at: float) -> None:
        """Run on to the simulated second `at`, acting at each change of the clock's minute."""
        while self._at < at:
            until = min(at, self._at + LONGEST_STEP_S, self.clock.next_minute(self._at))
            self._step(until - self._at)
            self._at = until
            if self.clock.minute(until) != self._minute:
                self._act()

    @property
    def clock(self) -> Clock:
        """The clock that the inverter acts by."""
        return self._memory.clock.acting

    def read(self, table: str, first: int, count: int) -> list[int]:
        """Return raw registers as memory has them now; table `kept`: holding ones that it acts on. Raises Refused for what is not there."""
        make = self.make
        there = make.input if table == "input" else make.holding
        if not there:
            raise Refused(FUNCTION)
        if not all(address in there for address in range(first, first + count)):
            raise Refused(ADDRESS)
        if first - 1 in make.together or first + count - 1 in make.together:
            raise Refused(ADDRESS)
        registers = self._input() if table == "input" else self._shown_holding(kept=table == "kept")
        return [registers.get(address, 0) for address in range(first, first + count)]

    def check(self, function: int, first: int, values: list[int]) -> None:
        """Check what a write from the line must satisfy. Raises Refused."""
        self._memory.check(function, dict(enumerate(values, first)), self._at)

    def write(self, first: int, values: list[int]) -> None:
        """Put registers into holding memory, whatever their values; the inverter acts on them at once, or when it is told to save."""
        self._memory.write(dict(enumerate(values, first)), self._at)
        self._act()

    def panel(self, first: int, values: list[int]) -> None:
        """Write as its own panel does: it saves too."""
        self.write(first, values)
        self._memory.save()
        self._act()

    def restart(self) -> None:
        """Switch it off and on: what was not saved is lost."""
        self._memory.restart()
        self._act()

    def force_input(self, first: int, values: list[int] | None) -> None:
        """Show these raw input registers instead of what is measured; None = measure again, everywhere."""
        if values is None:
            self._forced_input.clear()
        else:
            self._forced_input |= dict(enumerate(values, first))

    def set_clock(self, local: datetime) -> None:
        """Set the clock, as its own panel does."""
        self._memory.clock.set(local, self._at)
        self._act()

    def set_battery(self, level: float | None, celsius: float | None, sensor: bool | None) -> None:
        """Set the level in %, the temperature of battery and air in degC, and whether its sensor works; None leaves one as it is."""
        if level is not None:
            if not 0 <= level <= 100:
                raise ValueError("level is 0 to 100")
            self.battery.stored_wh = level / 100 * CAPACITY_WH
        if celsius is not None:
            if not -50 <= celsius <= 120:
                raise ValueError("temperature is -50 to 120")
            self.battery.celsius = self.battery.ambient = celsius
        if sensor is not None:
            self._sensor = sensor

    @property
    def task(self) -> Task:
        """What the battery is used for now."""
        return self._duty.task

    @property
    def acting(self) -> Acting:
        """What the battery is to do now, and which window asks for it."""
        duty = self._duty
        return Acting(
            task=duty.task,
            by=duty.by,
            amps=duty.amps,
            watts=duty.watts,
            until=duty.until,
            from_grid=duty.from_grid,
        )

    def flow(self) -> Flow:
        """Return the powers of this moment."""
        return self._flow(1.0)

    def _flow(self, seconds: float) -> Flow:
        load_w, solar_w = self.house.at(self._start.read(self._at))
        highest = self.make.highest_charge_w(self._memory.kept)
        return flow(self.battery, self._duty, load_w, solar_w, highest, seconds)

    def _step(self, seconds: float) -> None:
        now = self._flow(seconds)
        self.battery.run(now.battery_w, now.battery_a, seconds)
        hours = seconds / 3600
        totals = self.totals
        totals.charged += max(now.battery_w, 0.0) * hours
        totals.discharged += max(-now.battery_w, 0.0) * hours
        totals.charged_today += max(now.battery_w, 0.0) * hours
        totals.discharged_today += max(-now.battery_w, 0.0) * hours
        totals.imported += max(now.grid_w, 0.0) * hours
        totals.exported += max(-now.grid_w, 0.0) * hours
        totals.load += now.load_w * hours
        totals.solar += now.solar_w * hours
        totals.running_seconds += seconds

    def _act(self) -> None:
        shown = self.clock.read(self._at)
        self._minute = self.clock.minute(self._at)
        if shown.date() != self._day:
            self._day = shown.date()
            self.totals.charged_today = self.totals.discharged_today = 0.0
        kept = self._memory.kept
        self._duty = self.make.duty(self._memory.acted_on(self._at), shown)
        armed = self.make.armed(kept)
        windows = [kept[address] for address in self.make.schedule] if armed else []
        if not self.acted or (armed, windows) != (self.acted[-1]["armed"], self.acted[-1]["windows"]):
            seconds = round(self._at, 3)
            self.acted.append(Acted(seconds=seconds, clock=shown.isoformat(), armed=armed, windows=windows))

    def _shown_holding(self, *, kept: bool) -> dict[int, int]:
        registers = self._memory.acted_on(self._at) if kept else self._memory.shown(self._at)
        if not self.make.in_holding:
            return registers
        measured = self._input()
        return registers | {address: measured.get(address, 0) for address in self.make.in_holding}

    def _input(self) -> dict[int, int]:
        return self.make.input_registers(self.readings()) | self._forced_input

    def readings(self) -> Readings:
        """Return everything measured at this moment."""
        now = self.flow()
        celsius = self.battery.celsius
        wave = math.sin(self._at / 97)
        busy = abs(now.battery_w) > 1
        return Readings(
            serial=self.serial,
            level=self.battery.level,
            battery_w=now.battery_w,
            battery_v=now.battery_v,
            battery_a=now.battery_a,
            battery_celsius=celsius,
            battery_sensor=self._sensor,
            cycles=self.totals.discharged / CAPACITY_WH,
            charge_limit=self.battery.charge_limit,
            discharge_limit=self.battery.discharge_limit,
            state=int(busy),
            alarms=int(celsius > 50) | int(celsius < 0) << 1,
            inverter_celsius=27.0 + abs(now.battery_w) / 400,
            grid_w=now.grid_w,
            grid_v=238.6 + 1.2 * wave,
            grid_hz=50.0 + 0.02 * wave,
            load_w=now.load_w,
            solar_w=now.solar_w,
            workshop_a=-0.35 - 0.05 * wave,
            insulation_ohm=2_140_000.0 if now.solar_w else 0.0,
            link_v=385.0 + wave,
            fan_rpm=1800.0 if busy else 0.0,
            roof_v=312.0 + 4 * wave if now.solar_w else 0.0,
            backup_v=230.0 if self.make.backup_on(self._memory.kept) else 0.0,
            totals=self.totals,
        )
