"""Chargehand's blueprints, which the integration brings along: put in place and renewed as far as the user chooses them."""

from pathlib import Path
from typing import Any

import pytest
from homeassistant.components.automation.helpers import async_get_blueprints
from homeassistant.core import HomeAssistant, ServiceCall
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers.translation import async_get_translations
from pytest_homeassistant_custom_component.common import MockConfigEntry, async_mock_service

from custom_components.chargehand.forms import BlueprintState, put_in_place, shipped_blueprints
from custom_components.chargehand.forms.automations_form import AUTOMATIONS
from tests.bench.remote import Bench
from tests.forms.test_found_page import confirm, found

REPOSITORY = Path(__file__).parents[2]
ORIGINALS = REPOSITORY / "blueprints" / "automation" / "chargehand"
BROUGHT = REPOSITORY / "custom_components" / "chargehand" / "blueprints" / "automation" / "chargehand"
FILES = sorted(path.name for path in ORIGINALS.glob("*.yaml"))
REPORT, GUARD = "morning_report.yaml", "battery_room_guard.yaml"


@pytest.fixture
def folder(hass: HomeAssistant) -> Path:
    return Path(hass.config.path("blueprints", "automation", "chargehand"))


def write(path: Path, text: str) -> None:
    """Put a file there, as a user does."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)


@pytest.fixture
def reloaded(hass: HomeAssistant) -> list[ServiceCall]:
    """Each time that the automations are asked to take new files."""
    return async_mock_service(hass, "automation", "reload")


async def states(hass: HomeAssistant) -> dict[str, BlueprintState]:
    return {one.file: one.state for one in await shipped_blueprints(hass)}


async def opened(hass: HomeAssistant, entry: MockConfigEntry) -> Any:
    menu = await hass.config_entries.options.async_init(entry.entry_id)
    return await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": AUTOMATIONS})


async def choose(hass: HomeAssistant, entry: MockConfigEntry, *files: str) -> Any:
    form = await opened(hass, entry)
    return await hass.config_entries.options.async_configure(form["flow_id"], {AUTOMATIONS: list(files)})


def offered(form: Any) -> dict[str, str]:
    """What can be chosen, and what the form says of it."""
    return {
        one["value"]: one["label"] for kind in form["data_schema"].schema.values() for one in kind.config["options"]
    }


def chosen(form: Any) -> list[str]:
    """What is chosen as the form comes."""
    return sorted(form["data_schema"]({}).get(AUTOMATIONS, []))


async def an_earlier_release(hass: HomeAssistant, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, file: str) -> None:
    """Put a blueprint in place as an earlier release would have."""
    earlier = tmp_path / "earlier"
    earlier.mkdir()
    (earlier / file).write_text((BROUGHT / file).read_text().replace("description: ", "description: Earlier. ", 1))
    with monkeypatch.context() as patched:
        patched.setattr("custom_components.chargehand.forms.blueprint_files.SHIPPED", earlier)
        await put_in_place(hass, [file])


def test_the_integration_brings_the_repositorys_blueprints() -> None:
    """`scripts/copy_blueprints` makes them equal."""
    assert sorted(path.name for path in BROUGHT.iterdir()) == FILES
    for file in FILES:
        assert (BROUGHT / file).read_bytes() == (ORIGINALS / file).read_bytes(), file


async def test_all_that_are_missing_are_put_in_place_and_the_platform_takes_them(
    hass: HomeAssistant, entry: MockConfigEntry, folder: Path, reloaded: list[ServiceCall]
) -> None:
    form = await opened(hass, entry)
    assert chosen(form) == sorted(offered(form)) == FILES
    assert all(label.endswith("(missing)") for label in offered(form).values())
    assert offered(form)[REPORT].startswith("Morning report")
    running, options = entry.runtime_data, dict(entry.options)
    done = await choose(hass, entry, *FILES)
    assert (done["type"], done["reason"]) == (FlowResultType.ABORT, "put_in_place")
    assert done["description_placeholders"] == {"count": str(len(FILES))}
    assert len(reloaded) == 1
    known = await async_get_blueprints(hass).async_get_blueprints()
    assert {f"chargehand/{file}" for file in FILES} <= {
        str(path) for path, one in known.items() if hasattr(one, "inputs")
    }
    assert set((await states(hass)).values()) == {BlueprintState.CURRENT}
    assert (entry.runtime_data, dict(entry.options)) == (running, options), "the inverter is not disturbed"


async def test_when_all_are_in_place_the_form_says_so(
    hass: HomeAssistant, entry: MockConfigEntry, reloaded: list[ServiceCall]
) -> None:
    await put_in_place(hass, FILES)
    form = await opened(hass, entry)
    assert not form["data_schema"].schema
    assert "Morning report" in form["description_placeholders"]["current"]
    done = await hass.config_entries.options.async_configure(form["flow_id"], {})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    assert len(reloaded) == 1, "for the first time only"


async def test_one_of_an_earlier_release_is_renewed(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    folder: Path,
    reloaded: list[ServiceCall],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    await an_earlier_release(hass, monkeypatch, tmp_path, REPORT)
    assert (await states(hass))[REPORT] is BlueprintState.OLDER
    form = await opened(hass, entry)
    assert offered(form)[REPORT].endswith("(from an earlier release)")
    assert REPORT in chosen(form)
    await choose(hass, entry, REPORT)
    assert "Earlier." not in (folder / REPORT).read_text()
    assert await states(hass) == dict.fromkeys(FILES, BlueprintState.MISSING) | {REPORT: BlueprintState.CURRENT}
    assert len(reloaded) == 2


async def test_what_the_user_has_changed_is_only_overwritten_when_it_is_chosen(
    hass: HomeAssistant, entry: MockConfigEntry, folder: Path, reloaded: list[ServiceCall]
) -> None:
    await put_in_place(hass, [REPORT, GUARD])
    mine = (folder / REPORT).read_text().replace("Morning report", "My report", 1)
    (folder / REPORT).write_text(mine)
    form = await opened(hass, entry)
    assert offered(form)[REPORT] == "Morning report (changed, or copied by hand)"
    assert chosen(form) == sorted({*FILES} - {REPORT, GUARD})
    await choose(hass, entry, *chosen(form))
    assert (folder / REPORT).read_text() == mine
    await choose(hass, entry, REPORT)
    assert "My report" not in (folder / REPORT).read_text()
    assert (await states(hass))[REPORT] is BlueprintState.CURRENT


async def test_a_copy_made_by_hand_is_in_place_as_long_as_it_is_this_releases(
    hass: HomeAssistant, folder: Path
) -> None:
    text = (ORIGINALS / REPORT).read_text()
    write(folder / REPORT, text)
    assert (await states(hass))[REPORT] is BlueprintState.CURRENT
    (folder / REPORT).write_text(text + "# mine\n")
    assert (await states(hass))[REPORT] is BlueprintState.CHANGED
    (folder / REPORT).write_bytes(b"\xff\xfe")
    assert (await states(hass))[REPORT] is BlueprintState.CHANGED


async def test_a_folder_that_cannot_be_written_is_told(
    hass: HomeAssistant, entry: MockConfigEntry, folder: Path, reloaded: list[ServiceCall]
) -> None:
    folder.parents[1].write_text("a file where the folder belongs")
    wrong = await choose(hass, entry, REPORT)
    assert wrong["errors"] == {"base": "not_put_in_place"}
    assert str(folder.parents[1]) in wrong["description_placeholders"]["detail"]
    assert not reloaded


async def test_a_file_that_cannot_be_written_is_told_and_the_others_are_taken(
    hass: HomeAssistant, entry: MockConfigEntry, folder: Path, reloaded: list[ServiceCall]
) -> None:
    first, second = sorted((REPORT, GUARD))
    (folder / second).mkdir(parents=True)
    wrong = await choose(hass, entry, first, second)
    assert wrong["errors"] == {"base": "not_put_in_place"}
    assert (await states(hass))[first] is BlueprintState.CURRENT
    assert reloaded


@pytest.mark.parametrize("wanted", [True, False])
async def test_adding_an_inverter_puts_in_place_what_is_missing_where_it_is_wanted(
    hass: HomeAssistant, bench: Bench, folder: Path, wanted: bool
) -> None:
    write(folder / REPORT, "mine")
    page = await found(hass, bench)
    assert page["data_schema"]({})["blueprints"] is True
    done = await confirm(hass, page, None, blueprints=wanted)
    assert done["type"] is FlowResultType.CREATE_ENTRY
    assert "blueprints" not in done["result"].options
    there = {file for file, state in (await states(hass)).items() if state is BlueprintState.CURRENT}
    assert there == ({*FILES} - {REPORT} if wanted else set())
    assert (folder / REPORT).read_text() == "mine"
    await hass.config_entries.async_unload(done["result"].entry_id)


async def test_an_inverter_is_added_also_where_they_cannot_be_put_in_place(
    hass: HomeAssistant, bench: Bench, folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    folder.parents[1].write_text("a file where the folder belongs")
    done = await confirm(hass, await found(hass, bench), None, blueprints=True)
    assert done["type"] is FlowResultType.CREATE_ENTRY
    assert "blueprints could not be put in place" in caplog.text
    await hass.config_entries.async_unload(done["result"].entry_id)


async def test_nothing_is_asked_where_all_are_in_place(hass: HomeAssistant, bench: Bench) -> None:
    await put_in_place(hass, FILES)
    page = await found(hass, bench)
    assert "blueprints" not in page["data_schema"].schema
    hass.config_entries.flow.async_abort(page["flow_id"])


async def test_every_state_has_its_words(hass: HomeAssistant) -> None:
    texts = await async_get_translations(hass, "en", "selector", {"chargehand"})
    for state in BlueprintState:
        assert texts[f"component.chargehand.selector.blueprint_state.options.{state}"]
