"""A small register map to plant mistakes in, and how to load one from text."""

from dataclasses import dataclass
from pathlib import Path

from custom_components.chargehand.core.english import english
from custom_components.chargehand.core.registers import MapInvalid, RegisterMap, load_map
from custom_components.chargehand.core.registers.register_map.problem_texts import in_words

MAPS = Path(__file__).parents[3] / "custom_components" / "chargehand" / "maps"

SAMPLE = """\
chargehand_map: 1
title: Sample
maker: Nobody
model: Nothing
source: invented for this test
line:
  numbering: from_0
  longest_read: 100
identity:
  serial: {input: 270, type: text, length: 8}
  code: {input: 279, expect: [5110]}
readings:
  battery_level: {input: 360, unit: "%"}
  battery_power: {input: 361, type: s32, unit: W, positive: charging}
  inverter_state: {input: 370, labels: {0: standby, 1: running}}
  alarms: {input: 371, type: u32, flags: {0: Too hot, 5: Grid out of range}}
  loop: {input: 390, type: s16, scale: 0.01, unit: A, device_class: current, name: Loop}
controls:
  timed_charging: {holding: 150, bit: 0}
  reserve_level: {holding: 151, unit: "%", min: 10, max: 100, step: 1}
  running_mode: {holding: 152, labels: {0: follow_load, 1: hold}}
clock: {holding: 160, layout: six_registers, keeps: local}
schedule:
  armed_by: {control: timed_charging, value: true}
  latest_end: "24:00"
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

HEAD = SAMPLE[: SAMPLE.index("line:")]


def load(folder: Path, text: str | bytes) -> RegisterMap:
    """Write a map and load it."""
    path = folder / "sample.yaml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return load_map(path)


@dataclass(frozen=True, slots=True)
class Told:
    """A problem as its author reads it."""

    line: int
    key: str
    reason: str
    cure: str
    whole: str

    def __str__(self) -> str:
        return self.whole


def problems(folder: Path, text: str | bytes) -> tuple[Told, ...]:
    """What is wrong with a map, in words; nothing when it loads."""
    try:
        load(folder, text)
    except MapInvalid as invalid:
        return tuple(
            Told(one.line, one.key, in_words(one.reason, english), in_words(one.cure, english), str(one))
            for one in invalid.problems
        )
    return ()
