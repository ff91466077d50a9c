"""What entities are called, the ids that automations hold on to, and the words of states, as the page shows them."""

import json
from itertools import combinations
from pathlib import Path

from homeassistant.const import EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.translation import async_get_translations
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components import chargehand
from custom_components.chargehand.core.registers import load_map
from custom_components.chargehand.core.registers.sunspec.models import LABELS, READING_ROWS
from tests.bench.remote import Bench
from tests.calls import state
from tests.teasel import INPUT_AT

HERE = Path(chargehand.__file__).parent

IDS_BY_NAME = {
    "backup_power": "backup_output_power",
    "backup_voltage": "backup_output_voltage",
    "cell_temperature_highest": "warmest_cell",
    "cell_temperature_lowest": "coldest_cell",
    "cell_voltage_highest": "highest_cell_voltage",
    "cell_voltage_lowest": "lowest_cell_voltage",
    "link_voltage": "dc_link_voltage",
    "roof_1_current": "roof_string_1_current",
    "roof_1_power": "roof_string_1_power",
    "roof_1_voltage": "roof_string_1_voltage",
    "roof_2_current": "roof_string_2_current",
    "roof_2_power": "roof_string_2_power",
    "roof_2_voltage": "roof_string_2_voltage",
    "workshop_loop_current": "workshop_loop",
}
"""Keys whose entity id is made of the name of the map or the catalogue; all others' ids are their keys."""

CUT_AT = 10
"""Letters that a page 400 px wide leaves of a name beside a field for a time of twelve hours (measured in Chromium)."""


def registered(hass: HomeAssistant, entry: MockConfigEntry) -> dict[str, er.RegistryEntry]:
    """All entities of the inverter, by key."""
    return {
        one.unique_id.removeprefix(f"{entry.entry_id}_"): one
        for one in er.async_entries_for_config_entry(er.async_get(hass), entry.entry_id)
    }


async def test_entity_ids_do_not_follow_the_names_that_are_shown(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    entities = registered(hass, entry)
    assert {
        "battery_power",
        "grid_current",
        "discharge_window_2_stop_level",
        "charge_window_4_start",
    } <= entities.keys()
    ids = {key: one.entity_id.split(".")[1] for key, one in entities.items()}
    assert ids == {key: f"teasel_t5_{IDS_BY_NAME.get(key, key)}" for key in entities}


async def test_names_of_times_are_told_apart_where_a_page_cuts_them(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    names = [str(one.original_name) for one in registered(hass, entry).values() if one.domain == "time"]
    assert len(names) == 12
    assert "Start 1, charge window" in names
    assert not [(one, other) for one, other in combinations(names, 2) if one[:CUT_AT] == other[:CUT_AT]]


async def test_a_power_that_goes_both_ways_says_which(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """By the Teasel's own table (tests/bench/teasel.py): charging and importing are positive there."""
    for watts, battery, grid in (
        (479, "charging", "importing"),
        (-479, "discharging", "exporting"),
        (0, "neither", "neither"),
    ):
        for key in ("battery_power", "grid_power"):
            await bench.set(INPUT_AT[key], [watts >> 16 & 0xFFFF, watts & 0xFFFF], table="input")
        await entry.runtime_data.async_refresh()
        await hass.async_block_till_done()
        assert state(hass, "sensor", "battery_power").attributes["direction"] == battery
        assert state(hass, "sensor", "grid_power").attributes["direction"] == grid
    assert "direction" not in state(hass, "sensor", "load_power").attributes
    assert state(hass, "sensor", "battery_power").name == "Teasel T5 Battery power (+ discharging)"
    assert state(hass, "sensor", "grid_power").name == "Teasel T5 Grid power (+ importing)"


async def test_the_devices_page_lists_first_what_everybody_looks_at(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    entities = registered(hass, entry)
    first = {key for key, one in entities.items() if one.entity_category is None and one.domain == "sensor"}
    assert {"battery_level", "battery_power", "grid_power", "load_power", "solar_power", "inverter_state"} <= first
    diagnostic = {key for key, one in entities.items() if one.entity_category is EntityCategory.DIAGNOSTIC}
    assert {"battery_voltage", "grid_frequency", "roof_1_voltage", "rated_power", "alarms", "line_errors"} <= diagnostic
    assert len(first) < len([one for one in entities.values() if one.domain == "sensor"]) / 2


async def test_an_unused_window_shows_neither_times_nor_limits(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    for setting, platform in (("start", "time"), ("end", "time"), ("power", "number"), ("stop_level", "number")):
        assert state(hass, platform, f"discharge_window_1_{setting}").state == "unknown"
    assert state(hass, "switch", "discharge_window_1_active").state == "off"


async def test_the_calendars_state_says_whether_a_window_is_active(hass: HomeAssistant) -> None:
    texts = await async_get_translations(hass, "en", "entity", {"chargehand"})
    states = "component.chargehand.entity.calendar.schedule.state"
    assert (texts[f"{states}.on"], texts[f"{states}.off"]) == ("Window active", "No window active")


def test_no_label_that_comes_with_chargehand_is_shown_raw() -> None:
    """A label in words of its own is shown as it is; one in small letters is a key, and needs a text."""
    texts = json.loads((HERE / "translations/en.json").read_text())["entity"]
    shown = 0
    for path in sorted((HERE / "maps").glob("*.yaml")):
        register_map = load_map(path)
        for platform, values in (("sensor", register_map.readings), ("select", register_map.controls)):
            for key, value in values.items():
                for label in value.labels.values():
                    assert label != label.lower() or texts[platform][key]["state"][label], (path.name, key, label)
                    shown += 1
    for row in READING_ROWS:
        for label in {label for model in row.models for label in LABELS.get((model, row.point), {}).values()}:
            assert texts["sensor"][row.key]["state"][label], (row.key, label)
            shown += 1
    assert shown > 20
