"""The maps of the invented documents, value by value, against registers and meanings that are worked by hand from the documents."""

from collections.abc import Mapping
from datetime import datetime

import pytest

from custom_components.chargehand.core.registers import Raw, RegisterMap, Table, load_map

from .made_by_hand import DOCUMENTS, DUNMARROW, LARKFEN, OXWHISTLE, PEBBLEMOOR, MadeByHand
from .samples import MAPS


def of(document: MadeByHand) -> RegisterMap:
    return load_map(MAPS / f"{document.map}.yaml")


def on_wire(document: MadeByHand, other: Mapping[int, int] | None = None) -> Raw:
    """A document's registers as they come from the wire; `other` holds more of them, or some with another value."""
    more = other or {}
    tables = (
        (Table.INPUT, document.inputs, document.listed_inputs),
        (Table.HOLDING, document.holdings, document.listed_holdings),
    )
    return {
        (table, number - document.base): value
        for table, numbers, listed in tables
        for number, value in {**numbers, **{at: more[at] for at in more if at in listed}}.items()
    }


def shown(document: MadeByHand, other: Mapping[int, int] | None = None) -> dict[str, object]:
    raw = on_wire(document, other)
    return {key: reading.decode(raw) for key, reading in of(document).readings.items()}


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: document.map)
def test_every_reading_is_what_the_document_says(document: MadeByHand) -> None:
    assert shown(document) == document.shown


@pytest.mark.parametrize(
    ("document", "identity"),
    [
        (LARKFEN, {"device_code": 3162, "serial_number": "LF5H-26-00000042"}),
        (PEBBLEMOOR, {"serial_number": "PM8-AB-0000000042", "model_code": 8}),
        (OXWHISTLE, {"serial_number": "OW4-2611-7"}),
        (DUNMARROW, {}),
    ],
    ids=lambda value: value.map if isinstance(value, MadeByHand) else "",
)
def test_every_inverter_says_who_it_is(document: MadeByHand, identity: Mapping[str, object]) -> None:
    raw = on_wire(document)
    found = of(document).identity
    assert {one.key: one.point.decode(raw) for one in found} == identity
    assert all(not one.expect or one.point.decode(raw) in one.expect for one in found)


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: document.map)
def test_every_register_of_a_map_is_one_of_its_document(document: MadeByHand) -> None:
    made = of(document)
    listed = {(Table.INPUT, number - document.base) for number in document.listed_inputs}
    listed |= {(Table.HOLDING, number - document.base) for number in document.listed_holdings}
    points = [*made.identity, *made.readings.values()]
    named = {address for one in points for group in one.point.groups for address in group} | made.writable
    assert named - listed == set()
    assert not made.line.no_read


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: document.map)
def test_every_power_has_the_sign_that_plans_take_it_for(document: MadeByHand) -> None:
    readings = of(document).readings
    assert readings["battery_power"].positive == "discharging"
    assert "grid_power" not in readings or readings["grid_power"].positive == "importing"


def test_how_each_line_wants_to_be_spoken_to() -> None:
    # "interval between frames >= 300 ms"; "can only be written single (06H)".
    assert of(LARKFEN).line.pause_ms == 300
    assert of(PEBBLEMOOR).line.write_function == 6


def test_the_larkfen_without_a_temperature_sensor() -> None:
    assert shown(LARKFEN, {346: 0x7FFF})["battery_temperature"] is None


@pytest.mark.parametrize(
    ("register", "bit", "alarm"),
    [
        (402, 0, "Grid voltage out of range"),
        (402, 1, "Grid frequency out of range"),
        (402, 4, "Insulation low"),
        (402, 9, "Too hot"),
        (402, 10, "Too cold"),
        (404, 0, "Fan fault"),
        (404, 3, "Sensor lost"),
    ],
)
def test_each_fault_bit_of_the_larkfen(register: int, bit: int, alarm: str) -> None:
    words = dict.fromkeys(range(401, 405), 0) | {register: 1 << bit}
    assert shown(LARKFEN, words)["alarms"] == (alarm,)


@pytest.mark.parametrize(("direction", "power"), [(0, 0), (1, -1500), (2, 1500), (3, None), (0xFFFF, None)])
def test_the_battery_of_the_pebblemoor_goes_as_its_direction_says(direction: int, power: int | None) -> None:
    assert shown(PEBBLEMOOR, {0x21: direction})["battery_power"] == power


# Sunday 29 November 2026, 07:08:09, as each document writes it down.
SUNDAY = datetime(2026, 11, 29, 7, 8, 9)  # noqa: DTZ001 - the clock's own keeping


@pytest.mark.parametrize(
    ("document", "registers"),
    [
        # year-2000 and month, day and hour, minute and second.
        (LARKFEN, {701: 0x1A0B, 702: 0x1D07, 703: 0x0809}),
        (OXWHISTLE, {820: 0x1A0B, 821: 0x1D07, 822: 0x0809}),
        # In BCD, seconds first, the weekday fourth, Sunday is 0.
        (PEBBLEMOOR, dict(zip(range(0x200, 0x207), (0x09, 0x08, 0x07, 0x00, 0x29, 0x11, 0x26), strict=True))),
    ],
    ids=["larkfen", "oxwhistle", "pebblemoor"],
)
def test_every_clock(document: MadeByHand, registers: Mapping[int, int]) -> None:
    clock = of(document).clock
    assert clock is not None
    assert clock.point.decode(on_wire(document, registers)) == SUNDAY
    assert clock.point.encode(SUNDAY) == {
        (Table.HOLDING, number - document.base): value for number, value in registers.items()
    }


def test_the_oxwhistle_lets_its_grid_charge_current_be_set() -> None:
    control = of(OXWHISTLE).controls["grid_charge_current"]
    assert (control.decode(on_wire(OXWHISTLE)), control.minimum, control.maximum) == (25, 0, 120)


def test_the_dunmarrow_has_no_clock_and_no_windows() -> None:
    made = of(DUNMARROW)
    assert (made.clock, made.schedule, made.controls) == (None, None, {})
