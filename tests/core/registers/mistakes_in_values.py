"""Mistakes in identity, readings and controls: a row each."""

from .mistake import ALARMS, CODE, LEVEL, LOOP, MODE, POWER, RESERVE, SERIAL, STATE, SWITCH, Mistake

POINT_MISTAKES = (
    Mistake(LEVEL, "  battery_level: {input: 360, holding: 7}", "readings.battery_level", "both tables", "one of"),
    Mistake(LEVEL, "  battery_level: {unit: '%'}", "readings.battery_level", "names no register", "input: N"),
    Mistake(LEVEL, "  battery_level: {input: -1}", "readings.battery_level.input", "-1 is out of range", "0 to 65536"),
    Mistake(LEVEL, "  battery_level: {input: 65536}", "readings.battery_level.input", "past the last", "65535"),
    Mistake(
        POWER, "  battery_power: {input: 65535, type: s32}", "readings.battery_power.input", "past the last", "65535"
    ),
    Mistake(LEVEL, "  battery_level: {input: '100'}", "readings.battery_level.input", "'100' is not a whole", "0 to"),
    Mistake(LEVEL, "  battery_level: 100", "readings.battery_level", "100 is not a set of keys", "input"),
    Mistake(LEVEL, "  battery_level:", "readings.battery_level", "nothing here", "leave it out"),
    Mistake(
        LEVEL, "  Battery Level: {input: 360, name: Level}", "readings.Battery Level", "cannot be used", "small letters"
    ),
    Mistake(LEVEL, "  5: {input: 360, name: Level}", "readings.5", "cannot be used", "beginning with a letter"),
    Mistake(LEVEL, "  clock_offset: {input: 360, name: X}", "readings.clock_offset", "itself shows", "another name"),
    Mistake(POWER, "  battery_power: {input: 361, type: int32}", "readings.battery_power.type", "'int32'", "u16, s16"),
    Mistake(
        POWER, "  battery_power: {input: 361, tpye: s32}", "readings.battery_power.tpye", "not known", "mean type?"
    ),
    Mistake(
        POWER,
        "  battery_power: {input: 361, scale: 0}",
        "readings.battery_power.scale",
        "every value the same",
        "other than 0",
    ),
    Mistake(POWER, "  battery_power: {input: 361, scale: .nan}", "readings.battery_power.scale", "nan", "ordinary"),
    Mistake(
        POWER, "  battery_power: {input: 361, scale: 0.1 W}", "readings.battery_power.scale", "not a number", "unit"
    ),
    Mistake(POWER, "  battery_power: {input: 361, offset: true}", "readings.battery_power.offset", "True", "a number"),
    Mistake(
        POWER, "  battery_power: {input: 361, length: 2}", "readings.battery_power.length", "only a text", "u16 takes 1"
    ),
    Mistake(SERIAL, "  serial: {input: 270, type: text}", "identity.serial", "no length", "how many registers"),
    Mistake(
        SERIAL, "  serial: {input: 270, type: text, length: 8, scale: 2}", "identity.serial.scale", "no scale", "leave"
    ),
    Mistake(LOOP, "  loop: {input: 390, bit: 16, name: X}", "readings.loop.bit", "16 is out of range", "0 to 15"),
    Mistake(
        LOOP, "  loop: {input: 390, bit: 1, bits: [2, 3], name: X}", "readings.loop.bits", "both bit and bits", "one"
    ),
    Mistake(
        LOOP, "  loop: {input: 390, bit: 1, type: u32, name: X}", "readings.loop.bit", "not of u32", "leave out type"
    ),
    Mistake(
        LOOP, "  loop: {input: 390, bit: 1, scale: 10, name: X}", "readings.loop.scale", "a bit has no scale", "leave"
    ),
    Mistake(LOOP, "  loop: {input: 390, bits: [7, 4], name: X}", "readings.loop.bits", "[7, 4]", "[lowest, highest]"),
    Mistake(LOOP, "  loop: {input: 390, scale_at: 7, name: X}", "readings.loop.scale_at", "7 names no", "{holding: N}"),
    Mistake(LOOP, "  loop: {input: 390, invalid: 7, name: X}", "readings.loop.invalid", "7 is not a list", "[0x8000"),
    Mistake(
        LOOP, "  loop: {input: 390, invalid: [65536], name: X}", "readings.loop.invalid", "0x10000 can never", "16 bits"
    ),
    Mistake(CODE, "  code: {input: 279, expect: [T5]}", "identity.code.expect", "'T5' can never", "what the register"),
    Mistake(CODE, "  code: {input: 279, expect: [70000]}", "identity.code.expect", "70000 can never", "scaled"),
    Mistake(CODE, "  code: {input: 279, expect: []}", "identity.code.expect", "[] is not", "a list of them"),
    Mistake(
        LOOP,
        "  loop: {input: 362, name: Loop}",
        "readings.loop",
        "362 also belongs to readings.battery_power",
        "address",
    ),
    Mistake(
        LOOP,
        "  loop: {input: 360, type: s16, name: X}",
        "readings.loop",
        "360 also belongs to readings.battery_level",
        "type",
    ),
    Mistake(
        SERIAL,
        "  serial: {input: 358, type: text, length: 20}",
        "identity.serial",
        "360 also belongs to readings.battery_level (and 3 more)",
        "type",
    ),
)

