"""The holding registers of an inverter: what the line reads and writes, and what the inverter acts on."""

from collections.abc import Mapping

from tests.bench.clock import Clock
from tests.bench.clock_registers import ClockRegisters
from tests.bench.make import Make
from tests.bench.request import ADDRESS, FUNCTION, VALUE, WRITE_SEVERAL


class Refused(Exception):
    """The inverter answers an exception; `code` is its code."""

    def __init__(self, code: int) -> None:
        super().__init__(f"exception {code}")
        self.code = code


class Memory:
    """Settings, windows and the clock. `kept` is what the inverter acts on; only a make that has to be told to save has it apart."""

    def __init__(self, make: Make, clock: Clock) -> None:
        self._make = make
        self.clock = ClockRegisters(make, clock)
        self.kept = {address: make.at_start.get(address, 0) for address in make.holding}
        self._held = dict(self.kept)
        self._unlocked_until = 0.0

    def shown(self, at: float) -> dict[int, int]:
        """Return what a read gives at a simulated second."""
        return self._held | self.clock.shown(at) | self._commands(at)

    def acted_on(self, at: float) -> dict[int, int]:
        """Return the same of what the inverter acts on, and keeps over a restart."""
        return self.kept | self.clock.kept(at) | self._commands(at)

    def check(self, function: int, wanted: Mapping[int, int], at: float) -> None:
        """Check what a write from the line must satisfy. Raises Refused."""
        make = self._make
        if function not in make.writes:
            raise Refused(FUNCTION)
        if not make.writable.issuperset(wanted):
            raise Refused(ADDRESS)
        self._check_slots(function, list(wanted))
        if make.lock and at >= self._unlocked_until and not make.lock.guards.isdisjoint(wanted):
            raise Refused(make.lock.code)
        image = self.shown(at) | dict(wanted)
        if any(make.refuses(image, address) for address in wanted):
            raise Refused(VALUE)
        try:
            self.clock.check(wanted, at)
        except ValueError:
            raise Refused(VALUE) from None

    def write(self, wanted: Mapping[int, int], at: float) -> None:
        """Put registers here, whatever their values, and carry out the commands among them. Raises Refused."""
        try:
            self.clock.write(wanted, at)
        except ValueError:
            raise Refused(VALUE) from None
        make = self._make
        commands = {one.register for one in (make.save, make.lock) if one}
        self._held |= {one: value for one, value in wanted.items() if one not in make.clock and one not in commands}
        if make.lock and wanted.get(make.lock.register) == make.lock.key:
            self._unlocked_until = at + make.lock.seconds
        if make.save is None or wanted.get(make.save.register) == make.save.value:
            self.save()

    def save(self) -> None:
        """Let the inverter act on what was written, and keep it."""
        self.kept = dict(self._held)
        self.clock.save()

    def restart(self) -> None:
        """Lose what was not saved, and lock."""
        self._held = dict(self.kept)
        self.clock.forget()
        self._unlocked_until = 0.0

    def _commands(self, at: float) -> dict[int, int]:
        make = self._make
        saved = {make.save.register: 0} if make.save else {}
        locked = {make.lock.register: int(at < self._unlocked_until)} if make.lock else {}
        return saved | locked

    def _check_slots(self, function: int, addresses: list[int]) -> None:
        slots = self._make.slots
        if slots is None:
            return
        inside = [address for address in addresses if address in slots.addresses]
        if bool(inside) != (function == WRITE_SEVERAL):
            raise Refused(FUNCTION)
        if inside and (len(addresses) != slots.size or (addresses[0] - slots.addresses.start) % slots.size):
            raise Refused(VALUE)
