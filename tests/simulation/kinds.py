"""Kinds of inverter, each described by where it keeps its windows: what its map is written from, and what the oracle reads it by."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

MODES = {"none": 0, "charge": 1, "discharge": 2, "hold": 3}


@dataclass(frozen=True, kw_only=True, slots=True)
class Slot:
    """One window's registers. `active` is a register and its bit."""

    start: int
    end: int
    layout: str = "hhmm"
    power: int
    scale: int = 1
    least: int = 0
    """Least power in W that it takes."""
    most: int = 5000
    level: int | None = None
    active: tuple[int, int] | None = None
    mode: int | None = None
    """Where it says what it is used for, a value of `MODES`."""
    unused: int | None = None
    """What either of its times holds while it is unused; None: both are 00:00 then."""
    lasts: bool = False
    """Whether `end` holds how long it lasts."""

    @property
    def times(self) -> tuple[int, ...]:
        """Registers of start and end."""
        length = 2 if self.layout == "hour_minute" else 1
        return (*range(self.start, self.start + length), *range(self.end, self.end + length))

    @property
    def registers(self) -> tuple[int, ...]:
        """All registers, that of the bit among them."""
        level = () if self.level is None else (self.level,)
        active = () if self.active is None else (self.active[0],)
        mode = () if self.mode is None else (self.mode,)
        return (*self.times, self.power, *level, *active, *mode)


@dataclass(frozen=True, kw_only=True, slots=True)
class Arming:
    """What lets windows act: a bit of a register, or a mode in some of its bits or all of it."""

    address: int
    bits: tuple[int, int]
    """Lowest and highest; 0 to 15 for a whole register."""
    on: int
    others: tuple[int, ...]
    """Values at which nothing acts."""

    @property
    def is_switch(self) -> bool:
        """Whether there is one value to disarm with."""
        return self.bits[0] == self.bits[1] or self.is_two_values

    @property
    def is_two_values(self) -> bool:
        """Return whether a whole register holds one of two values."""
        return self.bits == (0, 15) and len(self.others) == 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Lock:
    """A register that unlocks: the inverter takes no other write before it, and locks itself again."""

    address: int = 140
    key: int = 0xA5A5
    lasts_ms: int | None = None
    """None: not by time."""
    once: bool = False
    """Whether it locks itself after each write; its map does not say so."""
    told: bool = True
    """Whether reading the register tells 1 while unlocked, else 0; else it tells nothing."""
    code: int | None = 2
    """The exception to a write while it is locked; None: it answers as if it had taken it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Save:
    """A register that saves: what is not saved is lost at a restart of the inverter."""

    address: int = 141
    value: int = 1
    activates: bool = False
    """Whether the inverter acts on what is saved, whatever its registers hold."""
    told: bool = False
    """Whether reading the register tells 2 once all that was written is saved, else 0."""
    code: int | None = None
    """The exception by which it refuses to save, always; None: it saves."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Kind:
    """One kind of inverter."""

    name: str
    charge: tuple[Slot, ...]
    discharge: tuple[Slot, ...] = ()
    arming: Arming | None = None
    crosses: bool = True
    latest_end: str = "24:00"
    ahead: int = 0
    """Minutes that its clock is ahead of the house's."""
    framing: str = "tcp"
    function: int = 16
    whole: bool = False
    """Whether it takes windows only whole: all registers of one by function 16, whatever the function of other writes."""
    longest_write: int = 123
    mask_write: bool = False
    deaf_ms: int = 0
    """For how long it takes no request after each write."""
    busy_ms: int = 0
    """For how long it answers 06 after each write."""
    busy_writes_ms: int = 0
    """The same, but only to writes."""
    repeats: bool = False
    """Whether its gateway sends every answer twice."""
    lock: Lock | None = None
    save: Save | None = None
    timeout_ms: int = 1000
    settle_ms: int = 100

    @property
    def slots(self) -> tuple[Slot, ...]:
        """All windows, charging ones first."""
        return (*self.charge, *self.discharge)

    def sides(self) -> Iterator[tuple[str, int, Slot]]:
        """Return all windows with their side and number from 0."""
        yield from (("charge", number, slot) for number, slot in enumerate(self.charge))
        yield from (("discharge", number, slot) for number, slot in enumerate(self.discharge))

    @property
    def own(self) -> Mapping[int, int]:
        """Every register that a map of it declares as writable, with the bits of it that are the schedule's."""
        found: dict[int, int] = {}
        parts = [(address, 0xFFFF) for slot in self.slots for address in (*slot.times, slot.power)]
        parts += [(slot.level, 0xFFFF) for slot in self.slots if slot.level is not None]
        parts += [(slot.mode, 0xFFFF) for slot in self.slots if slot.mode is not None]
        parts += [(slot.active[0], 1 << slot.active[1]) for slot in self.slots if slot.active is not None]
        if self.arming is not None:
            low, high = self.arming.bits
            parts.append((self.arming.address, ((1 << (high - low + 1)) - 1) << low))
        for address, bits in parts:
            found[address] = found.get(address, 0) | bits
        return found

    @property
    def commands(self) -> Mapping[int, int]:
        """The registers that unlock and save, with what is written into them for that."""
        lock = {} if self.lock is None else {self.lock.address: self.lock.key}
        return lock if self.save is None else lock | {self.save.address: self.save.value}

    @property
    def longest(self) -> int:
        """Registers in one write at most."""
        return 1 if self.function == 6 else self.longest_write

    def shares(self, slot: Slot) -> bool:
        """Return whether other windows of its side have their power in the same register."""
        return sum(other.power == slot.power for other in self.slots) > 1

    def can_rest(self, slot: Slot) -> bool:
        """Return whether one write can keep this window alone from acting, and one can let it act again."""
        if (
            slot.active is not None
            or slot.mode is not None
            or slot.lasts
            or (slot.least <= 0 and not self.shares(slot))
        ):
            return True
        if slot.unused is not None and len(slot.times) == 2:
            return True
        span = range(min(slot.times), max(slot.times) + 1)
        return self.whole or (len(span) <= self.longest and all(self.own.get(at) == 0xFFFF for at in span))

    @property
    def safe(self) -> bool:
        """Whether any change of its windows can be made safely."""
        if self.save is not None and self.save.activates:
            return True
        return (self.arming is not None and self.arming.is_switch) or all(map(self.can_rest, self.slots))


