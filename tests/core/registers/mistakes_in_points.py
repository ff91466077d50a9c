"""Mistakes in where a value is and what it is made of: words apart, orders, sums, directions, numbers with a table's digit."""

from .mistake import CODE, LEVEL, LOOP, POWER, RESERVE, SERIAL, STATE, Mistake


def loop(keys: str, key: str, reason: str, cure: str) -> Mistake:
    """A mistake in a reading of the map's own."""
    return Mistake(LOOP, f"  loop: {{{keys}, name: X}}", f"readings.loop{key and f'.{key}'}", reason, cure)


def power(keys: str, key: str, reason: str, cure: str) -> Mistake:
    """A mistake in the battery's power."""
    place = f"readings.battery_power{key and f'.{key}'}"
    return Mistake(POWER, f"  battery_power: {{input: 361, type: u32, {keys}}}", place, reason, cure)


WORD_MISTAKES = (
    loop("words: [390, 392], type: u32", "", "which table its words are in", "table: input or table: holding"),
    loop("table: input, words: [390], type: u32", "words", "[390] is not a list of 2 to 4", "most significant first"),
    loop("table: input, words: 390, type: u32", "words", "390 is not a list", "such as [381, 391]"),
    loop("table: input, words: [390, 390], type: u32", "words", "has a register twice", "the registers of one value"),
    loop("table: input, words: [390, 70000], type: u32", "words", "70000 is out of range", "0 to 65536"),
    loop("table: input, words: [390, 65536], type: u32", "words", "past the last register", "65535"),
    loop(
        "table: input, words: [390, 392, 394], type: u32", "words", "3 registers, and u32 takes 2", "give 2 registers"
    ),
    loop("table: input, words: [390, 392]", "words", "2 registers, and u16 takes 1", "such as u32"),
    loop("table: input, words: [390, 392], type: text, length: 2", "words", "a text has no words", "input: N"),
    loop(
        "table: input, words: [390, 392], type: u32, word_order: low_first",
        "word_order",
        "both words and word_order",
        "most significant first",
    ),
    loop("table: input, words: [390, 392], type: u32, input: 390", "", "registers in both", "one of"),
    loop("table: input, input: 390", "table", "only given with words", "input: N"),
    loop("table: coils, words: [390, 392], type: u32", "table", "'coils'", "input, holding"),
    loop(
        "table: input, words: [390, 362], type: u32",
        "",
        "register 362 also belongs to readings.battery_power",
        "the address and the type",
    ),
    Mistake(
        RESERVE,
        "  reserve_level: {holding: 151, words: [151, 153], max: 5}",
        "controls.reserve_level.words",
        "not known",
        "it belongs to identity or readings; known here are holding",
    ),
)

BIT_MISTAKES = (
    loop("input: 390, bit: 3, unit: W", "unit", "a bit has no unit", "leave it out"),
    loop("input: 390, bit: 3, state_class: measurement", "state_class", "a bit has no state_class", "leave it out"),
    loop("input: 390, bit: 3, positive: charging", "positive", "a bit has no positive", "leave it out"),
    Mistake(
        LEVEL,
        "  battery_level: {input: 360, bit: 3}",
        "readings.battery_level.bit",
        "battery_level is a number",
        "leave bit out, or choose another name",
    ),
)

ORDER_MISTAKES = (
    loop("input: 390, word_order: low_first", "word_order", "u16 is one register, which has no word_order", "leave"),
    loop("input: 390, type: u32, word_order: little", "word_order", "'little' is none of", "high_first, low_first"),
    loop("input: 390, type: u32, byte_order: low", "byte_order", "'low' is none of", "high_first, low_first"),
    loop("input: 390, bit: 3, byte_order: low_first", "byte_order", "a bit has no byte_order", "leave it out"),
    loop("input: 390, bits: [0, 3], byte_order: low_first", "byte_order", "a bit has no byte_order", "leave it out"),
    Mistake(
        SERIAL,
        "  serial: {input: 270, type: text, length: 8, word_order: low_first}",
        "identity.serial.word_order",
        "a text has no word_order",
        "leave it out",
    ),
    Mistake(
        LEVEL,
        '  battery_level: {input: 360, unit: "%"}\n  again: {input: 360, byte_order: low_first, name: X}',
        "readings.again",
        "360 also belongs to readings.battery_level",
        "the address and the type",
        lines_on=1,
    ),
)

