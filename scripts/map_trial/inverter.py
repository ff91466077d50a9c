"""The simulated inverter: it takes what the map lets be written, and nothing else."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from pymodbus.constants import ExcCodes

from custom_components.chargehand.core.registers import (
    Address,
    AfterWrite,
    BeforeWrite,
    CommandWrite,
    RegisterMap,
    Table,
    WritesAround,
)
from custom_components.chargehand.core.schedule import Image

from .factory import registers_at_first

WRITE_ONE, WRITE_SEVERAL, MASK_WRITE = 6, 16, 22
WRITES = (WRITE_ONE, WRITE_SEVERAL, MASK_WRITE)
"""Function codes (Modbus Application Protocol V1.1b3, 6)."""


class Refusal(Exception):
    """A request that the inverter refuses, with its exception code and why, in words."""

    def __init__(self, code: ExcCodes, why: str) -> None:
        """Keep both."""
        super().__init__(why)
        self.code = code


class TrialInverter:
    """Registers of a map, with the rules that it names: which may be written, in which requests, unlocked and saved."""

    def __init__(self, register_map: RegisterMap, now: Callable[[], datetime]) -> None:
        """Hold what an inverter fresh from the factory may hold. `now` returns the local time without a zone."""
        self.map = register_map
        self._now = now
        self._held = registers_at_first(register_map)
        self._clock_ahead = timedelta()
        self._done: dict[CommandWrite, datetime] = {}
        self._acts_on = self._schedule()

    # ---- what it holds

    @property
    def holds(self) -> Image:
        """The schedule's registers as they are."""
        return self._schedule()

    @property
    def acts_on(self) -> Image:
        """The schedule's registers as they act: where the map has a write that activates, as they were when it came last."""
        return self._acts_on

    def read(self, table: Table, first: int, count: int) -> list[int]:
        """Return registers; those that the map does not name are 0. Raises Refusal where it says `no_read`."""
        self._tick()
        asked = range(first, first + count)
        for span in self.map.line.no_read:
            if span.table is table and any(span.first <= at <= span.last for at in asked):
                raise Refusal(
                    ExcCodes.ILLEGAL_ADDRESS, f"the map says no_read of {table} registers {span.first} to {span.last}"
                )
        return [self._held.get((table, at), 0) for at in asked]

    def write(self, function: int, first: int, values: Sequence[int]) -> None:
        """Take one write request whole. Raises Refusal, and then nothing of it is held."""
        addresses = [(Table.HOLDING, first + index) for index in range(len(values))]
        self._check_request(function, addresses)
        command = next(
            (one for around in self.map.arounds for one in around.commands if one.address in addresses), None
        )
        if command is not None:
            self._command(command, values)
            return
        self._check_unlocked(addresses)
        self._held |= zip(addresses, values, strict=True)
        self._set_clock(addresses)
        if self.map.schedule is None or not self.map.schedule.around.activates:
            self._acts_on = self._schedule()

    # ---- what it takes

    def _check_request(self, function: int, addresses: Sequence[Address]) -> None:
        line = self.map.line
        if function not in WRITES:
            raise Refusal(ExcCodes.ILLEGAL_FUNCTION, f"function {function} writes no registers")
        for address in addresses:
            if address not in self.map.writable:
                raise Refusal(ExcCodes.ILLEGAL_ADDRESS, f"the map lets nobody write register {address[1]}")
        at = {number for _, number in addresses}
        wholes = [] if self.map.schedule is None else self.map.schedule.wholes
        for whole in wholes:
            if not at.isdisjoint(whole):
                if function == WRITE_SEVERAL and at == set(whole):
                    return
                raise Refusal(
                    ExcCodes.ILLEGAL_VALUE, f"registers {whole[0]} to {whole[-1]} are taken only whole, by function 16"
                )
        if function == MASK_WRITE and not line.mask_write:
            raise Refusal(ExcCodes.ILLEGAL_FUNCTION, "the map does not say mask_write")
        if function == WRITE_SEVERAL and line.write_function == WRITE_ONE:
            raise Refusal(ExcCodes.ILLEGAL_FUNCTION, "the map says write_function: 6")
        if len(addresses) > line.longest_write:
            raise Refusal(ExcCodes.ILLEGAL_VALUE, f"the map says longest_write: {line.longest_write}")

    def _command(self, command: CommandWrite, values: Sequence[int]) -> None:
        if list(values) != [command.value]:
            raise Refusal(ExcCodes.ILLEGAL_VALUE, f"register {command.register} takes {command.value} alone")
        self._done[command] = self._now()
        self._held[command.address] = command.reads or 0
        if isinstance(command, AfterWrite) and command in self._of_schedule().after:
            self._acts_on = self._schedule()

    def _check_unlocked(self, addresses: Sequence[Address]) -> None:
        for points, around in self._guarded():
            if not points.isdisjoint(addresses):
                for before in around.before:
                    if not self._stands(before):
                        why = f"register {addresses[0][1]} is locked: {before.value} in register {before.register} comes first"
                        raise Refusal(ExcCodes.DEVICE_FAILURE, why)

    def _stands(self, before: BeforeWrite) -> bool:
        at = self._done.get(before)
        return at is not None and (before.lasts is None or self._now() < at + timedelta(seconds=before.lasts))

    def _guarded(self) -> list[tuple[frozenset[Address], WritesAround]]:
        """Return the registers that can be written, with what has to be written around each of them."""
        clock, schedule = self.map.clock, self.map.schedule
        return [
            *((frozenset(one.point.addresses), one.around) for one in self.map.controls.values()),
            *([] if clock is None else [(frozenset(clock.point.addresses), clock.around)]),
            *([] if schedule is None else [(frozenset(schedule.addresses), schedule.around)]),
        ]

    def _of_schedule(self) -> WritesAround:
        return WritesAround() if self.map.schedule is None else self.map.schedule.around

    def _schedule(self) -> Image:
        if self.map.schedule is None:
            return {}
        return {address: self._held[address] for group in self.map.schedule.groups for address in group}

    # ---- the time

    def _tick(self) -> None:
        """Let the clock's registers and what lapses be as they are now."""
        if self.map.clock is not None:
            shown = (self._now() + self._clock_ahead).replace(microsecond=0)
            self._held |= self.map.clock.point.encode(shown)
        for command in [one for one in self._done if isinstance(one, BeforeWrite) and not self._stands(one)]:
            self._held[command.address] = 0

    def _set_clock(self, addresses: Sequence[Address]) -> None:
        clock = self.map.clock
        if clock is not None and not set(clock.point.addresses).isdisjoint(addresses):
            shown = clock.point.decode(self._held)
            if shown is not None:
                self._clock_ahead = shown - self._now()
