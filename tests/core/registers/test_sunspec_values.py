"""Values of SunSpec devices, against what pysunspec2 (SunSpec Alliance, 1.3.7) reads from the same registers."""

import math
import random
from fractions import Fraction

import pytest
from sunspec2 import device

from custom_components.chargehand.core.registers import NotThere, Point, RegisterMap, Table, read_sunspec_map
from custom_components.chargehand.core.registers.register_map.catalogue import KNOWN_READINGS
from custom_components.chargehand.core.registers.sunspec.models import FLAGS, LABELS, READING_ROWS, Row
from tests.core.registers.sunspec_images import common, image_of, implemented, model_of, random_model, read_back

FIRST = 40000
DIRECTED = {"storage_power": "battery_power", "storage_current": "battery_current"}
"""Battery readings as counted, and with the direction that the charge status tells."""

CHAINS = [
    (101, 120, 124, 201),
    (102, 120, 124, 202),
    (103, 120, 124, 204, 802),
    (111, 211, 713),
    (112, 212, 702, 802),
    (113, 213, 702, 124),
    (701, 702, 713, 203),
    (103, 701, 702, 713, 802, 214),
    (203, 713),
    (802, 212),
]


async def map_and_raw(image: list[int]) -> tuple[RegisterMap, dict[tuple[Table, int], int]]:
    raw = {(Table.HOLDING, address): value for address, value in enumerate(image, start=FIRST)}

    async def read(table: Table, first: int, count: int) -> tuple[int, ...]:
        try:
            return tuple(raw[table, address] for address in range(first, first + count))
        except KeyError as missing:
            raise NotThere from missing

    return await read_sunspec_map(read), raw


def expected(row: Row, model: device.Model) -> object:
    """What a row's reading has to be, from the library's value and scale factor, exactly."""
    point = model.points[row.point]
    value = point.value
    if not implemented(point) or (isinstance(value, float) and math.isnan(value)):
        return None
    key = (model.model_id, row.point)
    if key in FLAGS:
        return tuple(text for bit, text in FLAGS[key].items() if value >> bit & 1)
    if key in LABELS:
        return LABELS[key].get(value)
    power = 0
    if row.scale is not None:
        power = model.points[row.scale[0]].value
        # The library takes a scale factor that is not implemented for 0. We take the value for unknown rather than for one
        # that may be off by powers of ten.
        if power is None:
            return None
    known = KNOWN_READINGS.get(row.key)
    into = {("Wh", "kWh"): -3, ("V", "mV"): 3}.get((row.unit or "", (known.unit if known else row.unit) or ""), 0)
    assert point.cvalue == pytest.approx(float(value * Fraction(10) ** power), rel=1e-12, abs=0)
    return float(Fraction(value) * Fraction(10) ** (power + into))


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("chain", CHAINS, ids=lambda chain: "-".join(map(str, chain)))
async def test_every_point_reads_as_the_alliances_library_reads_it(chain: tuple[int, ...], seed: int) -> None:
    chance = random.Random(f"{chain} {seed}")
    image = image_of([common(), *(random_model(model_id, chance) for model_id in chain)])
    made, raw = await map_and_raw(image)
    at, models = 2 + 68, {}
    for model_id in chain:
        models[model_id] = (FIRST + at, read_back(model_id, image, at))
        at += 2 + image[at + 1]
    compared = set()
    for key in {row.key for row in READING_ROWS}:
        offered = [
            (row, model_id) for row in READING_ROWS for model_id in row.models if row.key == key and model_id in models
        ]
        if not offered:
            continue
        # The first that the device implements; where it implements none, the first.
        row, model_id = next((one for one in offered if told(one[0], models[one[1]][1]) is not None), offered[0])
        first, model = models[model_id]
        if key in DIRECTED and key not in made.readings:
            compared.add(DIRECTED[key])
            got, want = made.readings[DIRECTED[key]].decode(raw), directed(expected(row, model), models)
        else:
            compared.add(key)
            reading = made.readings[key]
            assert isinstance(reading.point, Point)
            assert reading.point.first == first + row.offset, key
            want, got = expected(row, model), reading.decode(raw)
        if isinstance(want, float):
            # A single has seven good digits, and ours is the shortest number that is this single.
            rel = 1e-7 if row.type == "float32" else 1e-15
            assert got == pytest.approx(want, rel=rel, abs=0), (model_id, row.point)
        else:
            assert got == want, (model_id, row.point)
    assert compared == made.readings.keys()


def told(row: Row, model: device.Model) -> object:
    """What the library reads, words aside; None where the device does not implement it."""
    point = model.points[row.point]
    return (
        point.value
        if implemented(point) and (row.scale is None or model.points[row.scale[0]].value is not None)
        else None
    )


def directed(amount: object, models: dict[int, tuple[int, device.Model]]) -> object:
    """A battery's amount, positive while discharging, by the name of the charge status in the library's definition."""
    points = [models[model_id][1].points["ChaSt"] for model_id in (802, 124) if model_id in models]
    point = next(point for point in points if implemented(point))
    names = {int(symbol["value"]): symbol["name"] for symbol in point.pdef["symbols"]}
    signs = {"DISCHARGING": 1, "CHARGING": -1, "TESTING": None}
    sign = signs.get(names[point.value], 0) if point.value in names else None
    return None if sign is None or not isinstance(amount, float) else abs(amount) * sign


