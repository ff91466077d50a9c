"""What the simulated inverter holds at first: plausible readings, and a schedule without windows."""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace

from custom_components.chargehand.core.registers import (
    Address,
    Directed,
    Limit,
    Point,
    Reading,
    RegisterMap,
    SchedulePoints,
    Sum,
)
from custom_components.chargehand.core.schedule import (
    LIMITS,
    Side,
    Window,
    limit_of,
    points_of,
    read_schedule,
    write_schedule,
)

MEASURED = {
    "battery_level": 50,
    "battery_health": 100,
    "battery_voltage": 51.2,
    "battery_temperature": 20,
    "battery_charge_current_limit": 50,
    "battery_discharge_current_limit": 50,
    "cell_voltage_highest": 3300,
    "cell_voltage_lowest": 3300,
    "grid_voltage": 230,
    "grid_frequency": 50,
    "inverter_temperature": 25,
}
"""Known readings that are not 0 in an inverter that does nothing, in their own units. Made up."""


def registers_at_first(register_map: RegisterMap) -> dict[Address, int]:
    """Return every register that the map names, the clock's at 0."""
    held = dict.fromkeys(sorted(set(_named(register_map))), 0)
    for identity in register_map.identity:
        _put(held, identity.point, next(iter(identity.expect), "TRIAL" if identity.point.type == "text" else 1))
    for reading in register_map.readings.values():
        _measure(held, reading)
    for control in register_map.controls.values():
        value = next(iter(control.labels.values()), control.minimum if not control.point.flag else False)
        with suppress(ValueError):
            held |= control.encode(value, held)
    if register_map.schedule is not None:
        held |= _without_windows(register_map.schedule, held)
    return held


def _named(register_map: RegisterMap) -> Iterator[Address]:
    points = [
        one.point for one in (*register_map.identity, *register_map.readings.values(), *register_map.controls.values())
    ]
    for point in points:
        yield from (address for group in point.groups for address in group)
    if register_map.clock is not None:
        yield from register_map.clock.point.addresses
    if register_map.schedule is not None:
        yield from (address for group in register_map.schedule.groups for address in group)
    yield from (command.address for around in register_map.arounds for command in around.commands)


def _measure(held: dict[Address, int], reading: Reading) -> None:
    point = reading.point
    if isinstance(point, Directed):
        _put(held, point.direction, next(raw for raw, sign in sorted(point.signs.items(), key=lambda row: abs(row[1]))))
        point = point.amount
    if isinstance(point, Sum):
        point = point.parts[0]
    _put(held, point, next(iter(reading.labels), 0) if reading.labels else MEASURED.get(reading.key, 0))


def _put(held: dict[Address, int], point: Point, value: object) -> None:
    # What cannot be held there stays 0: a trial needs some value, and not this one.
    with suppress(ValueError):
        held.update(point.encode(value, held))  # type: ignore[arg-type]


def _without_windows(points: SchedulePoints, held: dict[Address, int]) -> dict[Address, int]:
    image = {address: held[address] for group in points.groups for address in group}
    if points.armed_by is not None:
        image |= points.armed_by.control.encode(points.armed_by.value, image)
    schedule = read_schedule(points, image)
    for side in Side:
        for number, where in enumerate(points_of(points, side), start=1):
            limits = {name: _at_first(limit) for name in LIMITS if (limit := limit_of(where, name)) is not None}
            schedule = schedule.with_window(side, number, replace(Window(**limits), active=where.active is None))
    return dict(write_schedule(points, schedule, image))


def _at_first(limit: Limit) -> float:
    """Return the whole of what may be set, as far as the document says: it has to be one of the values that the map allows."""
    return limit.maximum
