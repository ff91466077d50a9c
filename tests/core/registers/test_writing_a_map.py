"""The page that teaches how to write a map, tried: each of its pieces loads, and the map they make reads what the page says."""

import re
from pathlib import Path

import pytest
import yaml

from custom_components.chargehand.core.registers import MapInvalid, RegisterMap, Table, load_map
from custom_components.chargehand.core.registers.finder.changes import changes
from custom_components.chargehand.core.registers.finder.interpretations import decodings
from custom_components.chargehand.core.registers.map_file.format import MAP

from .test_schema import accepted

PAGE = (Path(__file__).parents[3] / "docs" / "writing-a-map.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```yaml\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
PIECES = [block for block in BLOCKS if yaml.safe_load(block).keys() <= MAP.keys()]
ANSWERS = [yaml.safe_load(block) for block in BLOCKS if block not in PIECES]


def sections(piece: str) -> dict[str, str]:
    """The text of each top-level key, and of what stands before the first."""
    parts = re.split(r"^(?=\w+:)", piece, flags=re.MULTILINE)
    return {part.partition(":")[0] if part[0].isalpha() else "": part for part in parts if part}


def stages() -> list[str]:
    """The file after each piece: a section that comes again takes the place of the earlier one."""
    held: dict[str, str] = {}
    found = []
    for piece in PIECES:
        held |= sections(piece)
        found.append("".join(held.values()))
    return found


def loaded(folder: Path, text: str) -> RegisterMap:
    path = folder / "comfrey_c2.yaml"
    path.write_text(text, encoding="utf-8")
    return load_map(path)


def answered(key: str) -> dict[str, object]:
    (answer,) = [answer for answer in ANSWERS if key in answer]
    return dict(answer)


def test_the_page_has_ten_steps_and_its_pieces() -> None:
    assert re.findall(r"^## (\d+)\. ", PAGE, re.MULTILINE) == [str(number) for number in range(1, 11)]
    assert len(PIECES) == 7
    assert len(ANSWERS) == 5


@pytest.mark.parametrize("text", stages(), ids=lambda text: f"{text.count(':')} values")
def test_the_file_is_right_after_each_step(tmp_path: Path, text: str) -> None:
    assert loaded(tmp_path, text).id == "comfrey_c2"
    assert accepted(text)


def test_the_message_on_the_page_is_the_one_that_comes(tmp_path: Path) -> None:
    with pytest.raises(MapInvalid) as raised:
        loaded(tmp_path, stages()[0].replace("from_1", "from1"))
    assert f"```text\n{raised.value}\n```" in PAGE


def test_the_map_reads_what_the_page_says(tmp_path: Path) -> None:
    made = loaded(tmp_path, stages()[-1])
    registers = answered("registers")["registers"]
    assert isinstance(registers, dict)
    raw = {(Table.INPUT, number - 1): value for number, value in registers.items()}
    said = dict(re.findall(r"^\| `(\w+)` \| (\S+) \|$", PAGE, re.MULTILINE))
    assert said.keys() == made.readings.keys()
    assert {key: str(reading.decode(raw)) for key, reading in made.readings.items()} == said
    ways = decodings({number - 1: value for number, value in registers.items()}, 27 - 1)
    assert ways["u32_low_first"] == 452318
    assert ways["u32_high_first"] == pytest.approx(4e9, rel=0.05)


ROWS = re.findall(r"^\| .* \| `(\{.*\})` \|$", PAGE, re.MULTILINE)


@pytest.mark.parametrize("row", ROWS)
def test_each_reading_that_the_page_gives_besides_can_be_one(tmp_path: Path, row: str) -> None:
    text = f"{stages()[0]}  own: {row[:-1]}, name: Own}}\n"
    assert loaded(tmp_path, text).readings["own"].name == "Own"
    assert accepted(text)
    assert len(ROWS) == 9


def test_a_number_with_its_digit_is_told_with_what_to_write(tmp_path: Path) -> None:
    with pytest.raises(MapInvalid, match="write 21;"):
        loaded(tmp_path, stages()[0].replace("input: 21", "input: 30021"))


def test_the_comparison_on_the_page_is_the_one_that_comes() -> None:
    (said,) = answered("changes")["changes"]  # type: ignore[misc]
    (change,) = changes({121: said["was"]}, {121: said["now"]})
    best = change.meanings[0]
    assert best.way is not None
    likeliest = {"register": best.first, best.way.field: best.way.name, "was": best.was, "now": best.now}
    assert likeliest == said["could_mean"][0]


def test_the_windows_of_the_map_are_those_of_the_document(tmp_path: Path) -> None:
    schedule = loaded(tmp_path, stages()[-1]).schedule
    assert schedule is not None
    assert [register + 1 for _, register in schedule.addresses] == [101, *range(121, 129)]
    times = {(Table.HOLDING, 124): 2240, (Table.HOLDING, 125): 220}
    second = schedule.charge[1]
    assert (second.start.decode(times), second.end.decode(times)) == (22 * 60 + 40, 2 * 60 + 20)
