"""A mistake to plant in the sample map, and the lines of it that mistakes are planted in."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mistake:
    """What is replaced by what, and which key, reason and cure the one message for it has to name.

    The message's line is that of the replaced text, or `lines_on` lines further.
    """

    old: str
    new: str
    key: str
    reason: str
    cure: str
    lines_on: int = 0


LEVEL = '  battery_level: {input: 360, unit: "%"}'
POWER = "  battery_power: {input: 361, type: s32, unit: W, positive: charging}"
STATE = "  inverter_state: {input: 370, labels: {0: standby, 1: running}}"
ALARMS = "  alarms: {input: 371, type: u32, flags: {0: Too hot, 5: Grid out of range}}"
LOOP = "  loop: {input: 390, type: s16, scale: 0.01, unit: A, device_class: current, name: Loop}"
SERIAL = "  serial: {input: 270, type: text, length: 8}"
CODE = "  code: {input: 279, expect: [5110]}"
SWITCH = "  timed_charging: {holding: 150, bit: 0}"
RESERVE = '  reserve_level: {holding: 151, unit: "%", min: 10, max: 100, step: 1}'
MODE = "  running_mode: {holding: 152, labels: {0: follow_load, 1: hold}}"
CLOCK = "clock: {holding: 160, layout: six_registers, keeps: local}"
ARMED = "  armed_by: {control: timed_charging, value: true}"
LATEST = '  latest_end: "24:00"'
START = "      start: {at: 1, layout: hour_minute}"
END = "      end: {at: 3, layout: hour_minute}"
CURRENT = "      current: {at: 0, scale: 0.5, unit: A, min: 0, max: 100}"
STOP = '      stop_level: {at: 5, unit: "%", min: 10, max: 100}'
LONGEST = "  longest_read: 100"