READING_MISTAKES = (
    Mistake(LOOP, "  loop: {input: 390}", "readings.loop", "no known reading and has no name", "give name"),
    Mistake(LOOP, "  grid_powr: {input: 390}", "readings.grid_powr", "has no name", "did you mean grid_power?"),
    Mistake(
        LOOP,
        "  loop: {input: 390, name: X, device_class: curent}",
        "readings.loop.device_class",
        "curent",
        "mean current?",
    ),
    Mistake(
        LOOP,
        "  loop: {input: 390, name: X, state_class: total_up}",
        "readings.loop.state_class",
        "total_up",
        "total_increasing",
    ),
    Mistake(LOOP, "  loop: {input: 390, name: X, poll: often}", "readings.loop.poll", "'often'", "fast, slow, once"),
    Mistake(POWER, "  battery_power: {input: 361, unit: V}", "readings.battery_power.unit", "'V' is no unit", "kW"),
    Mistake(
        POWER, "  battery_power: {input: 361, positive: up}", "readings.battery_power.positive", "'up'", "charging"
    ),
    Mistake(
        POWER,
        "  battery_power: {input: 361, positive: importing}",
        "readings.battery_power.positive",
        "another reading",
        "give discharging or charging",
    ),
    Mistake(
        LEVEL,
        "  battery_level: {input: 360, positive: charging}",
        "readings.battery_level.positive",
        "no direction",
        "leave",
    ),
    Mistake(
        LEVEL,
        "  battery_level: {input: 360, labels: {0: low}}",
        "readings.battery_level.labels",
        "not read as labels",
        "leave labels out",
    ),
    Mistake(STATE, "  inverter_state: {input: 370}", "readings.inverter_state", "has no labels", "give labels"),
    Mistake(
        STATE,
        "  inverter_state: {input: 370, labels: {false: standby}}",
        "readings.inverter_state.labels.False",
        "False cannot",
        "-32768 to 65535",
    ),
    Mistake(
        STATE,
        "  inverter_state: {input: 370, labels: {0: false}}",
        "readings.inverter_state.labels.0",
        "False is not a text",
        "quotes",
    ),
    Mistake(
        STATE,
        "  inverter_state: {input: 370, labels: {0: standby, 7: unknown}}",
        "readings.inverter_state.labels.7",
        "what Home Assistant shows where there is no value",
        "another word",
    ),
    Mistake(
        STATE,
        "  inverter_state: {input: 370, labels: {0: a, 1: a}}",
        "readings.inverter_state.labels",
        "same text",
        "own text",
    ),
    Mistake(
        STATE,
        "  inverter_state: {input: 370, labels: {-1: a}}",
        "readings.inverter_state.labels.-1",
        "-1 can never",
        "0 to 65535",
    ),
    Mistake(
        STATE,
        "  inverter_state: {input: 370, scale: 2, labels: {0: a}}",
        "readings.inverter_state.scale",
        "raw number",
        "leave out scale",
    ),
    Mistake(
        STATE,
        "  inverter_state: {input: 370, labels: {0: a}, unit: W}",
        "readings.inverter_state.unit",
        "no unit",
        "leave",
    ),
    Mistake(ALARMS, "  alarms: {input: 371, flags: {16: Fan}}", "readings.alarms.flags.16", "16 can never", "0 to 15"),
    Mistake(ALARMS, "  alarms: {input: 371, flags: {64: Fan}}", "readings.alarms.flags.64", "64 cannot", "0 to 63"),
    Mistake(
        ALARMS,
        "  alarms: {input: 371, flags: {0: a}, labels: {0: a}}",
        "readings.alarms.flags",
        "both labels and flags",
        "one",
    ),
    Mistake(
        ALARMS, "  alarms: {input: 371, type: f32, flags: {0: a}}", "readings.alarms.flags", "not with f32", "leave one"
    ),
    Mistake(ALARMS, "  alarms: {input: 371}", "readings.alarms", "has no flags", "give flags"),
)

