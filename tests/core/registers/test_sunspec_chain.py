"""Finding and walking the chain of models, and the error when it cannot be right."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from custom_components.chargehand.core.registers import MapInvalid, NotThere, RegisterMap, Table, read_sunspec_map
from tests.core.registers.sunspec_images import common, image_of, model_of

INVERTER = {"W": 2500, "W_SF": 0}
MARKER = [0x5375, 0x6E53]


class Device:
    """Holding registers; notes what is read."""

    def __init__(self, first: int, image: list[int]) -> None:
        self.registers = dict(enumerate(image, start=first))
        self.reads: list[tuple[int, int]] = []

    async def read(self, table: Table, first: int, count: int) -> tuple[int, ...]:
        assert table is Table.HOLDING
        assert 0 < count <= 125
        assert first + count <= 65536
        self.reads.append((first, count))
        try:
            return tuple(self.registers[address] for address in range(first, first + count))
        except KeyError as missing:
            raise NotThere from missing


async def map_of(image: list[int], first: int = 40000) -> RegisterMap:
    return await read_sunspec_map(Device(first, image).read)


async def error_text(image: list[int], first: int = 40000) -> str:
    with pytest.raises(MapInvalid) as fault:
        await map_of(image, first)
    return str(fault.value)


@pytest.mark.parametrize("first", [40000, 50000, 0])
async def test_the_chain_is_found_wherever_it_may_begin(first: int) -> None:
    made = await map_of(image_of([common(), model_of(103, **INVERTER)]), first)
    assert (made.maker, made.model) == ("Teasel", "S5")
    assert [item.key for item in made.identity] == ["serial_number", "firmware"]
    assert made.readings["inverter_power"].point.first == first + 2 + 68 + 14
    assert made.schedule is None
    assert not made.controls


async def test_other_registers_at_a_base_are_no_chain() -> None:
    device = Device(50000, image_of([common(), model_of(103, **INVERTER)]))
    device.registers |= {40000: 0x5375, 40001: 0x6E54}
    made = await read_sunspec_map(device.read)
    assert made.readings["inverter_power"].point.first == 50000 + 84


async def test_without_a_marker_it_says_where_it_looked() -> None:
    text = await error_text([1, 2, 3])
    assert text.startswith("holding:40000: SunSpec: ")
    assert "50000 or 0" in text
    assert "choose another map" in text


async def test_a_model_that_is_not_known_is_passed_over() -> None:
    vendor = [64001, 300, *[7] * 300]
    image = image_of([common()], end=())
    made = await map_of([*image, *vendor, *image_of([model_of(103, **INVERTER)])[2:]])
    assert made.readings["inverter_power"].point.first == 40000 + len(image) + 302 + 14


@pytest.mark.parametrize(("model_id", "length"), [(103, 0), (103, 5001), (64001, 0xFFFF), (0, 50)])
async def test_an_absurd_length_is_refused(model_id: int, length: int) -> None:
    image = image_of([common()], end=())
    text = await error_text([*image, model_id, length, *[0] * 60])
    assert f"holding:{40000 + len(image)}: SunSpec: model {model_id} of {length} registers" in text


async def test_a_chain_that_breaks_off_is_refused() -> None:
    image = image_of([common(), model_of(103, **INVERTER)], end=())
    assert f"holding:{40000 + len(image)}: SunSpec: a model or the end" in await error_text(image)


async def test_the_last_register_may_be_the_end_without_a_length() -> None:
    made = await map_of(image_of([common(), model_of(103, **INVERTER)], end=[0xFFFF]))
    assert "inverter_power" in made.readings


async def test_a_chain_without_an_end_is_bounded() -> None:
    device = Device(0, [*MARKER, *[64001, 1, 0] * 5000])
    with pytest.raises(MapInvalid, match="no end after 200 models"):
        await read_sunspec_map(device.read)
    assert len(device.reads) < 250


@pytest.mark.parametrize("last", [2025, 2026, 4500])
async def test_a_chain_past_the_last_register_is_refused(last: int) -> None:
    """50002 + 3 x 4502 + 2027 = 65535: a header there, or further on, does not fit."""
    image = [*MARKER, *([64001, 4500, *[0] * 4500] * 3), 64001, last, *[0] * last]
    assert "holding:65535: SunSpec: the models run past" in await error_text(image[: 65536 - 50000], 50000)


async def test_a_common_model_of_65_registers_is_taken() -> None:
    image = image_of([common(), model_of(103, **INVERTER)])
    image[3] = 65
    del image[2 + 67]
    made = await map_of(image)
    assert made.readings["inverter_power"].point.first == 40000 + 2 + 67 + 14


async def test_without_a_serial_number_nothing_is_called_one() -> None:
    made = await map_of(image_of([model_of(1, Mn="Teasel", Md="S5"), model_of(103, **INVERTER)]))
    assert not made.identity


async def test_a_model_that_is_too_short_has_no_point_beyond_its_end() -> None:
    image = image_of([common(), model_of(103, **INVERTER)])
    image[71] = 24
    del image[72 + 24 :]
    made = await map_of([*image, 0xFFFF, 0])
    assert "inverter_power" in made.readings
    assert "inverter_energy" not in made.readings
    assert "inverter_state" not in made.readings


async def test_without_a_common_model_it_is_no_inverter_to_show() -> None:
    assert "no model 1" in await error_text(image_of([model_of(103, **INVERTER)]))


async def test_a_common_model_that_is_too_short_tells_no_maker() -> None:
    made = await map_of([*MARKER, 1, 4, 0, 0, 0, 0, *image_of([model_of(103, **INVERTER)])[2:]])
    assert (made.maker, made.model, made.identity) == ("SunSpec", "inverter", ())


async def test_a_common_model_that_cannot_be_read_is_told() -> None:
    device = Device(40000, image_of([common(), model_of(103, **INVERTER)]))
    del device.registers[40030]
    with pytest.raises(MapInvalid, match="holding:40004: SunSpec model 1: the chain has it"):
        await read_sunspec_map(device.read)


async def test_models_that_tell_nothing_known_are_listed() -> None:
    assert "(1, 126)" in await error_text([*image_of([common()], end=()), 126, 4, 0, 0, 0, 0, 0xFFFF, 0])


async def test_a_quantity_is_taken_from_the_preferred_model() -> None:
    made = await map_of(image_of([common(), model_of(124, ChaState=50), model_of(713, SoC=50), model_of(802, SoC=50)]))
    assert made.readings["battery_level"].point.first == 40000 + 2 + 68 + 26 + 9 + 11
    assert "battery_power" not in made.readings


async def test_one_meter_is_the_grids() -> None:
    made = await map_of(image_of([common(), model_of(203, W=100, W_SF=0)]))
    assert {"grid_power", "grid_energy_imported", "grid_energy_exported"} <= made.readings.keys()
    assert made.readings["grid_power"].direction(100) == "importing"


async def test_of_several_meters_none_is_guessed_to_be_the_grids() -> None:
    meters = [model_of(201, W=100, W_SF=0), model_of(203, W=100, W_SF=0)]
    made = await map_of(image_of([common(), model_of(103, **INVERTER), *meters]))
    assert not {"grid_power", "grid_energy_imported", "grid_energy_exported"} & made.readings.keys()


@given(st.lists(st.integers(0, 0xFFFF), max_size=300))
async def test_whatever_follows_the_marker_it_ends_with_a_map_or_a_reason(noise: list[int]) -> None:
    device = Device(40000, [*MARKER, *noise])
    with suppress(MapInvalid):
        assert (await read_sunspec_map(device.read)).readings
    assert len(device.reads) < 450
