"""What entities show: the bench's own numbers, in the platform's units and directions, and nothing when there is nothing."""

import asyncio
import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from homeassistant.components.diagnostics import REDACTED
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers import issue_registry as ir
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.helpers.service import async_get_all_descriptions
from homeassistant.helpers.translation import async_get_translations
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry, async_fire_time_changed
from pytest_homeassistant_custom_component.components.diagnostics import get_diagnostics_for_config_entry
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components import chargehand
from custom_components.chargehand import calendar
from custom_components.chargehand.core.modbus.back_off import LONGEST_DELAY
from custom_components.chargehand.core.registers import KNOWN_READINGS
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CLOCK
from tests.calls import act, entity_id, find_entity, state
from tests.conftest import SERIAL, AddInverter
from tests.teasel import INPUT_AT, TONIGHT, UNUSED, held, registers
from tests.waiting import until

NO_TIMES = [9999, 2000, 90, 9999]
"""A window's registers whose times are none."""


async def poll(hass: HomeAssistant, entry: MockConfigEntry, *, slow: bool = False) -> None:
    """Let a poll happen now."""
    if slow:
        entry.runtime_data.rates.slow_next()
    await entry.runtime_data.async_refresh()
    await hass.async_block_till_done()


async def enable(hass: HomeAssistant, entry: MockConfigEntry, platform: str, key: str) -> None:
    """Enable an entity that is disabled at first."""
    er.async_get(hass).async_update_entity(entity_id(hass, platform, key), disabled_by=None)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()


