"""DC ports (714) and trackers (160), against what pysunspec2 (SunSpec Alliance, 1.3.7) reads from the same registers."""

import random
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

import pytest
from sunspec2 import device

from custom_components.chargehand.core.registers import Batch, LineRules, NotThere, Table, batches, read_sunspec_map
from custom_components.chargehand.core.registers.register_map.number_types import NUMBERS
from custom_components.chargehand.core.registers.sunspec import dc_blocks
from custom_components.chargehand.core.registers.sunspec.models import POINT_TYPES
from tests.core.registers.sunspec_blocks import PORTS, TRACKERS, BlockForm, empty, model_in, random_blocks
from tests.core.registers.sunspec_images import END, common, image_of, implemented, model_of
from tests.core.registers.test_sunspec_values import FIRST, map_and_raw

KILO = {"solar_energy", "battery_energy_charged", "battery_energy_discharged"}
"""Shown in kWh; the models count Wh."""

MEASURED = ("DCA", "DCV", "DCW")
STRING = {"current": "DCA", "voltage": "DCV", "power": "DCW"}


def image_with(*bodies: list[int]) -> list[int]:
    return [*image_of([common()], end=()), *(register for body in bodies for register in body), *END]


def value(block: device.Group, model: device.Model, name: str) -> Fraction | None:
    """A point's value by the library's raw value and scale factor, exactly."""
    point = block.points[name]
    power = model.points[point.pdef["sf"]].value
    if not implemented(point) or power is None:
        return None
    return Fraction(point.value) * Fraction(10) ** power


def total(key: str, values: Iterable[Fraction | None]) -> float | None:
    found = list(values)
    if None in found:
        return None
    return float(sum(one for one in found if one is not None) / (1000 if key in KILO else 1))


def present(model: device.Model, form: BlockForm, kind: str | None = None) -> list[device.Group]:
    """Blocks that measure something, of one type by the name that the definition gives it."""
    found = []
    for block in model.groups[form.group]:
        if all(value(block, model, name) is None for name in MEASURED):
            continue
        if kind is not None:
            names = {symbol["value"]: symbol["name"] for symbol in block.points["PrtTyp"].pdef["symbols"]}
            if names.get(block.points["PrtTyp"].value) != kind:
                continue
        found.append(block)
    return found


def check(got: dict[str, object], key: str, want: float | None) -> None:
    if want is None:
        assert got[key] is None, key
    else:
        assert got[key] == pytest.approx(want, rel=1e-14, abs=1e-12), key


@pytest.mark.parametrize("seed", range(40))
async def test_ports_are_what_their_type_says(seed: int) -> None:
    chance = random.Random(seed)
    image = random_blocks(
        PORTS, chance, [chance.choice([0, 0, 1, 1, 2, 3, 4, 5, 6]) for _ in range(chance.randint(1, 5))]
    )
    model = model_in(image)
    roof, battery = present(model, PORTS, "PV"), present(model, PORTS, "ESS")
    made, raw = await map_and_raw(
        image_with(image, *[one[2:] for one in [image_of([model_of(103, W=1, W_SF=0)], end=())]])
    )
    got = {key: reading.decode(raw) for key, reading in made.readings.items()}
    for blocks, keys in (
        (roof, {"solar_power": "DCW", "solar_energy": "DCWhInj"}),
        (
            battery,
            {"battery_power": "DCW", "battery_energy_discharged": "DCWhInj", "battery_energy_charged": "DCWhAbs"},
        ),
    ):
        for key, name in keys.items():
            assert (key in got) == bool(blocks)
            if blocks:
                check(got, key, total(key, (value(block, model, name) for block in blocks)))
    for number, block in enumerate(roof, start=1):
        for what, name in {**STRING, "energy": "DCWhInj"}.items():
            check(got, f"string_{number}_{what}", total("", [value(block, model, name)]))
        shown = f"({block.points['IDStr'].value})" if implemented(block.points["IDStr"]) else ""
        assert made.readings[f"string_{number}_power"].name == f"String {number} {shown} power".replace("  ", " ")
    assert f"string_{len(roof) + 1}_power" not in got


@pytest.mark.parametrize("storage", [None, 124, 713, 802])
@pytest.mark.parametrize("seed", range(15))
async def test_trackers_are_strings_and_solar_power_where_there_is_no_battery(seed: int, storage: int | None) -> None:
    chance = random.Random(seed)
    image = random_blocks(TRACKERS, chance, [0] * chance.randint(1, 4))
    model = model_in(image)
    others = [model_of(103, W=1, W_SF=0), *([] if storage is None else [device.Model(storage)])]
    made, raw = await map_and_raw(image_with(image, image_of(others, end=())[2:]))
    got = {key: reading.decode(raw) for key, reading in made.readings.items()}
    blocks = present(model, TRACKERS)
    assert ("solar_power" in got) == (storage is None and bool(blocks))
    for number, block in enumerate(blocks, start=1):
        for what, name in STRING.items():
            check(got, f"string_{number}_{what}", total("", [value(block, model, name)]))
    if "solar_power" in got:
        check(got, "solar_power", total("", (value(block, model, "DCW") for block in blocks)))


