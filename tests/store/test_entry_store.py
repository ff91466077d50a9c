"""The file that an entry keeps: sections that leave one another alone, and writes that come in time."""

from datetime import timedelta
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import async_fire_time_changed

from custom_components.chargehand.store import EntryStore

KEY = "chargehand.alder_mill"


async def opened(hass: HomeAssistant) -> EntryStore:
    """The file of an invented entry, read."""
    store = EntryStore(hass, "alder_mill")
    await store.load()
    return store


async def pass_seconds(hass: HomeAssistant, seconds: float) -> None:
    """Let so much time go by."""
    async_fire_time_changed(hass, dt_util.utcnow() + timedelta(seconds=seconds))
    await hass.async_block_till_done()


async def test_sections_are_kept_side_by_side(hass: HomeAssistant, hass_storage: dict[str, Any]) -> None:
    store = await opened(hass)
    one, other = store.section("one"), store.section("other")
    one.keep(lambda: {"a": 1})
    other.keep(lambda: {"b": 2})
    await one.write_now()
    assert hass_storage[KEY]["data"] == {"one": {"a": 1}, "other": {"b": 2}}
    again = await opened(hass)
    assert (again.section("one").found, again.section("other").found) == ({"a": 1}, {"b": 2})
    assert await one.on_disk() == {"a": 1}


@pytest.mark.parametrize("data", [{"other": {"b": 2}}, {"one": 5, "other": {"b": 2}}, {"one": None, "other": {"b": 2}}])
async def test_a_section_that_is_none_leaves_the_others_alone(
    hass: HomeAssistant, hass_storage: dict[str, Any], data: dict[str, Any]
) -> None:
    hass_storage[KEY] = {"version": 1, "minor_version": 1, "key": KEY, "data": data}
    store = await opened(hass)
    assert store.section("one").found == {}
    assert store.section("other").found == {"b": 2}
    store.section("one").keep(lambda: {"a": 1})
    await store.section("one").write_now()
    assert hass_storage[KEY]["data"] == {"one": {"a": 1}, "other": {"b": 2}}, "what nobody has taken up stays"


async def test_a_file_that_is_no_object_is_begun_anew(hass: HomeAssistant, hass_storage: dict[str, Any]) -> None:
    hass_storage[KEY] = {"version": 1, "minor_version": 1, "key": KEY, "data": [1, 2]}
    assert (await opened(hass)).section("one").found == {}


async def test_a_write_that_is_due_soon_is_not_put_off_by_one_that_has_time(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    store = await opened(hass)
    kept = {"a": 1}
    one = store.section("one")
    one.keep(lambda: dict(kept))
    one.write_soon(1)
    kept["a"] = 2
    one.write_soon(30)
    await pass_seconds(hass, 2)
    assert hass_storage[KEY]["data"]["one"] == {"a": 2}, "and it holds what is known when it is written"
    kept["a"] = 3
    one.write_soon(30)
    one.write_soon(1)
    await pass_seconds(hass, 4)
    assert hass_storage[KEY]["data"]["one"] == {"a": 3}


async def test_once_closed_the_file_is_the_next_starts(hass: HomeAssistant, hass_storage: dict[str, Any]) -> None:
    store = await opened(hass)
    one = store.section("one")
    kept = {"a": 1}
    one.keep(lambda: dict(kept))
    one.write_soon(1)
    await store.close()
    assert hass_storage[KEY]["data"]["one"] == {"a": 1}
    kept["a"] = 2
    one.write_soon(1)
    await one.write_now()
    await pass_seconds(hass, 2)
    assert hass_storage[KEY]["data"]["one"] == {"a": 1}
    await EntryStore(hass, "alder_mill").remove()
    assert KEY not in hass_storage


async def test_a_section_that_has_not_changed_is_not_made_anew_until_the_end(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    """Four hundred nights are much to make into data, and a commit writes several times."""
    store = await opened(hass)
    one, other = store.section("one"), store.section("other")
    made: list[str] = []
    one.keep(lambda: {"a": len(made)})
    other.keep(lambda: {"b": made.append("other") or len(made)})
    for _ in range(3):
        await one.write_now()
    assert made == ["other"], "once, at the first write"
    assert hass_storage[KEY]["data"] == {"one": {"a": 1}, "other": {"b": 1}}
    other.write_soon(30)
    await one.write_now()
    assert hass_storage[KEY]["data"]["other"] == {"b": 2}, "what has changed goes with the next write"
    await store.close()
    assert hass_storage[KEY]["data"]["other"] == {"b": 3}, "and all of it at the end"