@pytest.mark.parametrize("status", range(9))
@pytest.mark.parametrize("power", [-1480, 0, 1480])
async def test_the_charge_status_tells_which_way_the_batterys_power_goes(status: int, power: int) -> None:
    battery = model_of(802, SoC=50, SoC_SF=0, W=power, W_SF=1, A=power, A_SF=-1, ChaSt=status)
    made, raw = await map_and_raw(image_of([common(), battery]))
    # OFF, EMPTY, DISCHARGING, CHARGING, FULL, HOLDING, TESTING, from 1 on (the definition of 802).
    sign = {1: 0, 2: 0, 3: 1, 4: -1, 5: 0, 6: 0}.get(status)
    assert made.readings["battery_power"].decode(raw) == (None if sign is None else sign * 10 * abs(power))
    assert made.readings["battery_current"].decode(raw) == (None if sign is None else sign * abs(power) / 10)
    assert not {"storage_power", "storage_current"} & made.readings.keys()


async def test_without_a_charge_status_the_batterys_power_is_shown_as_counted() -> None:
    made, raw = await map_and_raw(image_of([common(), model_of(802, SoC=50, SoC_SF=0, W=-1480, W_SF=0)]))
    assert made.readings["storage_power"].decode(raw) == -1480
    assert "battery_power" not in made.readings


async def test_what_one_model_does_not_implement_comes_from_the_next() -> None:
    models = [
        model_of(802, W=10, W_SF=0, V=512, V_SF=-1),
        model_of(124, ChaState=640, ChaState_SF=-1, InBatV=500, InBatV_SF=-1, ChaSt=3),
    ]
    made, raw = await map_and_raw(image_of([common(), *models]))
    got = {
        key: made.readings[key].decode(raw)
        for key in ("battery_level", "battery_voltage", "battery_state", "battery_power")
    }
    assert got == {"battery_level": 64, "battery_voltage": 51.2, "battery_state": "discharging", "battery_power": 10}


@pytest.mark.parametrize("seed", range(20))
async def test_the_identity_is_what_the_library_reads(seed: int) -> None:
    written = random_model(1, random.Random(seed))
    image = image_of([written, model_of(103, W=1, W_SF=0)])
    made, raw = await map_and_raw(image)
    model = read_back(1, image, 2)
    identity = {item.key: item.point.decode(raw) for item in made.identity}
    for key, name in (("serial_number", "SN"), ("firmware", "Vr")):
        point = model.points[name]
        assert identity.get(key) == (point.value if implemented(point) else None)
    for shown, name, without in ((made.maker, "Mn", "SunSpec"), (made.model, "Md", "inverter")):
        point = model.points[name]
        assert shown == (point.value if implemented(point) else without)


NOT_IMPLEMENTED = {
    # Written out from the standard's table of types (from memory): registers that say that a point is not there.
    ("inverter_power", 103, 14): [0x8000],
    ("grid_voltage", 103, 10): [0xFFFF],
    ("inverter_energy", 103, 24): [0, 0],
    ("inverter_state", 103, 38): [0xFFFF],
    ("alarms", 103, 40): [0xFFFF, 0xFFFF],
    ("inverter_power", 113, 22): [0x7FC0, 0],
    ("grid_frequency", 701, 17): [0xFFFF, 0xFFFF],
    ("inverter_energy", 701, 19): [0xFFFF] * 4,
}


@pytest.mark.parametrize(("which", "registers"), NOT_IMPLEMENTED.items(), ids=lambda item: str(item[:2]))
async def test_what_is_not_implemented_has_no_value(which: tuple[str, int, int], registers: list[int]) -> None:
    key, model_id, offset = which
    model = device.Model(model_id)
    for name, point in model.points.items():
        if name not in {"ID", "L"}:
            point.value = "x" if point.pdef["type"] == "string" else 1
    image = image_of([common(), model])
    made, raw = await map_and_raw(image)
    assert made.readings[key].decode(raw) is not None
    raw |= {(Table.HOLDING, FIRST + 70 + offset + index): value for index, value in enumerate(registers)}
    assert made.readings[key].decode(raw) is None


async def test_a_scale_factor_that_is_not_implemented_leaves_no_value() -> None:
    made, raw = await map_and_raw(image_of([common(), model_of(103, W=2500)]))
    assert made.readings["inverter_power"].decode(raw) is None


async def test_a_worked_example() -> None:
    """By hand: 2316 x 10^-1 V, 4998 x 10^-2 Hz, 1234567 x 10^1 Wh = 12345.67 kWh, 3412 x 10^-3 V = 3412 mV."""
    inverter = model_of(103, PhVphA=2316, V_SF=-1, Hz=4998, Hz_SF=-2, WH=1234567, WH_SF=1, W=-1500, W_SF=0, St=4)
    battery = model_of(802, SoC=875, SoC_SF=-1, CellVMax=3412, CellV_SF=-3, V=512, V_SF=-1, Evt1=0b10)
    meter = model_of(203, TotWhImp=54321, TotWhExp=9, TotWh_SF=2)
    made, raw = await map_and_raw(image_of([common(), inverter, battery, meter]))
    got = {key: reading.decode(raw) for key, reading in made.readings.items()}
    want = {
        "grid_voltage": 231.6,
        "grid_frequency": 49.98,
        "inverter_energy": 12345670,
        "inverter_power": -1500,
        "inverter_state": "mppt",
        "battery_level": 87.5,
        "cell_voltage_highest": 3412,
        "battery_voltage": 51.2,
        "battery_alarms": ("Over temp alarm",),
        "grid_energy_imported": 5432.1,
        "grid_energy_exported": 0.9,
        "battery_cycles": None,
    }
    assert {key: got[key] for key in want} == want
