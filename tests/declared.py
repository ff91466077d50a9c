"""Which holding registers a register map's file lets Chargehand write, taken from the file alone."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import yaml

TYPES = {"u16": 1, "s16": 1, "u32": 2, "s32": 2, "f32": 2, "u64": 4, "s64": 4}
CLOCKS = {
    "six_registers": 6,
    "six_registers_bcd": 6,
    "seconds_first": 6,
    "seconds_first_bcd": 6,
    "seconds_first_weekday": 7,
    "seconds_first_weekday_bcd": 7,
    "three_bytes": 3,
    "unix": 2,
}
TIMES = {"hour_minute": 2, "packed": 1, "hhmm": 1, "bcd": 1, "minutes": 1}
"""Registers taken, as docs/register-maps.md has it."""


def declared(path: Path) -> frozenset[int]:
    """Registers of controls, clock and schedule, and of what is written around their changes, as on the wire."""
    data = yaml.safe_load(path.read_text())
    base = 1 if data.get("line", {}).get("numbering") == "from_1" else 0
    return frozenset(register - base for register in _written_down(data))


def _written_down(data: Mapping[str, Any]) -> Iterator[int]:
    schedule = data.get("schedule", {})
    for control in data.get("controls", {}).values():
        yield from _registers(control)
        yield from _around(control)
    if clock := data.get("clock"):
        yield from range(clock["holding"], clock["holding"] + CLOCKS[clock.get("layout", "six_registers")])
        yield from _around(clock)
    yield from _around(schedule)
    if "days" in schedule:
        yield schedule["days"]["holding"]
    parts = schedule.get("list_of_times", {"count": 0, "fields": {}})
    for name, field in parts["fields"].items():
        yield from range(field["holding"], field["holding"] + parts["count"] * _length(name, field))
    for side in (schedule[side] for side in ("charge", "discharge") if side in schedule):
        for limit in side.get("shared", {}).values():
            yield from _registers(limit)
        for window in side.get("windows", ()):
            for name, field in window.items():
                yield from range(field["holding"], field["holding"] + _length(name, field))
        for number in range(side.get("count", 0)):
            for name, field in side["fields"].items():
                first = side["holding"] + number * side["stride"] + field["at"]
                yield from range(first, first + _length(name, field))


def _around(section: Mapping[str, Any]) -> Iterator[int]:
    """What is written before and after a change: unlocks and saves."""
    for command in (*section.get("before_write", ()), *section.get("after_write", ())):
        yield command["holding"]


def _registers(value: Mapping[str, Any]) -> Iterator[int]:
    yield from range(value["holding"], value["holding"] + TYPES[value.get("type", "u16")])


def _length(name: str, field: Mapping[str, Any]) -> int:
    if name in {"start", "end", "duration"}:
        return TIMES[field.get("layout", "hour_minute")]
    return TYPES[field.get("type", "u16")]
