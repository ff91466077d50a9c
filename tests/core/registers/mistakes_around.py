"""Mistakes in the head of a map, its line, clock and schedule: a row each."""

from .mistake import ARMED, CLOCK, CURRENT, END, LATEST, LONGEST, START, STOP, Mistake

HEAD_MISTAKES = (
    Mistake("chargehand_map: 1", "chargehand_map: 2", "chargehand_map", "format 2", "format 1"),
    Mistake("chargehand_map: 1", "chargehand_map: one", "chargehand_map", "'one'", "one of: 1"),
    Mistake("chargehand_map: 1", "chargehand_map: true", "chargehand_map", "True", "one of: 1"),
    Mistake("chargehand_map: 1\n", "", "chargehand_map", "missing", "version of this format"),
    Mistake("title: Sample\n", "", "title", "missing", "shown where maps are picked", lines_on=-1),
    Mistake("source: invented for this test\n", "", "source", "missing", "document", lines_on=-4),
    Mistake("model: Nothing", "model: 5", "model", "5 is not a text", "quotes"),
    Mistake("maker: Nobody", "maker: ''", "maker", "is not a text", "give a text"),
    Mistake("maker: Nobody", f"maker: {'x' * 201}", "maker", "too long", "200"),
    Mistake("model: Nothing", "modell: Nothing", "modell", "not known", "did you mean model?"),
    Mistake("model: Nothing", "model: Nothing\nzebra: 1", "zebra", "not known", "known here are", lines_on=1),
    Mistake("readings:", "reading:", "reading", "not known", "did you mean readings?"),
    Mistake("title: Sample", "title: Sample\ntitle: Other", "title", "stands twice", "keep one", lines_on=1),
    Mistake(CLOCK, "clock:", "clock", "nothing here", "leave it out"),
    Mistake(CLOCK, "clock: 160", "clock", "160 is not a set of keys", "holding, layout"),
)

LINE_MISTAKES = (
    Mistake(LONGEST, "  longest_read: 126", "line.longest_read", "126 is out of range", "1 to 125"),
    Mistake(LONGEST, "  longest_read: many", "line.longest_read", "'many' is not a whole number", "1 to 125"),
    Mistake(LONGEST, "  longest_write: 0", "line.longest_write", "0 is out of range", "1 to 123"),
    Mistake(LONGEST, "  longest_read: 7", "identity.serial", "8 registers", "longest_read is 7", lines_on=2),
    Mistake(LONGEST, "  write_function: 5", "line.write_function", "5 is none", "16, 6"),
    Mistake(LONGEST, "  longest_read: 7CH", "line.longest_read", "'7CH' is not a whole number", "write 0x7C"),
    Mistake(LONGEST, "  longest_read: 7c", "line.longest_read", "'7c' is not a whole number", "write 0x7C"),
    Mistake(LONGEST, "  longest_read: A5A5H", "line.longest_read", "'A5A5H' is not a whole number", "1 to 125"),
    Mistake(LONGEST, "  unit: true", "line.unit", "True is not a whole number", "0 to 247"),
    Mistake(
        LONGEST,
        "  byte_order: low_first",
        "line.byte_order",
        "not known",
        "it belongs to identity or readings or controls; known here are unit",
    ),
    Mistake(LONGEST, "  pause: 5", "line.pause", "not known", "did you mean pause_ms?"),
    Mistake(LONGEST, "  timeout_ms: 1.5", "line.timeout_ms", "1.5 is not a whole number", "100 to 30000"),
    Mistake("  numbering: from_0", "  numbering: from_2", "line.numbering", "'from_2'", "from_0, from_1"),
    Mistake("  numbering: from_0", "  word_order: big", "line.word_order", "'big'", "high_first, low_first"),
    Mistake(LONGEST, "  no_read: 500", "line.no_read", "500 is not a list", "list item"),
    Mistake(LONGEST, "  no_read: [{table: input, from: 500}]", "line.no_read[0].to", "missing", "last register"),
    Mistake(LONGEST, "  no_read: [{table: input, from: 9, to: 3}]", "line.no_read[0].to", "before from", "swap"),
    Mistake(
        LONGEST, "  no_read: [{table: coils, from: 3, to: 9}]", "line.no_read[0].table", "'coils'", "input, holding"
    ),
    Mistake(
        LONGEST,
        "  no_read: [{table: input, from: 362, to: 365}]",
        "line.no_read[0]",
        "register 362 is needed for readings.battery_power",
        "shorten the range",
    ),
    Mistake(
        LONGEST,
        "  no_read: [{table: holding, from: 165, to: 200}]",
        "line.no_read[0]",
        "register 165 is needed for clock (and 1 more)",
        "take the value out",
    ),
)

