"""The page that goes from a document to a window that acts: its map is the bundled one, its answers are those of an inverter elsewhere.

The inverter is the bench's, in a process of its own. It was written from the document, and knows nothing of maps.
"""

import json
import re
from collections.abc import AsyncIterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import yaml
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components import chargehand
from custom_components.chargehand.core.registers import load_map
from custom_components.chargehand.core.registers.map_file.format import MAP
from scripts.map_trial.said import places
from tests.bench.larkfen import CHARGE_1, ENABLE_WORD, INPUT, LARKFEN, SCHEDULE
from tests.bench.options import read_options
from tests.bench.remote import Bench
from tests.calls import act, find_entity, hurry
from tests.conftest import QUICK
from tests.core.registers.test_schema import accepted
from tests.forms.test_unmapped import added, asked

PAGE = (Path(__file__).parents[1] / "docs" / "a-document-in-an-evening.md").read_text(encoding="utf-8")
BUNDLED = Path(chargehand.__file__).parent / "maps" / "larkfen_lf5.yaml"
BLOCKS = re.findall(r"^```yaml\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
TEXTS = re.findall(r"^```text\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
PIECES = [block for block in BLOCKS if yaml.safe_load(block).keys() <= MAP.keys()]
ANSWERS = [yaml.safe_load(block) for block in BLOCKS if block not in PIECES]
DOCUMENT = TEXTS[0]
SERIAL = "LF5-AM-2611-0042"
NOON = datetime.fromisoformat("2026-01-10T12:30")
"""What the page's command sets the inverter's clock to."""


def stages() -> list[str]:
    """The file after each piece, which adds its lines to their section."""
    held: dict[str, str] = {}
    found = []
    for piece in PIECES:
        for part in re.split(r"^(?=\w+:)", piece, flags=re.MULTILINE)[1:]:
            name = part.partition(":")[0]
            held[name] = held[name] + part.partition("\n")[2] if name in held else part
        found.append("".join(held.values()))
    return found


def answer(*keys: str) -> dict[str, Any]:
    """The one answer on the page that has these keys."""
    (found,) = [one for one in ANSWERS if {*keys} <= one.keys()]
    return dict(found)


def says(said: object, came: object) -> bool:
    """Whether what the page prints is part of what came; a list on the page may end early, registers come as texts."""
    if isinstance(said, dict):
        by_text = {str(key): value for key, value in came.items()} if isinstance(came, dict) else {}
        return all(str(key) in by_text and says(value, by_text[str(key)]) for key, value in said.items())
    if isinstance(said, list):
        return (
            isinstance(came, list)
            and len(said) <= len(came)
            and all(says(one, other) for one, other in zip(said, came, strict=False))
        )
    return said == came


def test_the_page_has_its_steps_and_pieces() -> None:
    assert re.findall(r"^## (\d+)\. ", PAGE, re.MULTILINE) == [str(number) for number in range(1, 12)]
    assert (len(PIECES), len(ANSWERS)) == (9, 8)


@pytest.mark.parametrize("text", stages(), ids=lambda text: f"{text.count(':')} values")
def test_the_file_is_right_after_each_piece(tmp_path: Path, text: str) -> None:
    path = tmp_path / BUNDLED.name
    path.write_text(text, encoding="utf-8")
    assert load_map(path).id == "larkfen_lf5"
    assert accepted(text)


def test_the_finished_map_is_the_bundled_one() -> None:
    assert yaml.safe_load(stages()[-1]) == yaml.safe_load(BUNDLED.read_text(encoding="utf-8"))


def test_the_document_lists_the_registers_that_the_inverter_has() -> None:
    """30002-09 are input registers 1 to 8 on the wire."""
    listed: dict[str, set[int]] = {"3": set(), "4": set()}
    for table, first, last in re.findall(r"^ ([34])(\d{4})(?:-(\d\d))? ", DOCUMENT, re.MULTILINE):
        end = int(first[:2] + last) if last else int(first)
        listed[table] |= set(range(int(first) - 1, end))
    assert listed["3"] == INPUT
    assert listed["4"] == LARKFEN.writable


def test_the_command_on_the_page_starts_that_inverter_at_noon() -> None:
    (command,) = [text for text in TEXTS if " -m tests.bench " in text]
    python, options_given = command.split(" -m tests.bench ")
    assert python == '"$(scripts/environment)"', "a new clone has no other Python that can run it"
    options = read_options(options_given.split())
    assert (options.make.serial, options.start) == (LARKFEN.serial, NOON)


@pytest.fixture
async def larkfen(socket_enabled: None) -> AsyncIterator[Bench]:
    """The inverter of the page; its time stands still, so that numbers are compared and not moments."""
    async with await Bench.start(**QUICK, inverter="larkfen", clock=NOON, speed=0) as bench:
        yield bench


async def test_the_finder_answers_what_the_page_prints(hass: HomeAssistant, london: None, larkfen: Bench) -> None:
    entry = await added(hass, larkfen.port, numbering="from_1", test_table="input", test_register=340)
    try:
        (call,) = [one["data"] for one in ANSWERS if one.get("action") == "chargehand.read_registers"]
        asked_for = {key: value for key, value in call.items() if key != "device_id"}
        said = answer("registers", "unreadable")
        assert says(said, came := await asked(hass, entry, "read_registers", **asked_for)), came
        assert len(came["registers"]) == len(said["registers"])
        assert len(came["unreadable"]) == len(said["unreadable"])

        said = answer("registers", "decoded")
        assert says(said, came := await asked(hass, entry, "read_registers", table="holding", first=701, count=3)), came

        energies = [
            (await asked(hass, entry, "read_registers", table="input", first=first, count=1))["registers"][str(first)]
            for first in (382, 392)
        ]
        assert f"382 and 392 are {energies[0]} and {energies[1]}:" in PAGE
        assert f"{energies[0]} × 65536 + {energies[1]} = {energies[0] * 65536 + energies[1]} tenths" in PAGE

        buzzer, start = (one["changes"] for one in ANSWERS if "changes" in one)
        for said, stretch, address, value in (
            (
                buzzer,
                {"first": 710, "count": 1},
                ENABLE_WORD,
                (await larkfen.registers("holding", ENABLE_WORD))[0] - 32,
            ),
            (start, {"first": 720, "count": 10}, CHARGE_1, 1 << 8 | 45),
        ):
            before = await asked(hass, entry, "read_registers", table="holding", **stretch)
            await larkfen.set(address, [value])
            came = await asked(hass, entry, "compare_registers", table="holding", snapshot=before, **stretch)
            assert says(said, came["changes"]), came
            assert len(came["changes"]) == 1
    finally:
        await hass.config_entries.async_unload(entry.entry_id)
        await hass.async_block_till_done()


@pytest.fixture
async def mapped(hass: HomeAssistant, london: None, larkfen: Bench) -> AsyncIterator[MockConfigEntry]:
    """The inverter with its map, and control allowed."""
    data = {"host": "127.0.0.1", "port": larkfen.port, "framing": "tcp", "register_map": "larkfen_lf5"}
    entry = MockConfigEntry(
        domain="chargehand", title="Larkfen", unique_id=SERIAL, data=data, options={"allow_control": True}
    )
    entry.add_to_hass(hass)
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    hurry(entry)
    yield entry
    # A poll may be at work, whose request would outlive the entry by its pause.
    await hass.async_block_till_done(wait_background_tasks=True)
    await hass.config_entries.async_unload(entry.entry_id)


async def test_readings_and_the_log_say_what_the_page_prints(
    hass: HomeAssistant, mapped: MockConfigEntry, caplog: pytest.LogCaptureFixture
) -> None:
    said = dict(re.findall(r"^\| `(\w+)` \| (\S+).* \|$", PAGE, re.MULTILINE))
    shown = {}
    for key in said:
        found = find_entity(hass, "sensor", key, SERIAL)
        assert found is not None, key
        state = hass.states.get(found)
        assert state is not None, key
        unit = state.attributes.get("unit_of_measurement")
        assert f"| `{key}` | {state.state}{f' {unit}' if unit else ''} |" in PAGE
        shown[key] = state.state
    assert shown == said
    # The page leaves out what never has a number of its own: bits, and the battery's two limits.
    missing = mapped.runtime_data.inverter.map.readings.keys() - said.keys()
    assert missing == {"feed_in_limit", "alarms", "battery_charge_current_limit", "battery_discharge_current_limit"}
    logged = [record.getMessage() for record in caplog.get_records("setup") if "refuses reads" in record.getMessage()]
    assert [text.partition("\n")[0] + "\n" for text in logged] == [text for text in TEXTS if "refuses reads" in text]


async def test_the_window_on_the_page_is_confirmed_acts_and_is_put_back(
    hass: HomeAssistant, mapped: MockConfigEntry, larkfen: Bench
) -> None:
    """At noon the battery is at 46 %: a window to 20 % does nothing, one to 60 % charges with 10 % of 5000 W."""
    factory = [(await larkfen.registers("kept", address))[0] for address in SCHEDULE]
    assert says(answer("charge", "discharge"), await act(hass, mapped, "get_schedule"))
    (call,) = [one["data"] for one in ANSWERS if one.get("action") == "chargehand.apply_schedule"]
    receipt = await act(hass, mapped, "apply_schedule", charge=call["charge"])
    assert says(answer("outcome"), receipt), receipt
    assert await larkfen.registers("kept", ENABLE_WORD) == factory[:1], "bit 11 and the others stay"
    assert await larkfen.registers("kept", CHARGE_1, 2) == [13 << 8, 13 << 8 | 10]
    assert (await act(hass, mapped, "restore_schedule"))["outcome"] == "confirmed"
    assert [(await larkfen.registers("kept", address))[0] for address in SCHEDULE] == factory

    acts = [{**call["charge"][0], "stop_level": 60}]
    assert (await act(hass, mapped, "apply_schedule", charge=acts))["outcome"] == "confirmed"
    await larkfen.advance(31 * 60)
    (said,) = re.findall(r"^```json\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
    assert says(json.loads(said), await larkfen.acting())
    assert (await larkfen.battery())["battery_w"] == pytest.approx(500)
    assert (await act(hass, mapped, "restore_schedule"))["outcome"] == "confirmed"
    assert [(await larkfen.registers("kept", address))[0] for address in SCHEDULE] == factory


def test_the_command_that_tries_the_map_says_what_the_page_prints() -> None:
    made = load_map(BUNDLED)
    assert f"{made.title} is served at 127.0.0.1:5020 by Modbus TCP, unit 1: {places(made.schedule)}.\n" in PAGE