SUM_MISTAKES = (
    loop("sum: 390", "sum", "390 is not a list", "list item"),
    loop("sum: []", "sum", "at least two points", "[{input: 371}, {input: 373}]"),
    loop("sum: [{input: 390}]", "sum", "at least two points", "two points or more"),
    loop("sum: [{input: 390}, 391]", "sum[1]", "391 is not a set of keys", "input"),
    loop("sum: [{input: 390}, {inputt: 391}]", "sum[1].inputt", "not known", "mean input?"),
    loop("sum: [{input: 390}, {scale: 0.1}]", "sum[1]", "names no register", "input: N"),
    loop("sum: [{input: 390}, {input: 391, type: text}]", "sum[1].type", "'text' is none of", "u16, s16"),
    loop(
        "sum: [{input: 390}, {input: 391, bit: 3}]",
        "sum[1].bit",
        "not known",
        "it belongs to identity or readings or controls",
    ),
    loop(
        "sum: [{input: 390}, {input: 391}], type: u32", "type", "each point of a sum has its own type", "at the points"
    ),
    loop("sum: [{input: 390}, {input: 391}], scale: 1", "scale", "has its own scale", "at the points"),
    loop("sum: [{input: 390}, {input: 391}], input: 392", "input", "has its own input", "at the points"),
    loop("sum: [{input: 390}, {input: 391}], labels: {0: a}", "labels", "both sum and labels", "keep one"),
    loop("sum: [{input: 390}, {input: 391}], flags: {0: a}", "flags", "both sum and flags", "keep one"),
    loop(
        "sum: [{input: 390}, {input: 362}]",
        "",
        "register 362 also belongs to readings.battery_power",
        "the address and the type",
    ),
    Mistake(
        CODE,
        "  code: {sum: [{input: 279}, {input: 280}]}",
        "identity.code.sum",
        "not known here",
        "known here are",
    ),
    Mistake(
        STATE,
        "  inverter_state: {sum: [{input: 370}, {input: 372}]}",
        "readings.inverter_state",
        "has no labels",
        "give labels",
    ),
)

DIRECTION_MISTAKES = (
    power("direction: 363", "direction", "363 is not a set of keys", "input"),
    power("direction: {charging: 1, discharging: 2}", "direction", "names no register", "input: N"),
    power("direction: {input: 363, charging: 1}", "direction", "direction has no discharging", "give discharging"),
    power("direction: {input: 363, discharging: 1}", "direction", "direction has no charging", "give charging"),
    power(
        "direction: {input: 363, charging: 1, discharging: 1}",
        "direction.charging",
        "1 stands for two directions",
        "keep one",
    ),
    power(
        "direction: {input: 363, charging: 1, discharging: 2, neither: [0, 2]}",
        "direction.neither",
        "2 stands for two directions",
        "keep one",
    ),
    power(
        "direction: {input: 363, charging: one, discharging: 2}",
        "direction.charging",
        "'one' is not what a register holds",
        "0 to 65535, or a list",
    ),
    power(
        "direction: {input: 363, charging: 1, discharging: 70000}",
        "direction.discharging",
        "70000 is not what a register holds",
        "0 to 65535, or a list",
    ),
    power(
        "direction: {input: 363, bits: [0, 1], charging: 1, discharging: 4}", "direction", "4 can never", "give 0 to 3"
    ),
    power(
        "direction: {input: 363, charging: 1, discharging: 2, importing: 3}",
        "direction.importing",
        "importing is said of another reading",
        "discharging or charging",
    ),
    power(
        "direction: {input: 363, charging: 1, discharging: 2}, positive: charging",
        "positive",
        "both direction and positive",
        "keep one",
    ),
    power(
        "direction: {input: 362, charging: 1, discharging: 2}", "direction", "a register of the value itself", "look"
    ),
    power(
        "direction: {input: 363, type: s16, charging: 1, discharging: 2}",
        "direction.type",
        "not known here",
        "known here are",
    ),
    Mistake(
        LEVEL,
        "  battery_level: {input: 360, direction: {input: 365, charging: 1, discharging: 2}}",
        "readings.battery_level.direction",
        "no direction",
        "leave it out",
    ),
    loop(
        "input: 390, labels: {0: a}, direction: {input: 391, charging: 1, discharging: 2}",
        "labels",
        "both direction and labels",
        "keep one",
    ),
    loop(
        "input: 390, bit: 0, direction: {input: 391, charging: 1, discharging: 2}",
        "direction",
        "only a number has a direction",
        "leave it out",
    ),
)

NUMBER_MISTAKES = (
    Mistake(
        LEVEL,
        "  battery_level: {input: 300340}",
        "readings.battery_level.input",
        "300340 begins with the digit of its table",
        "write 340, with numbering: from_1",
    ),
    Mistake(
        RESERVE,
        "  reserve_level: {holding: 400151, max: 5}",
        "controls.reserve_level.holding",
        "400151 begins with the digit of its table",
        "write 151, with numbering: from_1",
    ),
    Mistake(
        "  numbering: from_0",
        "  numbering: from_1\n  no_read: [{table: input, from: 102, to: 30103}]",
        "line.no_read[0].to",
        "30103 begins with the digit of its table",
        "write 103; if registers really are counted that far, write 30102 with numbering: from_0",
        lines_on=1,
    ),
)

MISTAKES_IN_POINTS = (
    *WORD_MISTAKES,
    *BIT_MISTAKES,
    *ORDER_MISTAKES,
    *SUM_MISTAKES,
    *DIRECTION_MISTAKES,
    *NUMBER_MISTAKES,
)
