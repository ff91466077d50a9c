"""One thing that happens to a schedule is one row of words in the logbook, with the inverter's name: through the platform's live stream."""

import asyncio
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.helpers import device_registry as dr
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.calls import act, entity_id, set_entity
from tests.changes.test_activity_log import TONIGHT
from tests.changes.test_schedule_monitor import poll


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The logbook needs the recorder, which has to be there before Home Assistant."""


@pytest.mark.parametrize("page", ["house", "device"])
async def test_a_change_an_edit_and_another_hand_are_a_row_of_words_each(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator, page: str
) -> None:
    assert await async_setup_component(hass, "logbook", {})
    await hass.async_block_till_done()
    (device,) = dr.async_entries_for_config_entry(dr.async_get(hass), entry.entry_id)
    http = await hass_ws_client(hass)
    subscribe: dict[str, Any] = {"type": "logbook/event_stream", "start_time": dt_util.utcnow().isoformat()}
    await http.send_json_auto_id(subscribe | ({"device_ids": [device.id]} if page == "device" else {}))
    assert (await http.receive_json())["success"]
    while "partial" in (await http.receive_json())["event"]:
        pass
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    await set_entity(hass, "time", "set_value", "charge_window_1_start", time="23:10:00")
    await set_entity(hass, "button", "press", "apply_draft")
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    rows: list[dict[str, Any]] = []
    async with asyncio.timeout(20):
        while not any(row.get("message", "").startswith("was changed elsewhere") for row in rows):
            rows += (await http.receive_json())["event"]["events"]
    words = [row for row in rows if "message" in row]
    assert [row["message"].partition(":")[0] for row in words] == [
        "has a new schedule",
        "has a new schedule",
        "was changed elsewhere",
    ]
    for row in words:
        assert row["name"] == entry.title
        assert row["domain"] == "chargehand"
        assert row["entity_id"] == entity_id(hass, "event", "schedule_event")
    if page == "device":
        assert rows == words, "the page of a device alone has no rows of its entities' states"
