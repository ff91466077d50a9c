"""Keys that say what a place of the schedule is used for, and on which days."""

from collections.abc import Mapping
from types import MappingProxyType

from .format_key import Key, asked
from .kinds import BIT_RANGE_KIND, choice, whole

REGISTER_VALUE_KIND = whole(0, 65535)

DAY_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

MODE: Mapping[str, Key] = MappingProxyType(
    {
        "bits": Key(BIT_RANGE_KIND, "takes some bits of the register: [lowest, highest]"),
        "charge": Key(REGISTER_VALUE_KIND, "value of a charge window"),
        "discharge": Key(REGISTER_VALUE_KIND, "value of a discharge window"),
        "hold": Key(REGISTER_VALUE_KIND, "value at which the battery neither charges nor discharges"),
        "none": asked(REGISTER_VALUE_KIND, "mode_none"),
    }
)
MODES = ("charge", "discharge", "hold", "none")

DAYS: Mapping[str, Key] = MappingProxyType(
    {
        "bits": asked(BIT_RANGE_KIND, "days_bits"),
        "first": Key(choice(*DAY_NAMES), "the day of the lowest bit", "monday"),
    }
)