CONTROL_MISTAKES = (
    Mistake(RESERVE, "  reserve_level: {input: 151}", "controls.reserve_level.input", "not known here", "holding"),
    Mistake(
        RESERVE,
        "  reserve_level: {holding: 151, min: 50, max: 10}",
        "controls.reserve_level.min",
        "min 50 is above max 10",
        "swap",
    ),
    Mistake(
        RESERVE,
        "  reserve_level: {holding: 151, min: 10, max: 65535}",
        "controls.reserve_level.max",
        "65535 is what the register can hold",
        "the document allows",
    ),
    Mistake(
        RESERVE,
        "  reserve_level: {holding: 151, scale: 0.1, min: 10, max: 6553.5}",
        "controls.reserve_level.max",
        "6553.5 is what the register can hold",
        "the document allows",
    ),
    Mistake(
        RESERVE,
        "  reserve_level: {holding: 151, max: 70000}",
        "controls.reserve_level.max",
        "70000 does not fit",
        "0 to 65535",
    ),
    Mistake(
        RESERVE,
        "  reserve_level: {holding: 151, min: -5}",
        "controls.reserve_level.min",
        "-5 does not fit",
        "0 to 65535",
    ),
    Mistake(
        RESERVE,
        "  reserve_level: {holding: 151, step: 0}",
        "controls.reserve_level.step",
        "0 is not above 0",
        "above 0",
    ),
    Mistake(
        RESERVE,
        "  reserve_level: {holding: 151, scale: 0.1, step: 0.05}",
        "controls.reserve_level.step",
        "steps of 0.1",
        "multiple of 0.1",
    ),
    Mistake(
        RESERVE, "  reserve_level: {holding: 151, type: text}", "controls.reserve_level.type", "'text' is none", "u16"
    ),
    Mistake(
        RESERVE,
        "  battery_level: {holding: 151}",
        "controls.battery_level",
        "a reading has the same name",
        "leave the reading out",
    ),
    Mistake(
        RESERVE,
        "  reserve_level: {holding: 150}",
        "controls.reserve_level",
        "150 also belongs to controls.timed_charging",
        "address",
    ),
    Mistake(
        MODE,
        "  running_mode: {holding: 152, labels: {0: a}, min: 1}",
        "controls.running_mode.min",
        "a select has no min",
        "leave",
    ),
    Mistake(
        SWITCH,
        "  timed_charging: {holding: 150, bit: 0, max: 1}",
        "controls.timed_charging.max",
        "a switch has no max",
        "leave",
    ),
    Mistake(
        SWITCH,
        "  timed_charging: {holding: 150, bit: 77}",
        "controls.timed_charging.bit",
        "77 is out of range",
        "0 to 15",
    ),
)

MISTAKES_IN_VALUES = (*POINT_MISTAKES, *READING_MISTAKES, *CONTROL_MISTAKES)
