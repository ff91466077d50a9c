"""A house without a recorder: the card shows what the inverter holds."""

import pytest
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from tests.bench.remote import Bench
from tests.calls import device_id
from tests.conftest import AddInverter
from tests.day.conftest import OPTIONS
from tests.day.watching import Card


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(enable_custom_integrations: None) -> None:
    """No recorder here."""


async def test_without_a_recorder_there_is_only_what_is_read_now(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, hass_ws_client: WebSocketGenerator
) -> None:
    added = await add_inverter(bench.port, **OPTIONS)
    assert "recorder" not in hass.config.components
    day = await Card(lambda: hass_ws_client(hass)).watch(device_id(hass, added))
    assert day["held"]["charge"][0]["start"] == "22:40"
    assert "seven days of history" in day["expected"]["why"]
    assert [value for value in day["past"]["level"] if value is not None] == [20]
