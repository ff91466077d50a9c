"""A register map by upload: checked before it is kept, kept once the inverter answers, and never over another one unasked."""

from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from aiohttp import FormData
from homeassistant.config_entries import (
    SOURCE_RECONFIGURE,
    SOURCE_USER,
    ConfigEntryState,
    ConfigFlowContext,
    ConfigFlowResult,
)
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components import chargehand
from tests.bench.remote import Bench
from tests.conftest import SERIAL, AddInverter

TEASEL = (Path(chargehand.__file__).parent / "maps" / "teasel_t5.yaml").read_bytes()
OTHER = TEASEL.replace(b"title: Teasel T5 (bench inverter)", b"title: Teasel of the cellar")
BROKEN = TEASEL.replace(b"max: 100, step", b"max: 70000, step").replace(b"maker: Teasel", b"maker: 5")
TOO_LONG = TEASEL + b"#" * 256 * 1024

type Upload = Callable[[str, bytes], Awaitable[str]]


@pytest.fixture
async def upload(hass: HomeAssistant, bench: Bench, london: None, hass_client: ClientSessionGenerator) -> Upload:
    """Upload a file as the page does, and return its id."""
    assert await async_setup_component(hass, "chargehand", {})
    client = await hass_client()

    async def send(name: str, content: bytes) -> str:
        data = FormData(quote_fields=False)
        data.add_field("file", content, filename=name)
        answer = await client.post("/api/file_upload", data=data)
        assert answer.status == 200, await answer.text()
        return str((await answer.json())["file_id"])

    return send


def folder(hass: HomeAssistant) -> Path:
    return Path(hass.config.path("chargehand"))


def kept(hass: HomeAssistant) -> dict[str, bytes]:
    """The user's own maps."""
    return {path.name: path.read_bytes() for path in folder(hass).iterdir()} if folder(hass).is_dir() else {}


def keep(hass: HomeAssistant, name: str, content: bytes) -> None:
    folder(hass).mkdir(exist_ok=True)
    (folder(hass) / name).write_bytes(content)


async def submit(hass: HomeAssistant, port: int, file_id: str, **changed: object) -> ConfigFlowResult:
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    return await again(hass, form, port, map_file=file_id, **changed)


async def again(hass: HomeAssistant, form: ConfigFlowResult, port: int, **changed: object) -> ConfigFlowResult:
    data = {"host": "127.0.0.1", "port": port, "framing": "tcp"} | changed
    return await hass.config_entries.flow.async_configure(form["flow_id"], data)


async def chosen(hass: HomeAssistant, menu: ConfigFlowResult, step: str) -> ConfigFlowResult:
    assert menu["type"] is FlowResultType.MENU, menu
    assert menu["step_id"] == "known_map"
    return await hass.config_entries.flow.async_configure(menu["flow_id"], {"next_step_id": step})


def placeholders(form: ConfigFlowResult) -> dict[str, Any]:
    found = form["description_placeholders"]
    assert found is not None
    return dict(found)


async def test_a_map_is_uploaded_used_and_kept(hass: HomeAssistant, bench: Bench, upload: Upload) -> None:
    shown = await submit(hass, bench.port, await upload("mine.yaml", OTHER))
    assert shown["step_id"] == "confirm", shown
    done = await hass.config_entries.flow.async_configure(shown["flow_id"], {"allow_control": False})
    await hass.async_block_till_done()
    entry = done["result"]
    assert (entry.state, entry.unique_id) == (ConfigEntryState.LOADED, SERIAL)
    assert entry.data == {"host": "127.0.0.1", "port": bench.port, "framing": "tcp", "register_map": "mine"}
    assert kept(hass) == {"mine.yaml": OTHER}
    await hass.config_entries.async_unload(entry.entry_id)


