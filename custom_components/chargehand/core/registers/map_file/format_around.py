"""The format of what is written around a change: `before_write` and `after_write` of the schedule, a control and the clock."""

from collections.abc import Mapping
from types import MappingProxyType

from .format_key import Key, asked
from .kinds import TRUTH_KIND, list_of, whole
from .point_kinds import ADDRESS_KIND

MOST_AROUND = 8
"""Writes before a change, and after it."""

AROUND_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "before_write": Key(list_of(MOST_AROUND), "written before each change, such as an unlock"),
        "after_write": Key(list_of(MOST_AROUND), "written after each change, such as a save"),
    }
)
COMMAND_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "holding": asked(ADDRESS_KIND, "command_register"),
        "write": asked(whole(0, 0xFFFF), "command_value"),
        "reads": Key(whole(0, 0xFFFF), "what the same register reads once the write has taken effect"),
    }
)
BEFORE_WRITE: Mapping[str, Key] = MappingProxyType(
    {**COMMAND_KEYS, "lasts": Key(whole(1, 86400), "seconds until it lapses by itself")}
)
AFTER_WRITE: Mapping[str, Key] = MappingProxyType(
    {
        **COMMAND_KEYS,
        "activates": Key(TRUTH_KIND, "whether nothing acts before it; else it only keeps what acts already", False),
    }
)
