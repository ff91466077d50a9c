"""The format of values as tables: where one is, how it is written down and shown, by identity, readings and controls."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from ..register_map import NUMBERS, OPPOSITE, TEXT
from .format_around import AROUND_KEYS
from .format_key import ADDRESS_KIND, Key, asked
from .kinds import (
    BIT_RANGE_KIND,
    EXPECTED_KIND,
    ONE_REGISTER_KIND,
    RAW_VALUES_KIND,
    TEXT_KIND,
    TRUTH_KIND,
    choice,
    number,
    numbered,
    whole,
)
from .raw_kinds import RAW_VALUE_KIND

LABELS_KIND = numbered("labels", -32768, 65535, without=("unknown", "unavailable"))
FLAGS_KIND = numbered("flags", 0, 63)
POLL_KIND = choice("fast", "slow", "once")

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

IDENTITY: Mapping[str, Key] = MappingProxyType(
    {
        "input": INPUT,
        "holding": HOLDING,
        **POINT_KEYS,
        "expect": Key(EXPECTED_KIND, "what it must be for this map to fit"),
    }
)
READING: Mapping[str, Key] = MappingProxyType(
    {
        "input": INPUT,
        "holding": HOLDING,
        **POINT_KEYS,
        **SHOWN_KEYS,
        "positive": Key(choice(*OPPOSITE), "what a positive number means"),
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