async def test_a_battery_port_is_worked_by_hand() -> None:
    """3 x 10^1 W in and 2 x 10^1 W of two ports are 50 W; -120 x 10^1 W of a battery's port is charging, 1200 W."""
    image = random_blocks(PORTS, random.Random(1), [0, 0, 1])
    image[17] = 1
    for block, power in enumerate((3, 2, -120)):
        image[20 + 25 * block + 12] = power & 0xFFFF
        image[20 + 25 * block + 11] = 400
    made, raw = await map_and_raw(image_with(image))
    solar, battery = made.readings["solar_power"], made.readings["battery_power"]
    assert (solar.decode(raw), battery.decode(raw)) == (50, -1200)
    assert battery.direction(-1200) == "charging"


@pytest.mark.parametrize(
    ("battery", "want"),
    [({"W": 700, "W_SF": 0, "ChaSt": 4}, -700), ({"ChaSt": 4}, -1200), ({"W": 7, "W_SF": 0}, -1200)],
)
async def test_battery_power_is_the_batterys_own_where_it_tells_power_and_status(
    battery: dict[str, int], want: int
) -> None:
    ports = random_blocks(PORTS, random.Random(1), [1])
    ports[17], ports[20 + 12] = 1, -120 & 0xFFFF
    made, raw = await map_and_raw(image_with(ports, image_of([model_of(802, SoC=50, SoC_SF=0, **battery)], end=())[2:]))
    assert made.readings["battery_power"].decode(raw) == want
    assert "storage_power" not in made.readings


async def test_ports_that_the_model_is_too_short_for_are_not_there() -> None:
    image = random_blocks(PORTS, random.Random(2), [0, 0])
    image[20 + 12] = image[45 + 12] = 7
    image[17] = 0
    image[4] = 40
    made, _ = await map_and_raw(image_with(image))
    assert "string_2_power" in made.readings
    assert "string_3_power" not in made.readings


@pytest.mark.parametrize(("layout", "form"), [(dc_blocks.PORTS, PORTS), (dc_blocks.TRACKERS, TRACKERS)])
def test_the_rows_are_the_points_of_the_definition(layout: dc_blocks.BlockModel, form: BlockForm) -> None:
    model = empty(form, 2)
    first, second = model.groups[form.group]
    begin = next(iter(first.points.values())).offset
    assert (layout.first, layout.size) == (begin, next(iter(second.points.values())).offset - begin)
    count = model.points["NPrt" if form is PORTS else "N"]
    assert (layout.model, layout.count_at) == (model.model_id, count.offset)
    assert (layout.name_at, dc_blocks.NAME_REGISTERS) == (
        first.points["IDStr"].offset - begin,
        int(first.points["IDStr"].pdef["size"]),
    )
    if layout.type_at is not None:
        kind = first.points["PrtTyp"]
        assert layout.type_at == kind.offset - begin
        names = {symbol["name"]: symbol["value"] for symbol in kind.pdef["symbols"]}
        assert (names["PV"], names["ESS"]) == (dc_blocks.PV, dc_blocks.ESS)
    for row in layout.rows:
        point = first.points[row.point]
        assert (row.offset, row.type) == (point.offset - begin, point.pdef["type"])
        assert NUMBERS[POINT_TYPES[row.type].type].registers == int(point.pdef["size"])
        assert row.unit == point.pdef["units"]
        assert row.scale is not None
        assert (row.scale[0], row.scale[1]) == (point.pdef["sf"], model.points[point.pdef["sf"]].offset)


async def test_no_read_goes_from_one_model_into_the_next() -> None:
    models = [
        common(),
        model_of(103, W=1, W_SF=0),
        model_of(124, ChaState=50),
        model_of(802, SoC=50),
        model_of(203, W=1),
    ]
    image = [*image_of(models, end=()), *random_blocks(PORTS, random.Random(3), [0, 1]), *END]
    made, _ = await map_and_raw(image)
    bounds, at = [], 2
    while image[at] != END[0]:
        bounds.append((FIRST + at, FIRST + at + 2 + image[at + 1]))
        at += 2 + image[at + 1]
    groups = [group for reading in made.readings.values() for group in reading.point.groups]

    def crossing(rules: LineRules) -> list[Batch]:
        reads = batches(groups, rules)
        return [
            read
            for read in reads
            if not any(first <= read.first and read.first + read.count <= end for first, end in bounds)
        ]

    assert crossing(made.line) == []
    assert crossing(replace(made.line, block_starts=())), "they are near enough for that"


@pytest.mark.parametrize("longest", [125, 60, 10])
async def test_ports_are_found_by_as_long_reads_as_the_device_answers(longest: int) -> None:
    image = image_with(random_blocks(PORTS, random.Random(1), [0, 0, 1, 1, 0, 1, 0]))

    async def read(_table: Table, first: int, count: int) -> tuple[int, ...]:
        # The texts of model 1 are read in one go.
        if (count > longest and first > FIRST + 70) or not FIRST <= first <= first + count <= FIRST + len(image):
            raise NotThere
        return tuple(image[first - FIRST : first - FIRST + count])

    whole, _ = await map_and_raw(image)
    assert len(whole.readings) > 10
    assert (await read_sunspec_map(read)).readings == whole.readings
