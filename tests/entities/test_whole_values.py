"""A value of several registers comes in one read: one that counts on between two reads is never shown torn."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import MapInvalid, Poll, load_map
from custom_components.chargehand.core.schedule.windows import Window
from tests.bench.plain import HOLDING, Plain, Request, plain_device
from tests.plain_map import plain_inverter, write_map

READINGS = 40
FIRST = 0xFFFF
"""What each number holds at first: one more, and both its registers are others."""


def running_map(longest: int) -> str:
    """Numbers of two registers each, one behind the other, and a single one that puts them off the even places."""
    lines = [f"line: {{timeout_ms: 300, longest_read: {longest}}}", "readings:", "  battery_level: {input: 0}"]
    lines += [
        f"  watts_{number}: {{input: {1 + 2 * number}, type: u32, unit: W, name: W{number}}}"
        for number in range(READINGS)
    ]
    return "\n".join(lines) + "\n"


def put(device: Plain, value: int) -> None:
    for number in range(READINGS):
        device.registers["input"] |= {1 + 2 * number: value >> 16, 2 + 2 * number: value & 0xFFFF}


@pytest.mark.usefixtures("socket_enabled")
@pytest.mark.parametrize("longest", [2, 3, 7, 10, 80])
async def test_a_number_that_counts_on_between_two_reads_is_never_made_of_both(tmp_path: Path, longest: int) -> None:
    async with plain_device(inputs={0: 50}) as device:
        put(device, FIRST)
        device.after = lambda _request: put(device, FIRST + len(device.requests))
        async with plain_inverter(tmp_path, running_map(longest), device) as inverter:
            polled = await inverter.reader.poll(inverter.reader.all_keys(), {Poll.FAST})
        assert all(request.count <= longest for request in device.requests)
        reads = len(device.requests)
        shown = {key: value for key, value in polled.values.items() if key != "battery_level"}
        assert len(shown) == READINGS
        assert reads >= 81 / longest
        assert {value for value in shown.values() if value not in range(FIRST, FIRST + reads)} == set()


SCALES = """\
line: {timeout_ms: 300, longest_read: 4}
readings:
"""
PLACES = [5 * pair + at for pair in range(READINGS // 2) for at in (0, 3)]
"""Two registers, a power of ten, two registers: the two numbers share the power of ten between them."""


@pytest.mark.usefixtures("socket_enabled")
async def test_a_power_of_ten_between_two_numbers_does_not_tear_them(tmp_path: Path) -> None:
    lines = [
        f"  at_{at}: {{input: {at}, type: u32, scale_at: {{input: {at - at % 5 + 2}}}, name: At {at}}}" for at in PLACES
    ]
    async with plain_device(inputs=dict.fromkeys(range(PLACES[-1] + 2), 0)) as device:

        def put_all(value: int) -> None:
            for at in PLACES:
                device.registers["input"] |= {at: value >> 16, at + 1: value & 0xFFFF}

        put_all(FIRST)
        device.after = lambda _request: put_all(FIRST + len(device.requests))
        async with plain_inverter(tmp_path, SCALES + "\n".join(lines), device) as inverter:
            polled = await inverter.reader.poll(inverter.reader.all_keys(), {Poll.FAST})
        assert len(polled.values) == READINGS
        assert set(polled.values.values()) <= set(range(FIRST, FIRST + len(device.requests)))


SCHEDULE = """\
line: {timeout_ms: 300, settle_ms: 0, longest_read: 5}
readings:
  battery_level: {input: 100, unit: "%"}
schedule:
  charge:
    count: 4
    holding: 0
    stride: 7
    fields:
      start: {at: 0, layout: hour_minute}
      end: {at: 2, layout: hour_minute}
      power: {at: 4, type: u32, unit: W, min: 0, max: 200000}
      stop_level: {at: 6, unit: "%", min: 10, max: 100}
"""


@pytest.mark.usefixtures("socket_enabled")
@pytest.mark.parametrize("way", ["schedule", "poll"])
async def test_a_schedule_that_is_changed_while_it_is_read_has_no_torn_value(tmp_path: Path, way: str) -> None:
    """Another hand moves every time by an hour and a minute and every power by one between any two reads."""

    def put_all(device: Plain, step: int) -> None:
        power = FIRST + step
        for window in range(4):
            values = (step, step, 5 + step, step, power >> 16, power & 0xFFFF, 90)
            device.registers[HOLDING] |= {7 * window + index: value for index, value in enumerate(values)}

    async with plain_device(inputs={100: 50}) as device:
        put_all(device, 0)

        def other_hand(_request: Request) -> None:
            put_all(device, len(device.requests))

        device.after = other_hand
        async with plain_inverter(tmp_path, SCHEDULE, device) as inverter:
            if way == "schedule":
                schedule = await inverter.read_schedule()
            else:
                polled = await inverter.reader.poll({"schedule"}, {Poll.SLOW})
                assert polled.schedule is not None
                schedule = polled.schedule
        reads = len(device.requests)
        assert reads > 5
        assert all(request.count <= 5 for request in device.requests)
        whole = {(61 * step, 61 * step + 300, FIRST + step) for step in range(reads)}

        def torn(window: Window) -> bool:
            starts, ends, powers = zip(*whole, strict=True)
            return window.start not in starts or window.end not in ends or window.power not in powers

        assert [window for window in schedule.charge if torn(window)] == []


LOOP = "readings:\n  loop: {input: 1, name: Loop}\n"
APART = "schedule: {charge: {windows: [{start: {holding: 1, layout: packed}, end: {holding: 2}}]}}\n"
EVEN = """\
schedule:
  charge:
    count: 3
    stride: 4
    holding: 10
    fields: {start: {at: 0, layout: packed}, end: {at: 1, layout: packed}, power: {at: 2, type: u32}}
"""


@pytest.mark.parametrize(
    ("longest", "more", "key", "registers"),
    [
        (1, LOOP.replace("name", "type: u32, name"), "readings.loop", 2),
        (3, LOOP.replace("name", "type: u64, name"), "readings.loop", 4),
        (5, LOOP + "clock: {holding: 1}\n", "clock", 6),
        (1, LOOP + APART, "schedule.charge.windows[0].end", 2),
        (1, LOOP + EVEN, "schedule.charge.fields.power", 2),
    ],
)
def test_a_map_with_a_value_that_no_read_brings_whole_is_refused(
    tmp_path: Path, longest: int, more: str, key: str, registers: int
) -> None:
    with pytest.raises(MapInvalid) as refused:
        load_map(write_map(tmp_path, f"line: {{longest_read: {longest}}}\n{more}"))
    (problem,) = refused.value.problems
    assert problem.key == key
    assert str(problem).endswith(
        f": its {registers} registers are more than one read brings; longest_read is {longest}"
    )
