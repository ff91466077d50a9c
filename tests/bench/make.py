"""A make of inverter: everything in which one register table differs from another."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from tests.bench.readings import Readings
from tests.bench.schedule import Duty

type Registers = Mapping[int, int]
"""Holding registers by address; those left out are 0."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Save:
    """A command register, which reads 0: without it the inverter neither acts on what was written nor keeps it."""

    register: int
    value: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Lock:
    """A register that has to be given a key before others take a write; it reads 1 while unlocked."""

    register: int
    key: int
    seconds: float
    """Simulated seconds until it locks itself again."""
    guards: frozenset[int]
    code: int
    """The exception with which what is locked refuses a write."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Slots:
    """Registers that take function 16 alone, one slot in a request, whole; function 16 is for nothing else."""

    addresses: range
    size: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Make:
    """One make; addresses as on the wire, from 0."""

    serial: str
    """With a place for the number: `T5-AM-2611-{:04d}`."""
    input: Collection[int]
    """Addresses that can be read; a make without any does not know function 4."""
    holding: Collection[int]
    """Addresses that can be read; all others, and reads across them, are refused."""
    at_start: Registers
    writable: frozenset[int]
    writes: frozenset[int]
    """Function codes of the writes that it knows."""
    clock: range
    """Addresses of the clock."""
    clock_second: int
    """The register of the clock whose writing begins a second."""
    keeps_utc: bool
    clock_registers: Callable[[datetime], Registers]
    clock_from: Callable[[Registers], datetime]
    """What the clock shows by these registers; raises ValueError."""
    schedule: tuple[int, ...]
    """Addresses of all window registers."""
    armed: Callable[[Registers], bool]
    duty: Callable[[Registers, datetime], Duty]
    """What to do when the clock shows a moment; the registers are those that it acts on, the clock's too."""
    highest_charge_w: Callable[[Registers], float]
    backup_on: Callable[[Registers], bool]
    refuses: Callable[[Registers, int], bool]
    """Whether the value that the registers, as they would be, have at a writable address is outside its range."""
    input_registers: Callable[[Readings], dict[int, int]]
    in_holding: frozenset[int] = frozenset()
    """What is measured and stands among the holding registers, at the addresses of `input_registers`."""
    together: frozenset[int] = frozenset()
    """The former of two registers that must be read together: a read of one alone is refused."""
    clock_weekday: int | None = None
    """The register of the weekday, 0 to 6, which the clock counts by itself, whatever the date."""
    clock_waits: bool = False
    """Whether it takes registers of the clock that make no date yet, and waits for the others."""
    save: Save | None = None
    lock: Lock | None = None
    slots: Slots | None = None