async def test_mistakes_are_a_list_and_nothing_is_kept(hass: HomeAssistant, bench: Bench, upload: Upload) -> None:
    form = await submit(hass, bench.port, await upload("mine.yaml", BROKEN))
    assert (form["step_id"], form["errors"]) == ("user", {"map_file": "upload_invalid"})
    _, *mistakes = placeholders(form)["lists"].split("\n- ")
    assert len(mistakes) == 2
    assert all(mistake.startswith("mine.yaml:") for mistake in mistakes)
    assert kept(hass) == {}
    form = await again(hass, form, bench.port, map_file=await upload("mine.yaml", OTHER))
    assert form["step_id"] == "confirm"
    assert kept(hass) == {"mine.yaml": OTHER}


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("mine.yml", "mine.yml: its name has to end in .yaml"),
        ("mine.txt", "mine.txt: its name has to end in .yaml"),
        ("mine.YAML", "mine.YAML: its name has to end in .yaml"),
        ("My Inverter.yaml", "My Inverter.yaml: its name may only have small letters, digits and _"),
        ("größe.yaml", "größe.yaml: its name may only have small letters, digits and _"),
        (".yaml", ".yaml: its name may only have small letters, digits and _"),
        ("none.yaml", "none.yaml: none.yaml is taken, for an inverter without a map; give it another name"),
    ],
)
async def test_a_file_of_another_name_is_refused_with_the_reason(
    hass: HomeAssistant, bench: Bench, upload: Upload, name: str, said: str
) -> None:
    form = await submit(hass, bench.port, await upload(name, OTHER))
    assert form["errors"] == {"map_file": "upload_refused"}
    assert placeholders(form)["detail"] == said
    assert kept(hass) == {}


@pytest.mark.parametrize(
    ("content", "said"),
    [(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "UTF-8"), (b"", "empty"), (TOO_LONG, "262,144"), (b"a: \0", "character")],
    ids=["binary", "empty", "too long", "odd characters"],
)
async def test_what_is_no_map_at_all_is_refused_in_words(
    hass: HomeAssistant, bench: Bench, upload: Upload, content: bytes, said: str
) -> None:
    form = await submit(hass, bench.port, await upload("mine.yaml", content))
    assert form["errors"] == {"map_file": "upload_invalid"}
    assert said in placeholders(form)["lists"]
    assert kept(hass) == {}


async def test_a_file_that_the_platform_has_no_longer_is_asked_for_again(
    hass: HomeAssistant, bench: Bench, upload: Upload
) -> None:
    file_id = await upload("mine.yml", OTHER)
    form = await submit(hass, bench.port, file_id)
    form = await again(hass, form, bench.port, map_file=file_id)
    assert form["errors"] == {"map_file": "upload_gone"}


async def test_one_of_the_same_name_is_replaced_only_when_asked(
    hass: HomeAssistant, bench: Bench, upload: Upload
) -> None:
    keep(hass, "mine.yaml", TEASEL)
    menu = await submit(hass, bench.port, await upload("mine.yaml", OTHER))
    assert placeholders(menu)["file"] == "mine.yaml"
    assert placeholders(menu)["users"] == ""
    assert kept(hass) == {"mine.yaml": TEASEL}
    shown = await chosen(hass, menu, "take_map")
    assert shown["step_id"] == "confirm"
    assert kept(hass) == {"mine.yaml": OTHER}


async def test_one_of_the_same_name_stays_when_that_is_wanted(
    hass: HomeAssistant, bench: Bench, upload: Upload
) -> None:
    keep(hass, "mine.yaml", TEASEL)
    menu = await submit(hass, bench.port, await upload("mine.yaml", OTHER))
    form = await chosen(hass, menu, "cancel_map")
    assert (form["step_id"], form["errors"]) == ("user", {})
    form = await again(hass, form, bench.port, register_map="mine")
    assert form["step_id"] == "confirm"
    assert kept(hass) == {"mine.yaml": TEASEL}


async def test_one_that_is_there_with_the_same_content_is_not_asked_about(
    hass: HomeAssistant, bench: Bench, upload: Upload
) -> None:
    keep(hass, "mine.yaml", OTHER)
    shown = await submit(hass, bench.port, await upload("mine.yaml", OTHER))
    assert shown["step_id"] == "confirm"


async def test_one_that_is_built_in_is_asked_about_with_who_uses_it(
    hass: HomeAssistant, bench: Bench, upload: Upload, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port)
    hass.config_entries.async_update_entry(entry, title="Cellar")
    menu = await submit(hass, bench.port, await upload("teasel_t5.yaml", OTHER))
    assert placeholders(menu)["users"] == "It is the map of: Cellar."
    hass.config_entries.flow.async_abort(menu["flow_id"])
    menu = await submit(hass, bench.port, await upload("sunspec.yaml", OTHER))
    assert placeholders(menu)["file"] == "sunspec.yaml"
    assert kept(hass) == {}