def block(first: int, count: int, *, stride: int, **fields: int | str | bool) -> tuple[Slot, ...]:
    """Return windows at even distances: start, end, power, level in a row, with two registers a time where the layout takes them."""
    width = 2 if fields.get("layout") == "hour_minute" else 1
    return tuple(
        Slot(start=at, end=at + width, power=at + 2 * width, level=at + 2 * width + 1, **fields)  # type: ignore[arg-type]
        for at in range(first, first + count * stride, stride)
    )


def alike(slots: tuple[Slot, ...], power: int, level: int) -> tuple[Slot, ...]:
    """Return the same windows, with one power and one level for all."""
    return tuple(replace(slot, power=power, level=level) for slot in slots)


def with_modes(slots: tuple[Slot, ...]) -> tuple[Slot, ...]:
    """Return the same windows, each with a mode in the register after its level."""
    return tuple(replace(slot, mode=None if slot.level is None else slot.level + 1) for slot in slots)


def switched(slots: tuple[Slot, ...], address: int, first_bit: int) -> tuple[Slot, ...]:
    """Return the same windows, each with a bit of one register."""
    return tuple(replace(slot, active=(address, first_bit + number)) for number, slot in enumerate(slots))


SWITCH = Arming(address=20, bits=(3, 3), on=1, others=(0,))
MODE = Arming(address=20, bits=(0, 15), on=2, others=(0, 1, 5))