CLOCK_AND_SCHEDULE_MISTAKES = (
    Mistake(CLOCK, "clock: {layout: unix}", "clock.holding", "missing", "first register"),
    Mistake(
        CLOCK, "clock: {holding: 160, layout: sundial}", "clock.layout", "'sundial'", "six_registers, six_registers_bcd"
    ),
    Mistake(
        CLOCK,
        "clock: {holding: 160, layout: seconds_first_weekday_bcd}",
        "clock.weekdays",
        "nothing says how its weekday is counted",
        "give sunday_0 or sunday_1 or monday_0 or monday_1",
    ),
    Mistake(
        CLOCK,
        "clock: {holding: 160, weekdays: sunday_0}",
        "clock.weekdays",
        "six_registers has no weekdays",
        "leave it out",
    ),
    Mistake(
        CLOCK,
        "clock: {holding: 160, layout: seconds_first_weekday, weekdays: sunday}",
        "clock.weekdays",
        "'sunday' is none of",
        "sunday_0, sunday_1",
    ),
    Mistake(CLOCK, "clock: {holding: 160, keeps: gmt}", "clock.keeps", "'gmt'", "local, standard, utc"),
    Mistake(CLOCK, "clock: {holding: 65531}", "clock.holding", "past the last", "65535"),
    Mistake(
        CLOCK, "clock: {holding: 167}", "schedule.charge.holding", "170 also belongs to clock", "address", lines_on=6
    ),
    Mistake(
        ARMED,
        "  armed_by: {control: timed_chargin}",
        "schedule.armed_by.control",
        "no control timed_chargin",
        "did you mean timed_charging?",
    ),
    Mistake(
        ARMED,
        "  armed_by: {control: xyz}",
        "schedule.armed_by.control",
        "no control xyz",
        "timed_charging, reserve_level",
    ),
    Mistake(
        ARMED,
        "  armed_by: {control: timed_charging, value: 1}",
        "schedule.armed_by.value",
        "cannot be 1",
        "true or false",
    ),
    Mistake(
        ARMED,
        "  armed_by: {control: running_mode, value: false}",
        "schedule.armed_by.value",
        "cannot be False",
        "follow_load, hold",
    ),
    Mistake(
        ARMED, "  armed_by: {control: reserve_level, value: 5}", "schedule.armed_by.value", "cannot be 5", "10 to 100"
    ),
    Mistake(ARMED, "  armed_by: timed_charging", "schedule.armed_by", "not a set of keys", "control"),
    Mistake(LATEST, "  latest_end: 1440", "schedule.latest_end", "1440 is none", '"24:00"'),
    Mistake(LATEST, "  latest_end: 24:00", "schedule.latest_end", "read in two ways", 'in quotes, "24:00"'),
    Mistake(LATEST, "  step_minutes: 7", "schedule.step_minutes", "7 is none", "15"),
    Mistake(LATEST, "  crosses_midnight: maybe", "schedule.crosses_midnight", "'maybe' is neither", "true or false"),
    Mistake("    count: 3", "    count: 0", "schedule.charge.count", "0 is out of range", "1 to 24"),
    Mistake("    count: 3\n", "", "schedule.charge.count", "missing", "how many windows", lines_on=-1),
    Mistake("    holding: 170", "    holding: 65530", "schedule.charge.holding", "past the last", "65535"),
    Mistake(
        "    holding: 170",
        "    holding: 195",
        "schedule.charge.holding",
        "210 also belongs to schedule.discharge.windows[0].start (and 2 more)",
        "address",
    ),
    Mistake(
        "    stride: 6",
        "    stride: 5",
        "schedule.charge.fields.stop_level.at",
        "register 5 of a window of 5",
        "at most 4",
        lines_on=5,
    ),
    Mistake(
        "    stride: 6",
        "    stride: 6\n    written_whole: maybe",
        "schedule.charge.written_whole",
        "'maybe' is neither",
        "true or false",
        lines_on=1,
    ),
    Mistake(
        f"    stride: 6\n    fields:\n{CURRENT}\n{START}",
        "    stride: 6\n    written_whole: true\n    fields:\n      start: {at: 0, layout: hhmm}",
        "schedule.charge.written_whole",
        "no field for register 171",
        "every register from the window's first to its last",
        lines_on=1,
    ),
    Mistake(END, "      end: {at: 2, layout: hour_minute}", "schedule.charge.fields.end.at", "lies on start", "layout"),
    Mistake(
        END, "      end: {at: 3, layout: sixty}", "schedule.charge.fields.end.layout", "'sixty'", "hour_minute, packed"
    ),
    Mistake(END + "\n", "", "schedule.charge.fields", "no end", "or duration", lines_on=-3),
    Mistake(
        END,
        "      ende: {at: 3, layout: hour_minute}",
        "schedule.charge.fields.ende",
        "no such field",
        "did you mean end?",
    ),
    Mistake(END, "      end: {layout: hour_minute}", "schedule.charge.fields.end.at", "missing", "counted from"),
    Mistake(
        CURRENT, "      current: {at: 0, unit: V}", "schedule.charge.fields.current.unit", "'V' is no unit", "A or mA"
    ),
    Mistake(
        CURRENT,
        "      current: {at: 0, scale: 0.1, max: 7000}",
        "schedule.charge.fields.current.max",
        "7000 does not fit",
        "6553.5",
    ),
    Mistake(
        STOP,
        "      stop_level: {at: 5, min: 90, max: 10}",
        "schedule.charge.fields.stop_level.min",
        "above max",
        "swap",
    ),
    Mistake(
        "        active: {holding: 212, bit: 3}",
        "        active: {at: 212}",
        "schedule.discharge.windows[0].active.at",
        "not known",
        "holding",
    ),
    Mistake(
        "        active: {holding: 212, bit: 3}",
        "        active: {holding: 211, bit: 3}",
        "schedule.discharge.windows[0].active",
        "211 also belongs to schedule.discharge.windows[0].end",
        "address",
    ),
    Mistake("    windows:\n", "    count: 1\n    windows:\n", "schedule.discharge.count", "not known here", "windows"),
)

