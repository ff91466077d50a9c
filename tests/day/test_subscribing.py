"""The day of an inverter pushed to a card: a real Home Assistant with a recorder, the bench over TCP, and its websocket."""

import json
import time
from collections.abc import AsyncIterator
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from tests.actions.test_plan_charge import BATTERY, TARIFF
from tests.bench.remote import Bench
from tests.calls import device_id
from tests.conftest import QUICK, AddInverter
from tests.day.watching import Card
from tests.kept_history import keep_energy
from tests.moved_time import HouseTime

LOAD = "sensor.alder_mill_load"
EVENING = datetime(2026, 1, 14, 20, 10, tzinfo=ZoneInfo("Europe/London"))
OPTIONS = {"battery": BATTERY | {"load_sensor": LOAD}, "tariff": TARIFF}
SECTIONS = {
    "inverter", "limits", "clock", "band", "held", "draft", "acting", "prices", "past", "expected", "status", "order",
    "commit", "plan", "foreign", "undo", "currency",
}  # fmt: skip


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The recorder has to be there before Home Assistant."""


@pytest.fixture(autouse=True)
def house_time(monkeypatch: pytest.MonkeyPatch) -> HouseTime:
    return HouseTime(monkeypatch, EVENING)


@pytest.fixture
async def bench(house_time: HouseTime, socket_enabled: None) -> AsyncIterator[Bench]:
    """The bench with the house's time, its battery at 20 %."""
    async with await Bench.start(**QUICK, clock=EVENING.replace(tzinfo=None)) as running:
        await running.battery(level=20)
        yield running


@pytest.fixture
async def entry(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    """A house that draws 0.3 kW all the time."""
    added = await add_inverter(bench.port, **OPTIONS)
    await keep_energy(hass, LOAD, 9, lambda _: 0.3)
    return added


@pytest.fixture
async def card(hass: HomeAssistant, london: None, hass_ws_client: WebSocketGenerator) -> Card:
    return Card(await hass_ws_client(hass))


async def test_the_first_answer_has_all_sections(hass: HomeAssistant, entry: MockConfigEntry, card: Card) -> None:
    begun = time.perf_counter()
    first = await card.watch(device_id(hass, entry))
    print(f"first answer after {time.perf_counter() - begun:.3f} s")
    assert first.keys() == SECTIONS
    print(json.dumps(first))