async def test_one_that_comes_while_the_form_is_open_is_not_written_over(
    hass: HomeAssistant, bench: Bench, upload: Upload, unused_tcp_port: int
) -> None:
    form = await submit(hass, unused_tcp_port, await upload("mine.yaml", OTHER))
    assert form["errors"] == {"port": "port_closed"}
    keep(hass, "mine.yaml", TEASEL)
    form = await again(hass, form, bench.port, register_map="mine")
    assert form["errors"] == {"map_file": "map_changed"}
    assert kept(hass) == {"mine.yaml": TEASEL}


async def test_it_is_kept_in_the_form_and_not_in_the_folder_until_the_inverter_answers(
    hass: HomeAssistant, bench: Bench, upload: Upload, unused_tcp_port: int
) -> None:
    form = await submit(hass, unused_tcp_port, await upload("mine.yaml", OTHER))
    assert form["errors"] == {"port": "port_closed"}
    assert kept(hass) == {}
    assert form["data_schema"] is not None
    field = next(key for key in form["data_schema"].schema if key == "register_map")
    assert field.description == {"suggested_value": "mine"}
    first = form["data_schema"].schema["register_map"].config["options"][0]
    assert first == {"value": "mine", "label": "Teasel of the cellar"}
    form = await again(hass, form, bench.port, register_map="mine")
    assert form["step_id"] == "confirm"
    assert kept(hass) == {"mine.yaml": OTHER}


async def test_another_map_can_be_picked_after_all(
    hass: HomeAssistant, bench: Bench, upload: Upload, unused_tcp_port: int
) -> None:
    form = await submit(hass, unused_tcp_port, await upload("mine.yaml", OTHER))
    form = await again(hass, form, bench.port, register_map="teasel_t5")
    assert form["step_id"] == "confirm"
    assert kept(hass) == {}


async def test_a_folder_that_takes_nothing_is_told(hass: HomeAssistant, bench: Bench, upload: Upload) -> None:
    folder(hass).write_text("a file where the folder would be")
    form = await submit(hass, bench.port, await upload("mine.yaml", OTHER))
    assert form["errors"] == {"map_file": "map_not_kept"}
    assert "chargehand" in placeholders(form)["detail"]


async def test_reconfigure_takes_a_map_too_and_uses_it(
    hass: HomeAssistant, bench: Bench, upload: Upload, add_inverter: AddInverter
) -> None:
    keep(hass, "mine.yaml", TEASEL)
    entry: MockConfigEntry = await add_inverter(bench.port, register_map="mine")
    entity = hass.states.get("sensor.teasel_t5_battery_level")
    assert entity is not None
    context = ConfigFlowContext(source=SOURCE_RECONFIGURE, entry_id=entry.entry_id)
    form = await hass.config_entries.flow.async_init("chargehand", context=context)
    menu = await again(hass, form, bench.port, register_map="mine", map_file=await upload("mine.yaml", OTHER))
    assert placeholders(menu)["users"] == "It is the map of: Teasel T5."
    done = await chosen(hass, menu, "take_map")
    await hass.async_block_till_done()
    assert done["reason"] == "reconfigure_successful"
    assert kept(hass) == {"mine.yaml": OTHER}
    assert entry.state is ConfigEntryState.LOADED
    assert entry.runtime_data.inverter.map.title == "Teasel of the cellar"


async def test_a_map_is_uploaded_for_an_inverter_that_had_none(
    hass: HomeAssistant, bench: Bench, upload: Upload, add_inverter: AddInverter
) -> None:
    line = {"numbering": "from_0", "longest_read": 125, "pause_ms": 0, "timeout_ms": 3000}
    entry = MockConfigEntry(
        domain="chargehand",
        title="Inverter",
        data={
            "host": "127.0.0.1",
            "port": bench.port,
            "framing": "tcp",
            "register_map": "none",
            "unit": 1,
            "line": line,
        },
    )
    entry.add_to_hass(hass)
    assert await hass.config_entries.async_setup(entry.entry_id)
    context = ConfigFlowContext(source=SOURCE_RECONFIGURE, entry_id=entry.entry_id)
    form = await hass.config_entries.flow.async_init("chargehand", context=context)
    done = await again(hass, form, bench.port, register_map="none", map_file=await upload("mine.yaml", OTHER))
    await hass.async_block_till_done()
    assert done["reason"] == "reconfigure_successful"
    assert (entry.state, entry.unique_id, entry.data["register_map"]) == (ConfigEntryState.LOADED, SERIAL, "mine")
    await hass.config_entries.async_unload(entry.entry_id)
