"""Kinds of inverter as chance has them: every choice that staging depends on, in any combination."""

from dataclasses import replace

from hypothesis import strategies as st

from .kinds import Arming, Kind, Lock, Save, Slot

LAYOUTS = ("hour_minute", "packed", "hhmm", "bcd", "minutes")
SHARED = 10
"""The register that bits of windows, what arms, and somebody else share."""

FIRST = 32
"""The first register of the windows."""


@st.composite
def kinds(draw: st.DrawFn) -> Kind:
    """Draw any kind."""
    layout = draw(st.sampled_from(LAYOUTS))
    numbers = draw(st.integers(1, 4)), draw(st.integers(0, 3))
    bits = draw(st.sampled_from(("none", "shared", "own", "mode")))
    whole = bits != "shared" and draw(st.integers(0, 4)) == 0
    slots = draw(_slots(layout, sum(numbers), bits, gaps=not whole))
    unused = draw(st.sampled_from((None, None, 0xFFFF)))
    lasts = unused is None and draw(st.integers(0, 3)) == 0
    slots = tuple(replace(slot, unused=unused, lasts=lasts) for slot in slots)
    charge, discharge = slots[: numbers[0]], slots[numbers[0] :]
    if not whole and draw(st.integers(0, 3)) == 0:
        charge, discharge = _alike(charge), _alike(discharge)
    function = draw(st.sampled_from((16, 16, 6)))
    crosses = draw(st.booleans())
    framing = draw(st.sampled_from(("tcp", "tcp", "rtu")))
    deaf, busy = draw(st.sampled_from(((0, 0), (0, 0), (0, 0), (50, 0), (1500, 0), (0, 400))))
    return Kind(
        name=f"drawn: {layout}, {numbers[0]} and {numbers[1]} windows, {bits} bits, function {function}, {framing}",
        charge=charge,
        discharge=discharge,
        arming=draw(_arming()),
        crosses=crosses,
        # 23:59 is no step of five minutes, but the end of the day all the same.
        latest_end=draw(st.sampled_from(("24:00", "00:00", "23:59"))),
        ahead=draw(st.sampled_from((0, 0, 0, -120))),
        framing=framing,
        function=function,
        whole=whole,
        longest_write=draw(st.sampled_from((8, 123) if whole else (2, 4, 6, 8, 123))),
        mask_write=draw(st.booleans()),
        deaf_ms=deaf,
        busy_ms=busy,
        repeats=framing == "rtu" and draw(st.booleans()),
        lock=draw(st.none() | _locks()),
        save=draw(st.none() | st.builds(Save, activates=st.booleans(), told=st.booleans())),
    )


def _locks() -> st.SearchStrategy[Lock]:
    by_time = st.sampled_from((None, 10_000))
    return st.builds(
        Lock, lasts_ms=by_time, once=st.booleans(), told=st.booleans(), code=st.sampled_from((None, 1, 3, 4))
    )


def _alike(slots: tuple[Slot, ...]) -> tuple[Slot, ...]:
    """Return the same windows with the first one's power and level for all."""
    return tuple(replace(slot, power=slots[0].power, level=slots[0].level) for slot in slots)


@st.composite
def _arming(draw: st.DrawFn) -> Arming | None:
    match draw(st.sampled_from(("none", "switch", "two_values", "mode", "shared_switch", "shared_mode"))):
        case "two_values":
            return Arming(address=20, bits=(0, 15), on=0x55AA, others=(0xAA55,))
        case "switch":
            return Arming(address=20, bits=(5, 5), on=1, others=(0,))
        case "mode":
            return Arming(address=20, bits=(0, 15), on=2, others=(0, 1, 5))
        case "shared_switch":
            return Arming(address=SHARED, bits=(15, 15), on=1, others=(0,))
        case "shared_mode":
            return Arming(address=SHARED, bits=(12, 14), on=2, others=(0, 1, 4))
        case _:
            return None


@st.composite
def _slots(draw: st.DrawFn, layout: str, count: int, bits: str, *, gaps: bool) -> tuple[Slot, ...]:
    """Draw windows one after the other, all of one order of fields; some with `gaps`."""
    width = 2 if layout == "hour_minute" else 1
    has_level = draw(st.booleans())
    widths = {"start": width, "end": width, "power": 1}
    if has_level:
        widths["level"] = 1
    if bits == "own":
        widths["active"] = 1
    if bits == "mode":
        widths["mode"] = 1
    order = draw(st.permutations(list(widths)))
    free = draw(st.lists(st.integers(0, int(gaps)), min_size=len(order), max_size=len(order)))
    least = draw(st.sampled_from((0, 100, 100)))
    scale = draw(st.sampled_from((1, 10)))
    slots: list[Slot] = []
    at = FIRST
    for number in range(count):
        places: dict[str, int] = {}
        for field, gap in zip(order, free, strict=True):
            places[field] = at
            at += widths[field] + gap
        active = {"none": None, "mode": None, "shared": (SHARED, number), "own": (places.get("active", 0), 0)}[bits]
        slots.append(
            Slot(
                start=places["start"],
                end=places["end"],
                layout=layout,
                power=places["power"],
                scale=scale,
                least=least,
                level=places.get("level"),
                active=active,
                mode=places.get("mode"),
            )
        )
    return tuple(slots)
