"""Mistakes in what marks a window as unused, active or limited, and in switches of two values: a row each."""

from .mistake import CURRENT, END, START, STOP, SWITCH, Mistake

ACTIVE = "        active: {holding: 212, bit: 3}"

UNUSED_MISTAKES = (
    Mistake(
        START,
        "      start: {at: 1, layout: hour_minute, unused: 65536}",
        "schedule.charge.fields.start.unused",
        "65536 is not what a register holds",
        "0 to 65535",
    ),
    Mistake(
        START,
        "      start: {at: 1, layout: hour_minute, unused: []}",
        "schedule.charge.fields.start.unused",
        "[] is not what a register holds",
        "a list of them",
    ),
    Mistake(
        END,
        "      end: {at: 3, layout: hour_minute, unused: [0xFFFF, 5]}",
        "schedule.charge.fields.end.unused",
        "5 is also the time 05:05",
        "leave it out",
    ),
    Mistake(
        CURRENT,
        "      current: {at: 0, unused: 0xFFFF}",
        "schedule.charge.fields.current.unused",
        "not known here",
        "known here are",
    ),
)

DURATION_MISTAKES = (
    Mistake(
        END,
        f"{END}\n      duration: {{at: 6}}",
        "schedule.charge.fields.duration",
        "both end and duration",
        "keep one",
        lines_on=1,
    ),
    Mistake(
        END,
        "      duration: {at: 3, unused: 0}",
        "schedule.charge.fields.duration.unused",
        "not known here",
        "known here are at, layout",
    ),
    Mistake(END, "      duraton: {at: 3}", "schedule.charge.fields.duraton", "no such field", "mean duration?"),
    Mistake(END, "      duration: {at: 2}", "schedule.charge.fields.duration.at", "lies on start", "layout"),
    Mistake(
        "        end: {holding: 211, layout: packed}",
        "        duration: {holding: 210}",
        "schedule.discharge.windows[0].duration",
        "210 also belongs to schedule.discharge.windows[0].start",
        "look",
    ),
)

SHARED_MISTAKES = (
    Mistake(
        STOP,
        f"{STOP}\n    shared: {{}}",
        "schedule.charge.shared",
        "{} is not a set of keys",
        "power, stop_level",
        lines_on=1,
    ),
    Mistake(
        STOP,
        f"{STOP}\n    shared: {{start: {{holding: 200}}}}",
        "schedule.charge.shared.start",
        "share only limits",
        "current, power, stop_level",
        lines_on=1,
    ),
    Mistake(
        STOP,
        f"{STOP}\n    shared: {{powr: {{holding: 200}}}}",
        "schedule.charge.shared.powr",
        "share only limits",
        "mean power?",
        lines_on=1,
    ),
    Mistake(
        STOP,
        f"{STOP}\n    shared: {{power: {{at: 5}}}}",
        "schedule.charge.shared.power.at",
        "not known here",
        "mean holding?",
        lines_on=1,
    ),
    Mistake(
        STOP,
        f"{STOP}\n    shared: {{power: {{unit: W}}}}",
        "schedule.charge.shared.power.holding",
        "missing",
        "first register",
        lines_on=1,
    ),
    Mistake(
        STOP,
        f"{STOP}\n    shared: {{current: {{holding: 200}}}}",
        "schedule.charge.shared.current",
        "a current of its own",
        "keep one",
        lines_on=1,
    ),
    Mistake(
        STOP,
        f"{STOP}\n    shared: {{power: {{holding: 171, max: 5000}}}}",
        "schedule.charge.shared.power",
        "171 also belongs to schedule.charge.holding",
        "look",
        lines_on=1,
    ),
    Mistake(
        STOP,
        f"{STOP}\n    shared: {{power: {{holding: 200, max: 70000}}}}",
        "schedule.charge.shared.power.max",
        "70000 does not fit",
        "65535",
        lines_on=1,
    ),
)

