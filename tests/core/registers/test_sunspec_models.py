"""The table of SunSpec points against the model definitions that pysunspec2 (SunSpec Alliance, 1.3.7) carries."""

from collections.abc import Mapping
from typing import Any

import pytest
from sunspec2 import device

from custom_components.chargehand.core.registers.register_map.catalogue import KNOWN_READINGS, MULTIPLES
from custom_components.chargehand.core.registers.register_map.number_types import NUMBERS, TEXT
from custom_components.chargehand.core.registers.sunspec.models import (
    FLAGS,
    IDENTITY_ROWS,
    LABELS,
    OWN_READINGS,
    POINT_TYPES,
    READING_ROWS,
    STRING_LENGTHS,
    Row,
)

ROWS = [
    pytest.param(model_id, row, id=f"{model_id}-{row.point}")
    for row in (*IDENTITY_ROWS, *READING_ROWS)
    for model_id in row.models
]
WORDS = [pytest.param(key, table[key], id=f"{key[0]}-{key[1]}") for table in (LABELS, FLAGS) for key in table]
OUR_UNITS = {"Pct": "%", "%WHRtg": "%", "% AhrRtg": "%", "C": "°C", "WH": "Wh", None: None}


def standard(model_id: int, name: str) -> device.Point:
    return device.Model(model_id).points[name]


@pytest.mark.parametrize(("model_id", "row"), ROWS)
def test_a_row_is_the_point_of_the_definition(model_id: int, row: Row) -> None:
    point = standard(model_id, row.point)
    kept = POINT_TYPES[row.type]
    length = STRING_LENGTHS[row.key] if kept.type == TEXT else NUMBERS[kept.type].registers
    assert (row.offset, row.type, length) == (point.offset, point.pdef["type"], int(point.pdef["size"]))
    assert (row.scale and row.scale[0]) == point.pdef.get("sf")
    if row.scale is not None:
        scale = standard(model_id, row.scale[0])
        assert (row.scale[1], "sunssf") == (scale.offset, scale.pdef["type"])


@pytest.mark.parametrize(("model_id", "row"), [one for one in ROWS if one.values[1].unit is not None])
def test_a_unit_is_the_definitions_and_leads_to_the_one_shown(model_id: int, row: Row) -> None:
    units = standard(model_id, row.point).pdef.get("units")
    assert OUR_UNITS.get(units, units) == row.unit
    known = KNOWN_READINGS.get(row.key)
    shown = known.unit if known is not None else OWN_READINGS[row.key].unit
    assert row.unit == shown or (known is not None and row.unit in MULTIPLES[str(shown)])


@pytest.mark.parametrize("row", READING_ROWS, ids=lambda row: f"{row.models[0]}-{row.point}")
def test_a_row_without_a_unit_is_words_or_a_count(row: Row) -> None:
    words = [key in LABELS or key in FLAGS for key in ((model_id, row.point) for model_id in row.models)]
    assert (row.unit is None) == (all(words) or row.key == "battery_cycles")
    assert all(words) or not any(words)


@pytest.mark.parametrize("row", READING_ROWS, ids=lambda row: f"{row.models[0]}-{row.point}")
def test_a_reading_is_named_once(row: Row) -> None:
    assert (row.key in KNOWN_READINGS) != (row.key in OWN_READINGS)


def meant(text: str) -> str:
    """Words of a symbol or of a text of ours, to compare: 111-113 print theirs with two letters too many."""
    return text.lower().replace(" ", "_").removeprefix("gg")


@pytest.mark.parametrize(("key", "texts"), WORDS)
def test_labels_and_flags_mean_what_the_definition_says(key: tuple[int, str], texts: Mapping[int, str]) -> None:
    symbols: list[dict[str, Any]] = standard(*key).pdef["symbols"]
    theirs = {int(symbol["value"]): meant(symbol["name"]) for symbol in symbols}
    ours = {number: meant(text) for number, text in texts.items()}
    assert ours == {number: theirs[number] for number in ours}
    left_out = [name for number, name in theirs.items() if number not in ours]
    assert all(name.endswith("_warning") or name.startswith("reserved") or name == "other_warning" for name in left_out)


@pytest.mark.parametrize(("key", "texts"), WORDS)
def test_no_reading_is_without_its_words(key: tuple[int, str], texts: Mapping[int, str]) -> None:
    assert any(key[0] in row.models and key[1] == row.point for row in READING_ROWS)
    assert texts
