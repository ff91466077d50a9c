"""The format of register maps as tables: every key with what it takes, its default and its meaning.

The check, the editors' schema and the reference page are all made from these tables.
"""

import re
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from ..register_map import CLOCK_LAYOUTS, TIME_LAYOUTS, WEEKDAYS
from .format_around import AROUND_KEYS
from .format_key import Key, asked
from .format_of_values import BIT, HOLDING, NUMBER_KEYS, ON_OFF, POLL_KIND
from .format_slots import DAYS, MODE
from .kinds import ANYTHING_KIND, TEXT_KIND, TRUTH_KIND, choice, list_of, number, whole
from .point_kinds import ADDRESS_KIND
from .raw_kinds import PERCENT_OF_KIND, REGISTERS_KIND

FORMAT = 1
"""The version that `chargehand_map` names."""

MOST_WINDOWS = 24
"""Of a side."""

MAP: Mapping[str, Key] = MappingProxyType(
    {
        "chargehand_map": asked(choice(FORMAT), "chargehand_map"),
        "title": asked(TEXT_KIND, "title"),
        "maker": asked(TEXT_KIND, "maker"),
        "model": asked(TEXT_KIND, "model"),
        "source": asked(TEXT_KIND, "source"),
        "line": Key(ANYTHING_KIND, "how this inverter wants to be spoken to"),
        "identity": Key(ANYTHING_KIND, "values that prove that this map fits this inverter"),
        "readings": asked(ANYTHING_KIND, "readings"),
        "controls": Key(ANYTHING_KIND, "values that can also be set"),
        "clock": Key(ANYTHING_KIND, "the inverter's clock"),
        "schedule": Key(ANYTHING_KIND, "all windows and what arms them"),
    }
)
"""Keys of the file itself. The sections are checked one by one, each against its own table."""