PERCENT_MISTAKES = (
    Mistake(
        CURRENT,
        "      power: {at: 0, percent_of: 0}",
        "schedule.charge.fields.power.percent_of",
        "0 is neither a power nor",
        "power in W",
    ),
    Mistake(
        CURRENT,
        "      power: {at: 0, percent_of: [5000]}",
        "schedule.charge.fields.power.percent_of",
        "[5000] is neither a power nor",
        "reading or identity value",
    ),
    Mistake(
        CURRENT,
        "      power: {at: 0, percent_of: rated}",
        "schedule.charge.fields.power.percent_of",
        "no reading or identity value rated",
        "power in W",
    ),
    Mistake(
        CURRENT,
        "      power: {at: 0, percent_of: batery_power}",
        "schedule.charge.fields.power.percent_of",
        "no reading or identity value batery_power",
        "mean battery_power?",
    ),
    Mistake(
        CURRENT,
        "      power: {at: 0, percent_of: serial}",
        "schedule.charge.fields.power.percent_of",
        "serial is not a power",
        "another value",
    ),
    Mistake(
        CURRENT,
        "      power: {at: 0, percent_of: battery_level}",
        "schedule.charge.fields.power.percent_of",
        "battery_level is not a power",
        "another value",
    ),
    Mistake(
        CURRENT,
        "      power: {at: 0, percent_of: 5000, unit: W}",
        "schedule.charge.fields.power.unit",
        "'W' is no unit",
        "give %",
    ),
    Mistake(
        CURRENT,
        "      power: {at: 0, percent_of: 5000, min: 90, max: 10}",
        "schedule.charge.fields.power.min",
        "above max",
        "swap",
    ),
    Mistake(
        CURRENT,
        "      current: {at: 0, percent_of: 5000}",
        "schedule.charge.fields.current.percent_of",
        "not known here",
        "known here are",
    ),
)

SWITCH_MISTAKES = (
    Mistake(
        SWITCH, "  timed_charging: {holding: 150, on: 0x55AA}", "controls.timed_charging", "on but no off", "give both"
    ),
    Mistake(
        SWITCH, "  timed_charging: {holding: 150, off: 1}", "controls.timed_charging", "off but no on", "give both"
    ),
    Mistake(
        SWITCH,
        "  timed_charging: {holding: 150, on: 7, off: 7}",
        "controls.timed_charging.off",
        "on and off are the same",
        "own raw value",
    ),
    Mistake(
        SWITCH,
        "  timed_charging: {holding: 150, bit: 0, on: 1, off: 0}",
        "controls.timed_charging.on",
        "both bit and on",
        "keep one",
    ),
    Mistake(
        SWITCH,
        "  timed_charging: {holding: 150, on: 0x155AA, off: 0}",
        "controls.timed_charging.on",
        "0x155aa can never be read",
        "16 bits",
    ),
    Mistake(
        SWITCH,
        "  timed_charging: {holding: 150, bits: [4, 6], on: 8, off: 0}",
        "controls.timed_charging.on",
        "0x8 can never be read",
        "3 bits",
    ),
    Mistake(
        SWITCH,
        "  timed_charging: {holding: 153, type: f32, on: 1, off: 0}",
        "controls.timed_charging.type",
        "a whole number, not f32",
        "leave out type",
    ),
    Mistake(
        SWITCH,
        "  timed_charging: {holding: 150, on: 1, off: 2, scale: 10}",
        "controls.timed_charging.scale",
        "a switch has no scale",
        "leave",
    ),
    Mistake(
        SWITCH,
        "  timed_charging: {holding: 150, on: 1, off: 2, max: 5}",
        "controls.timed_charging.max",
        "a switch has no max",
        "leave",
    ),
    Mistake(
        SWITCH,
        "  timed_charging: {holding: 150, on: yes, off: 2}",
        "controls.timed_charging.on",
        "yes can be read in two ways",
        "write true",
    ),
    Mistake(
        ACTIVE,
        "        active: {holding: 212, on: 0x55AA}",
        "schedule.discharge.windows[0].active",
        "on but no off",
        "give both",
    ),
    Mistake(
        ACTIVE,
        "        active: {holding: 212, bit: 3, on: 1, off: 0}",
        "schedule.discharge.windows[0].active.on",
        "both bit and on",
        "keep one",
    ),
)

MISTAKES_IN_WINDOWS = (*UNUSED_MISTAKES, *DURATION_MISTAKES, *SHARED_MISTAKES, *PERCENT_MISTAKES, *SWITCH_MISTAKES)