HAND_MADE = (
    Kind(
        name="switch arms, hours and minutes apart",
        charge=block(40, 3, stride=6, layout="hour_minute", least=100),
        discharge=block(60, 2, stride=6, layout="hour_minute", least=100),
        arming=SWITCH,
    ),
    Kind(
        name="nothing arms, times in one frame",
        charge=block(40, 3, stride=4, least=100),
        discharge=block(52, 2, stride=4, least=100),
        longest_write=8,
    ),
    Kind(
        name="nothing arms, windows longer than what is left of a frame",
        charge=block(40, 4, stride=6, layout="hour_minute", least=100),
        longest_write=8,
    ),
    Kind(
        name="bits in one word beside others' bits",
        charge=switched(block(40, 4, stride=4, layout="minutes", least=100), 10, 0),
        discharge=switched(block(60, 2, stride=4, layout="packed", least=100), 10, 6),
    ),
    Kind(
        name="bits in one word, single writes, no midnight",
        charge=switched(block(40, 4, stride=4, layout="packed", scale=10, least=100), 10, 0),
        discharge=switched(block(60, 2, stride=4, layout="bcd", scale=10, least=100), 10, 4),
        crosses=False,
        latest_end="23:59",
        function=6,
    ),
    Kind(
        name="bits of windows and what arms in one word",
        charge=switched(block(40, 3, stride=4, least=100), 20, 8),
        discharge=switched(block(52, 2, stride=4, least=100), 20, 12),
        arming=SWITCH,
        longest_write=6,
    ),
    Kind(
        name="a mode arms, in the word of the windows' bits",
        charge=switched(block(40, 3, stride=4, least=100), 20, 4),
        discharge=switched(block(52, 2, stride=4, least=100), 20, 8),
        arming=Arming(address=20, bits=(0, 2), on=2, others=(0, 1, 4)),
    ),
    Kind(
        name="windows taken whole only, all else in single writes",
        charge=block(40, 4, stride=4, layout="minutes", least=100),
        discharge=block(56, 2, stride=4, layout="minutes", least=100),
        arming=SWITCH,
        function=6,
        whole=True,
    ),
    Kind(
        name="slots of any mode, taken whole only, nothing arms",
        charge=with_modes(block(40, 3, stride=5, layout="minutes", least=100)),
        discharge=with_modes(block(55, 2, stride=5, layout="minutes", least=100)),
        function=6,
        whole=True,
    ),
    Kind(
        name="slots of any mode, single writes, midnight not crossed",
        charge=with_modes(block(40, 3, stride=6, layout="packed", scale=10)),
        discharge=with_modes(block(60, 2, stride=6, layout="packed", scale=10)),
        crosses=False,
        function=6,
    ),
    Kind(
        name="slots of any mode, armed by a switch",
        charge=with_modes(block(40, 3, stride=6, least=100)),
        discharge=with_modes(block(60, 2, stride=6, least=100)),
        arming=SWITCH,
        longest_write=4,
    ),
    Kind(
        name="windows taken whole only, nothing arms",
        charge=block(40, 3, stride=4, layout="packed", least=100),
        discharge=block(60, 2, stride=4, layout="packed", least=100),
        longest_write=4,
        whole=True,
    ),
    Kind(
        name="a mode arms, single writes, power of 0 rests",
        charge=block(40, 3, stride=4, least=0),
        discharge=block(60, 2, stride=4, least=0),
        arming=MODE,
        function=6,
    ),
    Kind(
        name="another clock, midnight not crossed",
        charge=block(40, 4, stride=4, layout="minutes", least=100),
        discharge=block(60, 3, stride=4, layout="minutes", least=100),
        crosses=False,
        latest_end="00:00",
        ahead=-120,
    ),
    Kind(
        name="one power and level for all windows of a side, bits beside others' bits, unused ones marked",
        charge=switched(
            alike(block(40, 2, stride=2, layout="packed", unused=0xFFFF, scale=50, least=0), 46, 47), 10, 2
        ),
        discharge=switched(alike(block(44, 1, stride=2, layout="packed", unused=0xFFFF, scale=50), 48, 49), 10, 4),
    ),
    Kind(
        name="one power and level for all windows of a side, single writes, armed by a switch",
        charge=alike(block(40, 3, stride=2, layout="packed", least=100), 46, 47),
        discharge=alike(block(48, 2, stride=2, layout="packed", least=100), 52, 53),
        arming=SWITCH,
        function=6,
        crosses=False,
    ),
    Kind(
        name="unused windows marked, single writes, nothing arms",
        charge=block(40, 3, stride=4, layout="minutes", unused=0xFFFF, least=100),
        discharge=block(60, 2, stride=4, layout="minutes", unused=0xFFFF, least=100),
        function=6,
    ),
    Kind(
        name="windows by duration, single writes, nothing arms",
        charge=block(40, 3, stride=4, layout="minutes", lasts=True, least=100),
        discharge=block(60, 2, stride=4, layout="minutes", lasts=True, least=100),
        function=6,
    ),
    Kind(
        name="one of two values arms, windows by duration, single writes",
        charge=block(40, 3, stride=4, layout="minutes", lasts=True, least=100),
        discharge=block(60, 2, stride=4, layout="minutes", lasts=True, least=100),
        arming=Arming(address=20, bits=(0, 15), on=0x55AA, others=(0xAA55,)),
        function=6,
    ),
    Kind(
        name="the device masks bits",
        charge=switched(block(40, 3, stride=4, least=100), 10, 0),
        discharge=switched(block(60, 2, stride=4, least=100), 10, 8),
        arming=Arming(address=10, bits=(15, 15), on=1, others=(0,)),
        mask_write=True,
    ),
    Kind(
        name="serial frames, a word shared with others",
        charge=switched(block(40, 3, stride=4, least=100), 10, 0),
        discharge=switched(block(60, 2, stride=4, least=100), 10, 8),
        framing="rtu",
    ),
    Kind(
        name="serial frames, every answer comes twice",
        charge=switched(block(40, 2, stride=4, least=100), 10, 0),
        discharge=switched(block(60, 2, stride=4, least=100), 10, 8),
        framing="rtu",
        repeats=True,
    ),
    Kind(
        name="deaf for 50 ms after each write",
        charge=block(40, 3, stride=6, least=100),
        discharge=block(60, 2, stride=6, least=100),
        longest_write=4,
        deaf_ms=50,
    ),
    Kind(
        name="deaf for 3 s after each write",
        charge=block(40, 2, stride=6, least=100),
        discharge=block(60, 2, stride=6, least=100),
        longest_write=4,
        deaf_ms=3000,
        timeout_ms=200,
    ),
    Kind(
        name="serial frames, windows that are read alike, every answer comes twice",
        charge=block(2, 1, stride=4, least=100),
        discharge=(*block(48, 1, stride=4, least=100), *block(94, 1, stride=4, least=100)),
        framing="rtu",
        repeats=True,
    ),
    Kind(
        name="midnight not crossed, windows of different limits",
        charge=(
            *block(40, 2, stride=4, least=100),
            *block(48, 1, stride=4, least=100, most=600),
            *block(52, 1, stride=4, least=4000),
            *block(56, 1, stride=4, least=100),
        ),
        discharge=block(64, 2, stride=4, least=100),
        crosses=False,
    ),
    Kind(
        name="busy to writes for 5 s after each",
        charge=block(40, 2, stride=6, least=100),
        longest_write=4,
        busy_writes_ms=5000,
    ),
    Kind(
        name="busy for 3 s after each write",
        charge=block(40, 2, stride=6, least=100),
        discharge=block(60, 2, stride=6, least=100),
        longest_write=4,
        busy_ms=3000,
    ),
    Kind(
        name="locks itself after 5 s, single writes",
        charge=block(40, 3, stride=4, least=100),
        discharge=block(52, 2, stride=4, least=100),
        arming=SWITCH,
        function=6,
        lock=Lock(lasts_ms=5000),
    ),
    Kind(
        name="locks itself after each write and ignores what comes then",
        charge=switched(block(40, 3, stride=4, layout="minutes", least=100), 10, 0),
        discharge=switched(block(60, 2, stride=4, layout="packed", least=100), 10, 6),
        longest_write=4,
        lock=Lock(once=True, told=False, code=None),
    ),
    Kind(
        name="acts on what is saved, nothing arms and no window rests",
        charge=block(40, 4, stride=6, layout="hour_minute", least=100),
        discharge=block(70, 2, stride=6, layout="hour_minute", least=100),
        longest_write=3,
        save=Save(activates=True),
    ),
    Kind(
        name="acts on what is saved and says so, unlocked for 4 s, a mode arms",
        charge=block(40, 3, stride=4, least=100),
        discharge=block(60, 2, stride=4, least=100),
        arming=MODE,
        function=6,
        lock=Lock(lasts_ms=4000, code=3),
        save=Save(activates=True, told=True),
    ),
    Kind(
        name="saves for its restart, bits in one word beside others' bits",
        charge=switched(block(40, 4, stride=4, layout="minutes", least=100), 10, 0),
        discharge=switched(block(60, 2, stride=4, layout="packed", least=100), 10, 6),
        longest_write=6,
        save=Save(),
    ),
    Kind(
        name="saves for its restart and says so, locks itself after each write",
        charge=block(40, 3, stride=4, least=100),
        discharge=block(52, 2, stride=4, least=100),
        arming=SWITCH,
        lock=Lock(once=True, code=1),
        save=Save(told=True),
    ),
)
"""Opposite choices in all that staging depends on."""
