"""What an inverter of a kind acts on, read from its memory alone."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from .kinds import MODES, Kind, Slot

type Memory = Mapping[int, int]
"""Holding registers by address."""

DAY = 24 * 60


class Act(NamedTuple):
    """A window that acts. Times are minutes of the inverter's day, −1 where the register holds no time."""

    slot: int
    start: int
    end: int
    power: int
    level: int
    mode: int = 0
    """What its slot is used for where that is no window of its side."""


class Effect(NamedTuple):
    """What is done from one minute of the house's day to another; never over midnight."""

    side: str
    start: int
    end: int
    power: int
    level: int


def time_at(layout: str, registers: Sequence[int]) -> int:
    """Return the minute of the day that registers hold; −1 for none."""
    match layout:
        case "hour_minute":
            hour, minute = registers
        case "packed":
            hour, minute = registers[0] >> 8, registers[0] & 0xFF
        case "hhmm":
            hour, minute = registers[0] // 100, registers[0] % 100
        case "minutes":
            hour, minute = registers[0] // 60, registers[0] % 60
        case _:
            digits = [registers[0] >> shift & 15 for shift in (12, 8, 4, 0)]
            if max(digits) > 9:
                return -1
            hour, minute = 10 * digits[0] + digits[1], 10 * digits[2] + digits[3]
    return hour * 60 + minute if minute < 60 and hour * 60 + minute <= DAY else -1


def registers_for(layout: str, minute: int) -> tuple[int, ...]:
    """Return the registers that hold a minute of the day."""
    hour, rest = minute // 60, minute % 60
    match layout:
        case "hour_minute":
            return hour, rest
        case "packed":
            return (hour << 8 | rest,)
        case "hhmm":
            return (hour * 100 + rest,)
        case "minutes":
            return (minute,)
        case _:
            return (hour // 10 << 12 | hour % 10 << 8 | rest // 10 << 4 | rest % 10,)


def armed(kind: Kind, memory: Memory) -> bool:
    """Return whether windows act at all."""
    if kind.arming is None:
        return True
    low, high = kind.arming.bits
    return memory[kind.arming.address] >> low & ((1 << (high - low + 1)) - 1) == kind.arming.on


def act(kind: Kind, number: int, memory: Memory) -> Act | None:
    """Return a window as it acts; None for one that does not. Its times are read as strictly as can be: one at 00:00–00:00 is unused."""
    slot = kind.slots[number]
    if slot.active is not None and not memory[slot.active[0]] >> slot.active[1] & 1:
        return None
    width = len(slot.times) // 2
    held = [memory[at] for at in slot.times[:width]], [memory[at] for at in slot.times[width:]]
    start, end = (time_at(slot.layout, part) for part in held)
    power = memory[slot.power] * slot.scale
    if slot.lasts:
        unused = end == 0
        end = start + end
    elif slot.unused is not None:
        unused = any(set(part) == {slot.unused} for part in held)
    else:
        unused = (start, end) == (0, 0)
    side = "charge" if number < len(kind.charge) else "discharge"
    mode = MODES[side] if slot.mode is None else memory[slot.mode]
    own = mode == MODES[side]
    if unused or mode == MODES["none"] or (own and slot.least <= 0 and power == 0):
        return None
    return Act(number, start, end, power, 0 if slot.level is None else memory[slot.level], 0 if own else mode)


def acts(kind: Kind, memory: Memory) -> frozenset[Act]:
    """Return all windows that act."""
    return windows(kind, memory) if armed(kind, memory) else frozenset()


def windows(kind: Kind, memory: Memory) -> frozenset[Act]:
    """Return all windows that act once they are armed."""
    found = (act(kind, number, memory) for number in range(len(kind.slots)))
    return frozenset(one for one in found if one is not None)


def effects(kind: Kind, memory: Memory) -> frozenset[Effect]:
    """Return what the windows come to in the house's day once they are armed; how it is spread over the inverter's does not matter."""
    found: set[Effect] = set()
    for one in windows(kind, memory):
        side = "charge" if one.slot < len(kind.charge) else "discharge"
        side = f"mode {one.mode}" if one.mode else side
        last_minute = (kind.latest_end, one.end) == ("23:59", DAY - 1) and not kind.slots[one.slot].lasts
        end = DAY if last_minute else one.end
        found |= effect(side, one.start - kind.ahead, end - kind.ahead, one.power, one.level)
    return joined(found)


def effect(side: str, start: int, end: int, power: int, level: int) -> set[Effect]:
    """Return one window, cut at midnight."""
    start, end = start % DAY, end % DAY or DAY
    if start < end:
        return {Effect(side, start, end, power, level)}
    return {Effect(side, start, DAY, power, level), Effect(side, 0, end, power, level)}


def joined(found: set[Effect]) -> frozenset[Effect]:
    """Return the same with what meets, and is alike, in one."""
    whole: list[Effect] = []
    for one in sorted(found, key=lambda one: (one.side, one.power, one.level, one.start)):
        last = whole[-1] if whole else None
        if last is not None and last._replace(start=0, end=0) == one._replace(start=0, end=0) and last.end == one.start:
            whole[-1] = last._replace(end=one.end)
        else:
            whole.append(one)
    return frozenset(whole)


def window_registers(slot: Slot, start: int, end: int, power: int, level: int) -> dict[int, int]:
    """Return a window's own registers but for its bit; times on the inverter's clock."""
    times = (
        *registers_for(slot.layout, start),
        *registers_for(slot.layout, (end - start) % DAY if slot.lasts else end),
    )
    if start == end and slot.unused is not None:
        times = (slot.unused,) * len(slot.times)
    held = dict(zip(slot.times, times, strict=True)) | {slot.power: power // slot.scale}
    return held if slot.level is None else held | {slot.level: level}