async def test_numbers_are_the_benchs_own(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await bench.set(INPUT_AT["battery_level"], [64], table="input")
    await bench.set(
        INPUT_AT["battery_power"], [0xFFFF, 0xF830], table="input"
    )  # -2000 W: the Teasel counts charging positive
    await bench.set(INPUT_AT["battery_voltage"], [523], table="input")
    await bench.set(INPUT_AT["battery_temperature"], [0xFFF6], table="input")  # -1.0 degC
    await bench.set(INPUT_AT["grid_power"], [0xFFFF, 0xFE0C], table="input")  # -500 W: exporting
    await bench.set(INPUT_AT["grid_frequency"], [4998], table="input")
    await bench.set(INPUT_AT["battery_energy_charged"], [0x0001, 0x0002], table="input")
    await bench.set(INPUT_AT["insulation_resistance"], [0xFFFF], table="input")
    await poll(hass, entry, slow=True)
    expected = {
        "battery_level": "64",
        "battery_power": "2000",
        "battery_voltage": "52.3",
        "battery_temperature": "-1.0",
        "grid_power": "-500",
        "grid_frequency": "49.98",
        "battery_energy_charged": "6553.8",
        "insulation_resistance": "unknown",
        "rated_power": "5000",
        "inverter_state": "running",
    }
    assert {key: state(hass, "sensor", key).state for key in expected} == expected


async def test_units_and_classes_are_the_platforms(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    power = state(hass, "sensor", "battery_power").attributes
    assert (power["unit_of_measurement"], power["device_class"], power["state_class"]) == ("W", "power", "measurement")
    energy = state(hass, "sensor", "grid_energy_imported").attributes
    assert (energy["unit_of_measurement"], energy["device_class"], energy["state_class"]) == (
        "kWh",
        "energy",
        "total_increasing",
    )
    assert state(hass, "sensor", "inverter_state").attributes["options"] == ["standby", "running", "fault"]


async def test_every_entity_has_a_name_and_the_device_says_what_it_is(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    (device,) = dr.async_entries_for_config_entry(dr.async_get(hass), entry.entry_id)
    assert (device.manufacturer, device.model, device.serial_number, device.sw_version) == (
        "Teasel",
        "T5",
        SERIAL,
        "2.17",
    )
    names = [
        one.attributes["friendly_name"]
        for one in hass.states.async_all()
        if one.entity_id.split(".")[1].startswith("teasel_t5")
    ]
    assert len(names) > 60
    assert all(name.startswith("Teasel T5 ") for name in names), names
    assert len(set(names)) == len(names)
    assert "Teasel T5 Start 1, charge window" in names


def test_every_known_reading_has_a_translated_name() -> None:
    texts = json.loads((Path(__file__).parents[2] / "custom_components/chargehand/translations/en.json").read_text())
    named = texts["entity"]["sensor"].keys() | texts["entity"]["binary_sensor"].keys()
    assert KNOWN_READINGS.keys() <= named


async def test_only_window_1_is_enabled_at_first(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    registry = er.async_get(hass)
    for number, disabled in ((1, False), (2, True), (3, True), (4, True)):
        one = registry.async_get(entity_id(hass, "time", f"charge_window_{number}_start"))
        assert one is not None
        assert (one.disabled_by is not None) is disabled


async def test_a_window_that_is_enabled_later_shows_its_value_at_once(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.set(CHARGE[1].start, registers("06:30", "07:15", 500, 50))
    await enable(hass, entry, "time", "charge_window_2_start")
    assert state(hass, "time", "charge_window_2_start").state == "06:30:00"


async def test_alarms_say_which(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    assert state(hass, "binary_sensor", "alarms").state == "off"
    await bench.set(INPUT_AT["alarms"], [0x0001, 0x8020], table="input")  # bits 5, 15 (not in the map) and 16
    await poll(hass, entry)
    alarms = state(hass, "binary_sensor", "alarms")
    assert alarms.state == "on"
    assert alarms.attributes["active"] == ["Grid voltage out of range", "Insulation low"]
    await bench.set(INPUT_AT["alarms"], [0, 0x8000], table="input")
    await poll(hass, entry)
    assert state(hass, "binary_sensor", "alarms").state == "off", "a reserved bit alone is no alarm"


async def test_charging_by_schedule_goes_by_the_inverters_clock(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    now = dt_util.now()
    soon = now + timedelta(minutes=30)
    await act(
        hass,
        entry,
        "apply_schedule",
        charge=[
            {"start": f"{soon:%H:%M}", "end": f"{soon + timedelta(hours=1):%H:%M}", "power": 500, "stop_level": 90}
        ],
    )
    assert state(hass, "binary_sensor", "charging_by_schedule").state == "off"
    shown = datetime.fromisoformat(str((await bench.clock())["clock"]))
    await bench.clock(shown + timedelta(minutes=45))
    await poll(hass, entry, slow=True)
    assert abs(int(state(hass, "sensor", "clock_offset").state) - 45 * 60) <= 2
    assert state(hass, "binary_sensor", "charging_by_schedule").state == "on"


async def test_nothing_is_read_that_nobody_needs(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    registry = er.async_get(hass)
    for number in (1, 2):
        for quantity in ("voltage", "current", "power"):
            registry.async_update_entity(
                entity_id(hass, "sensor", f"roof_{number}_{quantity}"), disabled_by=er.RegistryEntryDisabler.USER
            )
    for key in ("backup_power", "backup_voltage"):
        registry.async_update_entity(entity_id(hass, "sensor", key), disabled_by=er.RegistryEntryDisabler.USER)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    before = len(await bench.journal())
    await poll(hass, entry, slow=True)
    read = [one for one in (await bench.journal())[before:] if one["function"] == 4]
    assert read
    assert all(one["first"] + one["count"] <= INPUT_AT["roof_1_power"] for one in read)


async def test_one_missed_poll_is_forgiven_and_two_are_not(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, caplog: pytest.LogCaptureFixture
) -> None:
    await bench.inverter(answers=False)
    await bench.gateway(down=True)
    caplog.clear()
    await poll(hass, entry)
    assert state(hass, "sensor", "battery_level").state != "unavailable"
    for _ in range(3):
        await poll(hass, entry)
        assert state(hass, "sensor", "battery_level").state == "unavailable"
    assert state(hass, "sensor", "line_errors").state != "unavailable", "what describes the line stays"
    await bench.gateway(down=False)
    await bench.inverter(answers=True)
    await asyncio.sleep(LONGEST_DELAY)
    await poll(hass, entry)
    assert state(hass, "sensor", "battery_level").state != "unavailable"
    logged = [
        record
        for record in caplog.records
        if record.name.startswith("custom_components.chargehand") and record.levelname != "DEBUG"
    ]
    assert [record.levelname for record in logged] == ["ERROR", "INFO"], [record.getMessage() for record in logged]


async def test_a_batch_that_fails_leaves_its_values_out_and_not_the_poll(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.fault("exception", code=4, touches=INPUT_AT["roof_1_power"], count=None)
    await poll(hass, entry)
    assert state(hass, "sensor", "roof_1_power").state != "unavailable", "once is forgiven"
    await poll(hass, entry)
    assert state(hass, "sensor", "roof_1_power").state == "unavailable"
    assert state(hass, "sensor", "battery_level").state != "unavailable"
    await bench.clear_faults()
    await poll(hass, entry)
    assert state(hass, "sensor", "roof_1_power").state != "unavailable"


async def test_a_schedule_that_cannot_be_read_is_not_shown_from_memory(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.fault("exception", code=4, touches=CHARGE[0].start, count=None, only="read")
    await poll(hass, entry, slow=True)
    await poll(hass, entry)
    assert state(hass, "time", "charge_window_1_start").state != "unavailable", "once is forgiven"
    await poll(hass, entry, slow=True)
    await poll(hass, entry)
    assert state(hass, "time", "charge_window_1_start").state == "unavailable"
    assert state(hass, "sensor", "battery_level").state != "unavailable"
    await bench.clear_faults()
    await poll(hass, entry, slow=True)
    assert state(hass, "time", "charge_window_1_start").state != "unavailable"


async def test_registers_that_hold_no_times_make_one_window_unreadable_and_keep_nobody_from_changing_it(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=[], discharge=[])
    await bench.set(CHARGE[0].start, NO_TIMES)
    await poll(hass, entry, slow=True)
    assert state(hass, "time", "charge_window_1_start").state == "unknown"
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    assert "not readable" in str(state(hass, "event", "schedule_event").attributes)
    kept = await act(hass, entry, "keep_schedule")
    assert kept["charge"] == [], "what no one can read is no window of the schedule"
    assert await held(bench) == NO_TIMES, "what is kept is not written"
    receipt = await act(hass, entry, "restore_schedule", which="before_last_change")
    assert receipt["outcome"] == "confirmed"
    await bench.set(CHARGE[0].start, NO_TIMES)
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert receipt["outcome"] == "confirmed"
    assert await held(bench) != NO_TIMES
    assert state(hass, "time", "charge_window_1_start").state == "01:00:00"


async def test_polls_come_by_themselves(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await bench.set(INPUT_AT["battery_level"], [77], table="input")
    async_fire_time_changed(hass, dt_util.utcnow() + timedelta(seconds=6))
    await hass.async_block_till_done(wait_background_tasks=True)
    assert state(hass, "sensor", "battery_level").state == "77"


async def test_an_inverter_that_is_away_at_start_is_tried_again(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    await bench.gateway(down=True)
    entry = await add_inverter(bench.port, state=ConfigEntryState.SETUP_RETRY)
    assert entry.reason is not None
    assert str(bench.port) in entry.reason
    await bench.gateway(down=False)
    async_fire_time_changed(hass, dt_util.utcnow() + timedelta(seconds=60))
    await hass.async_block_till_done(wait_background_tasks=True)
    assert entry.state is ConfigEntryState.LOADED


async def test_another_inverter_at_the_same_place_is_not_taken_for_this_one(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, state=ConfigEntryState.SETUP_ERROR, unique_id="T5-AM-0000-0001")
    assert entry.reason is not None
    assert SERIAL in entry.reason


async def test_a_map_that_is_gone_is_named(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter) -> None:
    entry = await add_inverter(bench.port, state=ConfigEntryState.SETUP_ERROR, register_map="mine")
    assert entry.reason is not None
    assert "mine.yaml" in entry.reason


async def test_a_poll_while_the_platforms_are_still_being_set_up_takes_no_value_from_what_is_added_later(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A start that takes longer than the time between two polls."""
    add_calendar = calendar.async_setup_entry

    async def slowly(hass: HomeAssistant, entry: MockConfigEntry, add: AddConfigEntryEntitiesCallback) -> None:
        await entry.runtime_data.async_refresh()
        await add_calendar(hass, entry, add)

    monkeypatch.setattr(calendar, "async_setup_entry", slowly)
    monkeypatch.setattr(
        chargehand, "PLATFORMS", sorted(chargehand.PLATFORMS, key=lambda platform: platform != "calendar")
    )
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    unavailable = [one.entity_id for one in hass.states.async_all() if one.state == "unavailable"]
    assert unavailable == []


async def test_unloading_leaves_nothing_open(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    assert (await bench.stats())["connections"] == 1
    await hass.config_entries.async_unload(entry.entry_id)

    async def closed() -> bool:
        return (await bench.stats())["connections"] == 0

    await until(closed)


async def test_diagnostics_show_the_fault_and_not_the_house(
    hass: HomeAssistant, entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:
    await async_setup_component(hass, "diagnostics", {})
    diagnostics: dict[str, Any] = dict(await get_diagnostics_for_config_entry(hass, hass_client, entry))
    assert diagnostics["entry"]["data"]["host"] == REDACTED
    assert SERIAL not in str(diagnostics)
    assert diagnostics["map"]["id"] == "teasel_t5"
    assert diagnostics["line"]["errors_last_minute"] == 0
    assert diagnostics["line"]["round_trip_ms"] > 0
    assert diagnostics["schedule"]["charge"][0]["start"] == "22:40"


async def test_actions_are_described_and_every_text_has_its_place(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    descriptions = (await async_get_all_descriptions(hass))["chargehand"]
    assert descriptions.keys() >= {"apply_schedule", "get_schedule", "restore_schedule", "set_clock"}
    assert descriptions["apply_schedule"]["fields"].keys() == {
        "device_id",
        "charge",
        "discharge",
        "armed",
        "override",
        "until",
    }
    texts = await async_get_translations(hass, "en", "services", {"chargehand"})
    for action, description in descriptions.items():
        for field in description["fields"]:
            assert f"component.chargehand.services.{action}.fields.{field}.name" in texts


async def test_a_clock_that_drifts_is_set_once_a_day_where_that_was_asked_for(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    now = dt_util.now()
    # No window may be near, whatever time it is while this runs.
    await bench.set(CHARGE[0].start, UNUSED)
    entry = await add_inverter(bench.port, set_clock_seconds=30)
    shown = datetime.fromisoformat(str((await bench.clock())["clock"]))
    await bench.clock(shown + timedelta(seconds=90))
    await poll(hass, entry, slow=True)
    assert abs(int(state(hass, "sensor", "clock_offset").state)) <= 2
    await bench.clock(shown + timedelta(seconds=180))
    await poll(hass, entry, slow=True)
    assert int(state(hass, "sensor", "clock_offset").state) > 60, "once a day"
    written = [one for one in await bench.journal() if one["function"] == 16]
    assert [one["first"] for one in written] == [CLOCK[0]]
    assert entry.runtime_data.storage.clock_set_on == now.date().isoformat()


async def test_a_clock_is_left_alone_unless_asked_for(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    shown = datetime.fromisoformat(str((await bench.clock())["clock"]))
    await bench.clock(shown + timedelta(hours=1))
    await poll(hass, entry, slow=True)
    assert not [one for one in await bench.journal() if one["function"] == 16]


async def test_a_broken_map_stands_as_an_issue_with_every_mistake_and_a_reload_takes_the_mended_one(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, tmp_path: Path
) -> None:
    hass.config.config_dir = str(tmp_path)
    maps = tmp_path / "chargehand"
    maps.mkdir()
    text = (Path(__file__).parents[2] / "custom_components/chargehand/maps/teasel_t5.yaml").read_text()
    (maps / "mine.yaml").write_text(text.replace("bit: 2, name", "bit: 22, name").replace("input: 461", "imput: 461"))
    entry = await add_inverter(bench.port, state=ConfigEntryState.SETUP_ERROR, register_map="mine")
    found = ir.async_get(hass).async_get_issue("chargehand", f"map_invalid_{entry.entry_id}")
    assert found is not None
    assert found.translation_placeholders is not None
    assert "controls.buzzer.bit" in found.translation_placeholders["problems"]
    assert "readings.inverter_temperature.imput" in found.translation_placeholders["problems"]
    mended = "\n".join(line for line in text.splitlines() if "workshop_loop_current" not in line)
    (maps / "mine.yaml").write_text(text)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert ir.async_get(hass).async_get_issue("chargehand", f"map_invalid_{entry.entry_id}") is None
    kept = er.async_get(hass).async_get(entity_id(hass, "sensor", "battery_level"))
    assert entity_id(hass, "sensor", "workshop_loop_current")
    (maps / "mine.yaml").write_text(mended)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    registry = er.async_get(hass)
    assert find_entity(hass, "sensor", "workshop_loop_current") is None
    assert registry.async_get(entity_id(hass, "sensor", "battery_level")) == kept
