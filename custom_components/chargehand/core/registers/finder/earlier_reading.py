"""A snapshot: an earlier answer of `read_registers`, given back to compare with."""

from collections.abc import Mapping
from typing import cast

from ..register_map import LineRules
from .stretch import Stretch

LARGEST = 0xFFFF
LAST_NUMBER = 0x10000
"""The last register, or count of registers, counted from 1."""


class SnapshotWrong(ValueError):
    """A snapshot that cannot be compared with. `key` names the message, `values` fill it in."""

    def __init__(self, key: str, **values: str) -> None:
        """Keep both."""
        super().__init__(key)
        self.key = key
        self.values_ = values


def snapshot_values(snapshot: object, stretch: Stretch, rules: LineRules) -> dict[int, int]:
    """Return the registers of a snapshot by their address on the wire.

    Raises SnapshotWrong when it is no answer of `read_registers`, or one about other registers than `stretch`.
    """
    if not isinstance(snapshot, Mapping):
        raise _no_answer("table")
    given = cast("Mapping[object, object]", snapshot)
    held = {key: given.get(key) for key in ("table", "first", "count", "numbering")}
    for key, value in held.items():
        if not _is_number(value) if key in {"first", "count"} else not isinstance(value, str):
            raise _no_answer(key)
    asked = {
        "table": str(stretch.table),
        "first": stretch.first + rules.first_number,
        "count": stretch.count,
        "numbering": rules.numbering,
    }
    if held != asked:
        raise SnapshotWrong("snapshot_other_registers", held=_in_words(held), asked=_in_words(asked))
    registers = given.get("registers")
    if not isinstance(registers, Mapping):
        raise _no_answer("registers")
    return dict(_register(number, value, stretch, rules) for number, value in registers.items())


def _register(number: object, value: object, stretch: Stretch, rules: LineRules) -> tuple[int, int]:
    # A list of registers copied as YAML comes back with numbers for keys, unless they are quoted.
    text = str(number) if isinstance(number, str) or _is_number(number) else "?"
    decimal = len(text) <= len(str(LAST_NUMBER)) and text.isascii() and text.isdecimal()
    address = int(text) - rules.first_number if decimal else -1
    if not stretch.first <= address <= stretch.last:
        raise _no_answer(f"registers: {text[:20]}")
    if not (_is_number(value) and 0 <= cast("int", value) <= LARGEST):
        raise _no_answer(f"registers: {text[:20]}")
    return address, cast("int", value)


def _is_number(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= LAST_NUMBER


def _no_answer(what: str) -> SnapshotWrong:
    return SnapshotWrong("snapshot_no_answer", what=what)


def _in_words(held: Mapping[str, object]) -> str:
    first, count = cast("int", held["first"]), cast("int", held["count"])
    return f"{held['table']} {first} to {first + count - 1} (numbering {held['numbering']})"
