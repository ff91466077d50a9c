"""Changes of a schedule on a kind of inverter: what memory holds before, what is asked, and what is to act afterwards."""

import random
from collections.abc import Awaitable, Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.schedule.committed import Committed
from custom_components.chargehand.core.schedule.request import ScheduleRequest, WindowRequest

from .kinds import MODES, Kind, Slot
from .oracle import DAY, Effect, effect, effects, joined, window_registers

SIZE = 150
"""Registers of the memory, from 0."""

type Ask = Callable[[Inverter], Awaitable[Committed]]


@dataclass(frozen=True, kw_only=True, slots=True)
class RequestedWindow:
    """A window as a user asks for it, in minutes of the house's day."""

    start: int
    end: int
    power: int
    level: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """A change: `wanted` is what its windows come to once armed, `arms` whether they are to be."""

    name: str
    before: dict[int, int]
    ask: Ask
    wanted: frozenset[Effect]
    arms: bool
    needs_room: bool = False
    """Whether a window has to be split at midnight, for which there may be no place that takes its limits."""


def draw_changes(kind: Kind, chance: random.Random) -> Iterator[Change]:
    """Draw one change of each sort that makes sense for a kind."""
    before = _memory(kind, chance, armed=True)
    for name, over_midnight in (("all windows", False), ("all windows, one over midnight", True)):
        charge, discharge = _random_windows(kind, chance, over_midnight=over_midnight)
        yield applied(name, kind, before, charge, discharge)
    held = _held(kind, chance)
    before = _memory(kind, chance, armed=True, windows=held)
    for name, new in _one_changed(kind, held):
        yield applied(name, kind, before, *new)
    yield applied("all taken away", kind, before, [], [])
    yield _put("restore", kind, before, _memory(kind, chance, armed=True))
    if kind.arming is None:
        return
    off = _memory(kind, chance, armed=False)
    charge, discharge = _random_windows(kind, chance, over_midnight=chance.random() < 0.5)
    yield applied("armed, with all windows", kind, off, charge, discharge)
    yield _put("restore what was not armed", kind, before, _memory(kind, chance, armed=False))
    if kind.arming.is_switch:
        yield applied("disarmed, with other windows", kind, before, charge, discharge, arms=False)


type Sides = tuple[list[RequestedWindow], list[RequestedWindow]]


def _one_changed(kind: Kind, held: Sides) -> Iterator[tuple[str, Sides]]:
    """Return one window in which something is another, and then one more."""
    charge, discharge = held
    if not charge:
        return
    first, *others = charge
    later = RequestedWindow(start=first.start + 5, end=first.end, power=first.power, level=first.level)
    yield "one start", ([later, *others], discharge)
    stronger = RequestedWindow(
        start=first.start, end=first.end, power=(first.power + kind.charge[0].most) // 20 * 10, level=first.level
    )
    yield "one limit", ([stronger, *others], discharge)
    if others:
        moved = RequestedWindow(
            start=others[0].start + 5,
            end=others[0].end,
            power=(others[0].power + kind.charge[1].least) // 20 * 10,
            level=others[0].level,
        )
        yield "two windows", ([later, moved, *others[1:]], discharge)
        yield "one less", (others, discharge)


def applied(
    name: str,
    kind: Kind,
    before: dict[int, int],
    charge: list[RequestedWindow],
    discharge: list[RequestedWindow],
    *,
    arms: bool = True,
) -> Change:
    charge, discharge = _fits(kind.charge, charge), _fits(kind.discharge, discharge)
    request = ScheduleRequest(
        charge=[_request(kind, window) for window in charge],
        discharge=[_request(kind, window) for window in discharge],
        armed=arms,
    )
    found: set[Effect] = set()
    for side, windows in (("charge", charge), ("discharge", discharge)):
        for window in windows:
            found |= effect(side, window.start, window.end, window.power, window.level if _has_level(kind) else 0)
    return Change(
        name=name,
        before=before,
        ask=lambda inverter: inverter.apply(request),
        wanted=joined(found),
        arms=arms,
        needs_room=not kind.crosses and any(_splits(kind, window) for window in (*charge, *discharge)),
    )


def _splits(kind: Kind, window: RequestedWindow) -> bool:
    """Return whether a window goes over midnight on the inverter's clock."""
    return (window.start + kind.ahead) % DAY > (window.end + kind.ahead - 1) % DAY


def _put(name: str, kind: Kind, before: dict[int, int], target: dict[int, int]) -> Change:
    def ask(inverter: Inverter) -> Awaitable[Committed]:
        assert inverter.map.schedule is not None
        return inverter.put_image({address: target[address[1]] for address in inverter.map.schedule.addresses})

    return Change(name=name, before=before, ask=ask, wanted=effects(kind, target), arms=_is_armed(kind, target))


def _is_armed(kind: Kind, memory: dict[int, int]) -> bool:
    if kind.arming is None:
        return True
    low, high = kind.arming.bits
    return memory[kind.arming.address] >> low & ((1 << (high - low + 1)) - 1) == kind.arming.on


