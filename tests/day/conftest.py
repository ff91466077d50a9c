"""A house with a recorder on a January evening, an inverter with its battery at 20 %, and a card that watches its day."""

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
from tests.conftest import QUICK, AddInverter
from tests.day.watching import Card
from tests.kept_history import keep_energy
from tests.moved_time import HouseTime

LOAD = "sensor.alder_mill_load"
EVENING = datetime(2026, 1, 14, 20, 10, tzinfo=ZoneInfo("Europe/London"))
"""London keeps UTC in January."""

OPTIONS = {"battery": BATTERY | {"load_sensor": LOAD}, "tariff": TARIFF}


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The recorder has to be there before Home Assistant."""


@pytest.fixture
def evening() -> datetime:
    """Tests of other days name theirs."""
    return EVENING


@pytest.fixture(autouse=True)
def house_time(monkeypatch: pytest.MonkeyPatch, evening: datetime) -> HouseTime:
    return HouseTime(monkeypatch, evening)


@pytest.fixture
async def bench(house_time: HouseTime, socket_enabled: None) -> AsyncIterator[Bench]:
    """The bench with the house's time."""
    async with await Bench.start(**QUICK, clock=house_time.now.replace(tzinfo=None)) as running:
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
    return Card(lambda: hass_ws_client(hass))
