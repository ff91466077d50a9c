"""The card's modules as a browser gets them: served, under an address that changes with them, and added to every page once."""

import re
from http import HTTPStatus
from pathlib import Path

import pytest
from homeassistant.components.frontend import DATA_EXTRA_MODULE_URL, UrlManager
from homeassistant.core import HomeAssistant
from homeassistant.helpers.translation import async_get_translations
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.chargehand import frontend

FOLDER = Path(frontend.__file__).parent
IMPORTED = re.compile(r"""^(?:import|export)\b(?:[^"'();]*\bfrom)?\s*["'](?P<path>[^"']+)["']""", re.MULTILINE)


@pytest.fixture
def urls(hass: HomeAssistant) -> list[str]:
    """What pages are told to load besides their own modules. The platform's frontend itself is not started."""
    added: list[str] = []
    hass.data[DATA_EXTRA_MODULE_URL] = UrlManager(lambda change, url: added.append(f"{change} {url}"), [])
    hass.config.components.add("frontend")
    return added


async def test_every_page_loads_the_card_once(hass: HomeAssistant, urls: list[str]) -> None:
    assert await async_setup_component(hass, "chargehand", {})
    assert len(urls) == 1
    assert re.fullmatch(r"added /chargehand_frontend/[0-9a-f]{12}/chargehand\.js", urls[0])


async def test_the_entry_and_all_that_it_imports_is_served_and_may_be_kept(
    hass: HomeAssistant, urls: list[str], hass_client_no_auth: ClientSessionGenerator
) -> None:
    assert await async_setup_component(hass, "chargehand", {})
    client = await hass_client_no_auth()
    base, _, entry = urls[0].removeprefix("added ").rpartition("/")
    open_, seen = {entry}, set[str]()
    while open_:
        name = open_.pop()
        seen.add(name)
        answer = await client.get(f"{base}/{name}")
        assert answer.status == HTTPStatus.OK, name
        assert "javascript" in answer.content_type
        assert "max-age" in answer.headers["Cache-Control"]
        imported = [found["path"] for found in IMPORTED.finditer(_code(await answer.text()))]
        # Beside itself, so that what is imported has the same version in its path.
        assert all(path.startswith("./") for path in imported), (name, imported)
        open_ |= {path.removeprefix("./") for path in imported} - seen
    assert len(seen) > 5


async def test_nothing_but_modules_is_served(
    hass: HomeAssistant, urls: list[str], hass_client_no_auth: ClientSessionGenerator
) -> None:
    assert await async_setup_component(hass, "chargehand", {})
    client = await hass_client_no_auth()
    base = urls[0].removeprefix("added ").rpartition("/")[0]
    for name in ("__init__.py", "modules.py", "", "../manifest.json"):
        assert (await client.get(f"{base}/{name}")).status == HTTPStatus.NOT_FOUND, name


async def test_the_address_changes_with_any_module(
    hass: HomeAssistant, urls: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, content in (("chargehand.js", "import './a.js'"), ("a.js", "1")):
        (tmp_path / name).write_text(content)
    monkeypatch.setattr("custom_components.chargehand.frontend.modules.FOLDER", tmp_path)
    assert await async_setup_component(hass, "http", {})
    await frontend.async_setup_frontend(hass)
    (tmp_path / "a.js").write_text("2")
    await frontend.async_setup_frontend(hass)
    first, second = urls
    assert first != second


async def test_without_the_frontend_the_integration_is_there_all_the_same(hass: HomeAssistant) -> None:
    assert await async_setup_component(hass, "chargehand", {})
    assert DATA_EXTRA_MODULE_URL not in hass.data


async def test_the_texts_are_served_in_english_where_a_language_has_none(hass: HomeAssistant) -> None:
    assert await async_setup_component(hass, "chargehand", {})
    english = await async_get_translations(hass, "en", "config_panel", ["chargehand"])
    assert "component.chargehand.config_panel.day.loading" in english
    assert await async_get_translations(hass, "cy", "config_panel", ["chargehand"]) == english


def _code(source: str) -> str:
    """A module without its comments, in which types are imported."""
    return re.sub(r"/\*.*?\*/|^\s*//.*$", "", source, flags=re.DOTALL | re.MULTILINE)
