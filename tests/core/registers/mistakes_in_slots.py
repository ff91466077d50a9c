"""Mistakes in what places are used for, in days of the week and in lists of times: a row each."""

from .mistake import LATEST, STOP, Mistake

ACTIVE = "        active: {holding: 212, bit: 3}"
REST_OF_SAMPLE = """\
  charge:
    count: 3
    holding: 170
    stride: 6
    fields:
      current: {at: 0, scale: 0.5, unit: A, min: 0, max: 100}
      start: {at: 1, layout: hour_minute}
      end: {at: 3, layout: hour_minute}
      stop_level: {at: 5, unit: "%", min: 10, max: 100}
  discharge:
    windows:
      - start: {holding: 210, layout: packed}
        end: {holding: 211, layout: packed}
        active: {holding: 212, bit: 3}
"""
PLACE = "schedule.discharge.windows[0]"

MODE_MISTAKES = (
    Mistake(
        ACTIVE,
        "        active: {holding: 212, charge: 1, discharge: 2, hold: 3, none: 0}",
        f"{PLACE}.active",
        "several values, not two",
        "mode",
    ),
    Mistake(
        ACTIVE,
        "        active: {holding: 212, labels: {0: nothing, 1: charge, 2: discharge, 3: hold}}",
        f"{PLACE}.active",
        "several values, not two",
        "the values of charge, discharge, hold and none",
    ),
    Mistake(
        ACTIVE, "        mode: {holding: 212, charge: 1, none: 0}", f"{PLACE}.mode.discharge", "missing", "discharge"
    ),
    Mistake(ACTIVE, "        mode: {holding: 212, discharge: 1}", f"{PLACE}.mode.none", "missing", "not used"),
    Mistake(
        ACTIVE,
        "        mode: {holding: 212, discharge: 1, charge: 1, none: 0}",
        f"{PLACE}.mode.discharge",
        "1 also means charge",
        "its own raw value",
    ),
    Mistake(
        ACTIVE,
        "        mode: {holding: 212, bits: [0, 1], discharge: 4, none: 0}",
        f"{PLACE}.mode.discharge",
        "4 does not fit",
        "0 to 3",
    ),
    Mistake(
        ACTIVE,
        f"{ACTIVE}\n        mode: {{holding: 213, discharge: 2, none: 0}}",
        f"{PLACE}.mode",
        "both active and mode",
        "keep one",
        lines_on=1,
    ),
    Mistake(
        ACTIVE,
        "        mode: {holding: 211, discharge: 2, none: 0}",
        f"{PLACE}.mode",
        "211 also belongs to schedule.discharge.windows[0].end",
        "address",
    ),
)

DAYS_MISTAKES = (
    Mistake(
        ACTIVE,
        f"{ACTIVE}\n        days: {{holding: 213, bits: [0, 5]}}",
        f"{PLACE}.days.bits",
        "6 bits cannot hold the 7 days",
        "[0, 6]",
        lines_on=1,
    ),
    Mistake(ACTIVE, f"{ACTIVE}\n        days: {{holding: 213}}", f"{PLACE}.days.bits", "missing", "7 days", lines_on=1),
    Mistake(
        LATEST,
        f"{LATEST}\n  days: {{holding: 170, bits: [0, 6]}}",
        "schedule.charge.holding",
        "170 also belongs to schedule.days",
        "address",
        lines_on=4,
    ),
    Mistake(
        LATEST,
        f"{LATEST}\n  days: {{holding: 230, bits: [0, 6], first: mo}}",
        "schedule.days.first",
        "'mo'",
        "monday, tuesday",
        lines_on=1,
    ),
)

LIST_MISTAKES = (
    Mistake(
        STOP,
        f"{STOP}\n  list_of_times: {{count: 2, fields: {{start: {{holding: 300}}, charging: {{holding: 302}}}}}}",
        "schedule.list_of_times",
        "both charge and list_of_times",
        "keep one",
        lines_on=1,
    ),
    Mistake(
        REST_OF_SAMPLE,
        "  list_of_times:\n    count: 6\n    fields:\n      start: {holding: 300, layout: hhmm}\n",
        "schedule.list_of_times.fields",
        "no charging",
        "give charging",
        lines_on=2,
    ),
    Mistake(
        REST_OF_SAMPLE,
        "  list_of_times:\n    fields:\n      start: {holding: 300, layout: hhmm}\n      charging: {holding: 310, bit: 0}\n",
        "schedule.list_of_times.count",
        "missing",
        "how many points",
    ),
    Mistake(
        REST_OF_SAMPLE,
        "  list_of_times:\n    count: 6\n    fields:\n      start: {holding: 300, layout: hhmm}\n"
        "      charging: {holding: 305, bit: 0}\n",
        "schedule.list_of_times.fields.charging",
        "305 also belongs to schedule.list_of_times.fields.start",
        "address",
        lines_on=4,
    ),
    Mistake(
        REST_OF_SAMPLE,
        "  list_of_times:\n    count: 6\n    fields:\n      start: {holding: 300, layout: hhmm}\n"
        "      charging: {holding: 310, bit: 0}\n      end: {holding: 320}\n",
        "schedule.list_of_times.fields.end",
        "no such field",
        "start, charging",
        lines_on=5,
    ),
    Mistake(
        REST_OF_SAMPLE,
        "  list_of_times:\n    count: 6\n    fields:\n      start: {holding: 65533, layout: hhmm}\n"
        "      charging: {holding: 310, bit: 0}\n",
        "schedule.list_of_times.fields.start.holding",
        "past the last",
        "65535",
        lines_on=3,
    ),
    Mistake(
        REST_OF_SAMPLE,
        "  list_of_times:\n    count: 6\n    stride: 1\n    fields:\n      start: {holding: 300, layout: hour_minute}\n"
        "      charging: {holding: 310, bit: 0}\n",
        "schedule.list_of_times.fields.start",
        "register 1 of a point of 1",
        "larger stride",
        lines_on=4,
    ),
    Mistake(
        REST_OF_SAMPLE,
        "  list_of_times:\n    count: 6\n    fields:\n      start: {holding: 300, layout: hhmm}\n"
        "      charging: {holding: 310, bit: 0}\n  crosses_midnight: false\n",
        "schedule.crosses_midnight",
        "both crosses_midnight and list_of_times",
        "leave it out",
        lines_on=5,
    ),
)

MISTAKES_IN_SLOTS = (*MODE_MISTAKES, *DAYS_MISTAKES, *LIST_MISTAKES)