SAVE_MISTAKES = (
    Mistake(LATEST, "  after_write: {holding: 790, write: 1}", "schedule.after_write", "is not a list", "list item"),
    Mistake(LATEST, "  after_write: [790]", "schedule.after_write[0]", "790 is not a set of keys", "holding, write"),
    Mistake(LATEST, "  after_write: [{write: 1}]", "schedule.after_write[0].holding", "missing", "holding register"),
    Mistake(LATEST, "  after_write: [{holding: 790}]", "schedule.after_write[0].write", "missing", "value"),
    Mistake(
        LATEST,
        "  after_write: [{holding: 790, write: 65536}]",
        "schedule.after_write[0].write",
        "65536 is out of range",
        "0 to 65535",
    ),
    Mistake(
        LATEST,
        "  after_write: [{holding: 790, write: 1, lasts: 60}]",
        "schedule.after_write[0].lasts",
        "not known",
        "known here are",
    ),
    Mistake(
        LATEST,
        "  before_write: [{holding: 752, write: 1, lasts: 0}]",
        "schedule.before_write[0].lasts",
        "0 is out of range",
        "1 to 86400",
    ),
    Mistake(
        LATEST,
        "  before_write: [{holding: 65536, write: 1}]",
        "schedule.before_write[0].holding",
        "past the last",
        "65535",
    ),
    Mistake(
        LATEST,
        "  after_write: [{holding: 151, write: 1}]",
        "schedule.after_write[0]",
        "151 also belongs to controls.reserve_level",
        "address",
    ),
    Mistake(
        CLOCK,
        "clock: {holding: 160, after_write: [{holding: 171, write: 1}]}",
        "schedule.charge.holding",
        "171 also belongs to clock.after_write[0]",
        "address",
        lines_on=6,
    ),
)

MISTAKES_AROUND = (*HEAD_MISTAKES, *LINE_MISTAKES, *CLOCK_AND_SCHEDULE_MISTAKES, *SAVE_MISTAKES)
