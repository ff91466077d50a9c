"""A make of inverter: everything in which one register table differs from another."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from tests.bench.readings import Readings
from tests.bench.schedule import Duty

type Registers = Mapping[int, int]
"""Holding registers by address; those left out are 0."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Make:
    """One make; addresses as on the wire, from 0."""

    serial: str
    """With a place for the number: `T5-AM-2611-{:04d}`."""
    input: range
    holding: range
    """Addresses that can be read; all others, and reads across them, are refused."""
    at_start: Registers
    writable: frozenset[int]
    writes: frozenset[int]
    """Function codes of the writes that it knows."""
    clock: range
    """Addresses of the clock."""
    keeps_utc: bool
    clock_registers: Callable[[datetime], Registers]
    clock_from: Callable[[Registers], datetime]
    """What the clock shows by these registers; raises ValueError."""
    schedule: tuple[int, ...]
    """Addresses of all window registers."""
    armed: Callable[[Registers], bool]
    duty: Callable[[Registers, int], Duty]
    """What to do at a minute of the clock's day."""
    highest_charge_w: Callable[[Registers], float]
    backup_on: Callable[[Registers], bool]
    refuses: Callable[[Registers, int], bool]
    """Whether the value that the registers, as they would be, have at a writable address is outside its range."""
    input_registers: Callable[[Readings], dict[int, int]]
