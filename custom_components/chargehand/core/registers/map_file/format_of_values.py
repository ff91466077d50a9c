"""The format of values as tables: where one is, how it is written down and shown, in identity, readings and controls."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from ..register_map import NUMBERS, OPPOSITE, TEXT
from .format_around import AROUND_KEYS
from .format_key import Key, asked
from .kinds import (
    ANYTHING_KIND,
    BIT_RANGE_KIND,
    EXPECTED_KIND,
    ONE_REGISTER_KIND,
    RAW_VALUES_KIND,
    TEXT_KIND,
    TRUTH_KIND,
    choice,
    list_of,
    number,
    numbered,
    whole,
)
from .point_kinds import ADDRESS_KIND, WORDS_KIND
from .raw_kinds import RAW_VALUE_KIND, REGISTERS_KIND

LABELS_KIND = numbered("labels", -32768, 65535, without=("unknown", "unavailable"))
FLAGS_KIND = numbered("flags", 0, 63)
POLL_KIND = choice("fast", "slow", "once")
MOST_SUMMANDS = 24

INPUT = Key(ADDRESS_KIND, "first register in the input table (function 4)")
HOLDING = asked(ADDRESS_KIND, "holding", required=False)
AT = asked(whole(0, 65535), "at", required=False)
BIT = Key(whole(0, 15), "takes one bit of the register, 0 = least significant")
ON_OFF: Mapping[str, Key] = MappingProxyType(
    {
        "on": Key(RAW_VALUE_KIND, "raw value that means on; any value besides `on` and `off` is neither"),
        "off": Key(RAW_VALUE_KIND, "raw value that means off"),
    }
)

ORDER_KIND = choice("high_first", "low_first")

NUMBER_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "type": Key(choice(*NUMBERS), "how the number is written down", "u16"),
        "scale": Key(number(nonzero=True), "value = raw × scale + offset", 1),
        "offset": Key(number(), "added after scaling", 0),
    }
)
POINT_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        **NUMBER_KEYS,
        "type": Key(choice(*NUMBERS, TEXT), "how the value is written down", "u16"),
        "length": Key(whole(1, 60), "registers of a text"),
        "word_order": Key(ORDER_KIND, "which of its registers comes first, where it differs from the rest of the map"),
        "byte_order": Key(ORDER_KIND, "which byte of a register comes first; without it the high one"),
        "bit": BIT,
        "bits": Key(BIT_RANGE_KIND, "takes some bits of the register: [lowest, highest]"),
        "scale_at": Key(ONE_REGISTER_KIND, "register that holds a power of ten (signed)"),
        "invalid": Key(RAW_VALUES_KIND, 'raw values that mean "no value"'),
    }
)
SHOWN_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "name": Key(TEXT_KIND, "name shown to the user"),
        "unit": Key(TEXT_KIND, "unit of the value after scaling"),
        "labels": Key(LABELS_KIND, "texts for raw values"),
        "poll": Key(POLL_KIND, "how often it is read"),
    }
)

PLACE_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "input": INPUT,
        "holding": HOLDING,
        "words": Key(
            WORDS_KIND, "registers that do not follow each other, most significant first, instead of one of these"
        ),
        "table": Key(choice("input", "holding"), "the table of `words`"),
    }
)
SUMMAND: Mapping[str, Key] = MappingProxyType(
    {
        **PLACE_KEYS,
        **{key: row for key, row in POINT_KEYS.items() if key not in {"length", "bit"}},
        "type": NUMBER_KEYS["type"],
    }
)
DIRECTION: Mapping[str, Key] = MappingProxyType(
    {
        "input": INPUT,
        "holding": HOLDING,
        "bit": BIT,
        "bits": POINT_KEYS["bits"],
        **{way: Key(REGISTERS_KIND, f"what it holds while {way}; one value, or a list") for way in OPPOSITE},
        "neither": Key(REGISTERS_KIND, "what it holds while the reading is 0; one value, or a list"),
    }
)

IDENTITY: Mapping[str, Key] = MappingProxyType(
    {
        **PLACE_KEYS,
        **POINT_KEYS,
        "expect": Key(EXPECTED_KIND, "what it must be for this map to fit"),
    }
)
READING: Mapping[str, Key] = MappingProxyType(
    {
        **PLACE_KEYS,
        "sum": Key(list_of(MOST_SUMMANDS), "points whose sum it is, instead of a register of its own"),
        **POINT_KEYS,
        **SHOWN_KEYS,
        "positive": Key(choice(*OPPOSITE), "what a positive number means"),
        "direction": Key(ANYTHING_KIND, "register that tells the direction of a number without a sign"),
        "flags": Key(FLAGS_KIND, "texts for bits; the reading is on while any is set"),
        "diagnostic": Key(TRUTH_KIND, "whether the device's page lists it under Diagnostic"),
        "device_class": Key(TEXT_KIND, "Home Assistant's device class, for a reading of your own"),
        "state_class": Key(
            choice("measurement", "total", "total_increasing"),
            "Home Assistant's state class, for a reading of your own",
        ),
    }
)
CONTROL: Mapping[str, Key] = MappingProxyType(
    {
        "holding": replace(HOLDING, required=True),
        **{key: row for key, row in POINT_KEYS.items() if key != "length"},
        "type": NUMBER_KEYS["type"],
        **ON_OFF,
        **SHOWN_KEYS,
        "min": Key(number(), "lowest value that may be set"),
        "max": Key(number(), "highest value that may be set"),
        "step": Key(number(positive=True), "smallest step"),
        **AROUND_KEYS,
    }
)