LINE: Mapping[str, Key] = MappingProxyType(
    {
        "unit": Key(whole(0, 247), "unit address on the bus", 1),
        "numbering": Key(
            choice("from_0", "from_1"), "from_0: addresses as on the wire; from_1: the document counts from 1", "from_0"
        ),
        "word_order": Key(
            choice("high_first", "low_first"), "which register of a longer value comes first", "high_first"
        ),
        "longest_read": Key(whole(1, 125), "registers in one read", 125),
        "longest_write": Key(whole(1, 123), "registers in one write", 123),
        "write_function": Key(choice(16, 6), "16: several registers at once; 6: one at a time only", 16),
        "mask_write": Key(
            TRUTH_KIND, "function 22 changes bits of a register that is shared with something else", False
        ),
        "pause_ms": Key(whole(0, 10000), "quiet time between requests, ms", 0),
        "timeout_ms": Key(whole(100, 30000), "how long an answer may take, ms", 3000),
        "settle_ms": Key(whole(0, 10000), "from a write to when it can be read back, ms", 200),
        "no_read": Key(list_of(100), "registers never read, not even across", []),
    }
)
SPAN: Mapping[str, Key] = MappingProxyType(
    {
        "table": asked(choice("input", "holding"), "table"),
        "from": asked(ADDRESS_KIND, "first_of_range"),
        "to": asked(ADDRESS_KIND, "last_of_range"),
    }
)
CLOCK: Mapping[str, Key] = MappingProxyType(
    {
        "holding": replace(HOLDING, required=True),
        "layout": Key(choice(*CLOCK_LAYOUTS), "how the time is written down", "six_registers"),
        "weekdays": Key(choice(*WEEKDAYS), "how its weekday is counted: the first day of the week, and its number"),
        "year_base": Key(whole(0, 2100), "added to the year as stored", 2000),
        "keeps": Key(
            choice("local", "standard", "utc"), "which time it keeps; standard is local without summer time", "local"
        ),
        "poll": Key(POLL_KIND, "how often it is read", "slow"),
        **AROUND_KEYS,
    }
)
SCHEDULE: Mapping[str, Key] = MappingProxyType(
    {
        "armed_by": Key(ANYTHING_KIND, "control and value at which windows act"),
        "crosses_midnight": Key(TRUTH_KIND, "whether one window may go over midnight", default=True),
        "step_minutes": Key(choice(1, 5, 10, 15, 30, 60), "steps that times are kept in", 1),
        "latest_end": Key(choice("24:00", "23:59", "00:00"), "what the inverter takes for the end of the day", "24:00"),
        "poll": Key(POLL_KIND, "how often it is read", "slow"),
        "charge": Key(ANYTHING_KIND, "charge windows"),
        "discharge": Key(ANYTHING_KIND, "discharge windows"),
        "list_of_times": Key(
            ANYTHING_KIND, "instead of charge and discharge: parts of the day, each of which ends where the next begins"
        ),
        "days": Key(ANYTHING_KIND, "the days of the week on which all windows act"),
        **AROUND_KEYS,
    }
)
ARMED_BY: Mapping[str, Key] = MappingProxyType(
    {
        "control": asked(TEXT_KIND, "armed_by"),
        "value": Key(ANYTHING_KIND, "its value while windows act", default=True),
    }
)
WRITTEN_WHOLE = Key(
    TRUTH_KIND, "whether the inverter takes a window only whole: all its registers in one request of function 16", False
)
SHARED = Key(ANYTHING_KIND, "limits that all windows of the side have in common")
REGULAR: Mapping[str, Key] = MappingProxyType(
    {
        "count": asked(whole(1, MOST_WINDOWS), "windows_count"),
        "holding": asked(ADDRESS_KIND, "first_window"),
        "stride": asked(whole(1, 1000), "stride"),
        "fields": asked(ANYTHING_KIND, "fields"),
        "shared": SHARED,
        "written_whole": WRITTEN_WHOLE,
    }
)
IRREGULAR: Mapping[str, Key] = MappingProxyType(
    {"windows": asked(list_of(MOST_WINDOWS), "windows"), "shared": SHARED, "written_whole": WRITTEN_WHOLE}
)
TIME: Mapping[str, Key] = MappingProxyType(
    {
        "layout": Key(choice(*TIME_LAYOUTS), "how the time is written down", "hour_minute"),
        "unused": Key(
            REGISTERS_KIND, "raw value of each register while the window is unused, or a list: the first is written"
        ),
    }
)
LIMIT: Mapping[str, Key] = MappingProxyType(
    {
        **NUMBER_KEYS,
        "unit": Key(TEXT_KIND, "unit of the value after scaling"),
        "min": Key(number(), "lowest value that may be set"),
        "max": Key(number(), "highest value that may be set"),
    }
)
POWER: Mapping[str, Key] = MappingProxyType(
    {
        **LIMIT,
        "percent_of": Key(
            PERCENT_OF_KIND, "power in W of which the register holds %, or the reading or identity value that holds it"
        ),
    }
)
LIMITS: Mapping[str, Mapping[str, Key]] = MappingProxyType({"current": LIMIT, "power": POWER, "stop_level": LIMIT})
SHARED_LIMIT: Mapping[str, Key] = MappingProxyType({"holding": replace(HOLDING, required=True)})
ACTIVE: Mapping[str, Key] = MappingProxyType({"bit": BIT, **ON_OFF})
DURATION: Mapping[str, Key] = MappingProxyType(
    {
        "layout": Key(
            choice(*TIME_LAYOUTS), "how the duration is written down, as hours and minutes of a time", "minutes"
        )
    }
)
FIELDS: Mapping[str, Mapping[str, Key]] = MappingProxyType(
    {
        "start": TIME,
        "end": TIME,
        "duration": DURATION,
        **LIMITS,
        "active": ACTIVE,
        "mode": MODE,
        "days": DAYS,
    }
)
"""A window's fields; each has `at` in a regular layout and `holding` in an irregular one besides."""

DAYS_OF_ALL: Mapping[str, Key] = MappingProxyType({"holding": replace(HOLDING, required=True), **DAYS})
LIST: Mapping[str, Key] = MappingProxyType(
    {
        "count": asked(whole(2, MOST_WINDOWS), "points_count"),
        "stride": Key(
            whole(1, 1000), "registers from one point to the next, where the fields of a point stand together"
        ),
        "fields": asked(ANYTHING_KIND, "fields_of_first"),
    }
)
LIST_FIELDS: Mapping[str, Mapping[str, Key]] = MappingProxyType(
    {
        "start": MappingProxyType({"layout": TIME["layout"]}),
        "charging": ACTIVE,
        **LIMITS,
    }
)
"""A point's fields, each with the `holding` of the first point's."""

LIMIT_UNITS = MappingProxyType({"current": "A", "power": "W", "stop_level": "%"})

RESERVED = re.compile(
    r"schedule_status|schedule_event|charging_by_schedule|next_charge_start|clock_offset|set_clock"
    r"|schedule|clock|planned_level|planned_grid_energy|expected_saving|saving_earned|last_night|registers_written(_today)?"
    r"|line_round_trip|line_errors|line_busy|data_logger(_requests)?|(dis)?charge_window_[0-9]+_.*"
)
"""Names of what Chargehand shows beyond the map."""