def _has_level(kind: Kind) -> bool:
    return kind.slots[0].level is not None


def _request(kind: Kind, window: RequestedWindow) -> WindowRequest:
    level = float(window.level) if _has_level(kind) else None
    return WindowRequest(start=_text(window.start), end=_text(window.end), power=float(window.power), stop_level=level)


def _text(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def memory_with(
    kind: Kind,
    charge: list[RequestedWindow],
    discharge: list[RequestedWindow],
    *,
    armed: bool = True,
    chance: random.Random | None = None,
) -> dict[int, int]:
    """Return the memory of an inverter that holds these windows."""
    return _memory(kind, chance or random.Random(1), armed=armed, windows=(charge, discharge))


# ---- drawing


def _random_windows(kind: Kind, chance: random.Random, *, over_midnight: bool) -> Sides:
    """Draw windows side by side in a day, perhaps one over midnight; no more than there are places for."""
    spare = 0 if kind.crosses else 1
    counts = [max(len(side) - spare, 0) for side in (kind.charge, kind.discharge)]
    numbers = [chance.randint(min(count, 1), count) for count in counts]
    spans = _spans(chance, sum(numbers), over_midnight=over_midnight)
    windows = [_random_window(kind, chance, *span) for span in spans]
    return _fits(kind.charge, windows[: numbers[0]]), _fits(kind.discharge, windows[numbers[0] :])


def _held(kind: Kind, chance: random.Random) -> Sides:
    """Draw windows as an inverter may hold them, on the house's clock: at least one to charge where there is room."""
    counts = [len(kind.charge), chance.randint(0, len(kind.discharge))]
    spans = _spans(chance, sum(counts), over_midnight=False)
    windows = [_random_window(kind, chance, *span) for span in spans]
    return _fits(kind.charge, windows[: counts[0]]), _fits(kind.discharge, windows[counts[0] :])


def _spans(chance: random.Random, count: int, *, over_midnight: bool) -> list[tuple[int, int]]:
    """Draw starts and ends, on steps of five minutes, at least a quarter of an hour long; in any order."""
    if not count:
        return []
    # Shifted clocks by two hours must not bring one over midnight that is not meant to be.
    edges = sorted(chance.sample(range(130, DAY - 10, 15), 2 * count))
    spans = list(zip(edges[::2], edges[1::2], strict=True))
    if over_midnight:
        last = spans.pop()
        spans.append((last[0], chance.randrange(5, 125, 5)))
    chance.shuffle(spans)
    return spans


def _fits(slots: Sequence[Slot], windows: list[RequestedWindow]) -> list[RequestedWindow]:
    """Return the same windows with powers that their places take."""
    alike = len({slot.power for slot in slots}) < len(slots)
    # Where there is one limit for all windows, all have the first one's.
    named = [replace(one, power=windows[0].power, level=windows[0].level) for one in windows] if alike else windows
    return [
        replace(window, power=min(max(window.power, slot.least), slot.most) // slot.scale * slot.scale)
        for window, slot in zip(named, slots, strict=False)
    ]


def _random_window(kind: Kind, chance: random.Random, start: int, end: int) -> RequestedWindow:
    return RequestedWindow(start=start, end=end, power=10 * chance.randint(10, 440) + 10, level=chance.randint(10, 100))


def _memory(kind: Kind, chance: random.Random, *, armed: bool, windows: Sides | None = None) -> dict[int, int]:
    """Draw memory with some windows in use, the rest unused, and anything at all in what is not the schedule's."""
    own = kind.own
    memory = {at: chance.getrandbits(16) & ~own.get(at, 0) & 0xFFFF for at in range(SIZE)}
    memory[30] = 55
    charge, discharge = windows if windows is not None else _held(kind, chance)
    if windows is None:
        charge = charge[: chance.randint(0, len(charge))]
    for side, slots, used in (("charge", kind.charge, charge), ("discharge", kind.discharge, discharge)):
        for number, slot in enumerate(slots):
            window = used[number] if number < len(used) else None
            start, end = (0, 0) if window is None else (window.start + kind.ahead, window.end + kind.ahead)
            mode = MODES[side]
            if slot.mode is not None and window is None:
                mode = chance.choice(list(MODES.values()))
                if mode not in (MODES["none"], MODES[side]):
                    start, end = chance.choice(((5, 65), (1380, 90)))
            blank = _random_window(kind, chance, 0, 0)
            if used and kind.shares(slot):
                blank = replace(blank, power=used[0].power, level=used[0].level)
            power, level = (blank.power, blank.level) if window is None else (window.power, window.level)
            power = min(max(power, slot.least), slot.most)
            memory |= window_registers(slot, start, end, power, level)
            if slot.mode is not None:
                memory[slot.mode] = mode
            if slot.active is not None and (window is not None or chance.random() < 0.3):
                memory[slot.active[0]] |= 1 << slot.active[1]
    if kind.arming is not None:
        value = kind.arming.on if armed else chance.choice(kind.arming.others)
        memory[kind.arming.address] |= value << kind.arming.bits[0]
    return memory
