"""An inverter whose charge windows take amperes, through a real Home Assistant: what is asked for in watts, and what protects the battery.

Registers are those of the Burdock's table in tests/bench/burdock.py: a charge window's current in half amperes.
"""

from collections.abc import AsyncIterator

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.burdock import CHARGE
from tests.bench.remote import Bench
from tests.calls import act, apply_draft, entity_id, record_events
from tests.conftest import QUICK, AddInverter

SERIAL = "B3-AM-2611-0042"
CURRENT = CHARGE[0] + 2
VOLTAGE, LIMIT = 26, 31
"""The battery's voltage in mV, and what its management lets into it, in A."""
NIGHT = {"start": "01:00", "end": "05:00", "stop_level": 95.0}


@pytest.fixture
async def burdock(hass: HomeAssistant, london: None, socket_enabled: None) -> AsyncIterator[Bench]:
    """A Burdock whose battery is at 52.0 V."""
    async with await Bench.start(**QUICK, inverter="burdock") as running:
        await running.set(VOLTAGE, [52_000], table="input")
        yield running


@pytest.fixture
async def entry(burdock: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    """It, added and running."""
    return await add_inverter(burdock.port, register_map="burdock_b3", unique_id=SERIAL)


async def test_watts_become_amperes_on_the_way_to_the_inverter_and_that_is_said(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry
) -> None:
    """P = V x I: 2 600 W at 52.0 V are 50 A."""
    receipt = await act(hass, entry, "apply_schedule", charge=[{**NIGHT, "power": 2600}])
    assert receipt["outcome"] == "confirmed"
    assert receipt["adjusted"] == [
        {"what": "charge_window_1_current", "requested": "2600 W", "applied": "50.0 A", "why": "watts_to_amperes"}
    ]
    assert await burdock.registers("holding", CURRENT) == [100]
    assert (await act(hass, entry, "get_schedule"))["charge"] == [{**NIGHT, "current": 50.0}]


async def test_a_current_is_shown_set_and_told_in_amperes(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry
) -> None:
    messages = record_events(hass, "chargehand_schedule", "message")
    await act(hass, entry, "apply_schedule", charge=[{**NIGHT, "current": 60}])
    assert "charge window 1 now 01:00–05:00 at 60 A to 95 %" in messages[0]
    number = entity_id(hass, "number", "charge_window_1_current", SERIAL)
    shown = hass.states.get(number)
    assert shown is not None
    assert (float(shown.state), shown.attributes["unit_of_measurement"], shown.attributes["step"]) == (60, "A", 0.5)
    await hass.services.async_call("number", "set_value", {"entity_id": number, "value": 33.5}, blocking=True)
    await apply_draft(hass, SERIAL)
    assert await burdock.registers("holding", CURRENT) == [67]


async def test_a_current_above_the_batterys_own_limit_is_lowered_and_that_is_said(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry
) -> None:
    await burdock.set(LIMIT, [45], table="input")
    receipt = await act(hass, entry, "apply_schedule", charge=[{**NIGHT, "current": 60}])
    assert receipt["adjusted"] == [
        {"what": "charge_window_1_current", "requested": "60 A", "applied": "45 A", "why": "battery_limit"}
    ]
    assert await burdock.registers("holding", CURRENT) == [90]
    receipt = await act(hass, entry, "apply_schedule", charge=[{**NIGHT, "current": 60}], override=True)
    assert receipt["adjusted"] == []
    assert await burdock.registers("holding", CURRENT) == [120]


@pytest.mark.parametrize(
    ("limit", "named"), [({"current": 101}, "101"), ({"power": 90_000}, "charge window 1 current")]
)
async def test_more_than_the_register_takes_is_refused_by_name(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry, limit: dict[str, float], named: str
) -> None:
    with pytest.raises(ServiceValidationError, match=named) as refused:
        await act(hass, entry, "apply_schedule", charge=[{**NIGHT, **limit}])
    assert refused.value.translation_key == "schedule_rejected"
    assert not [request for request in await burdock.journal() if request["function"] in (6, 16)]


async def test_a_battery_that_takes_no_current_is_not_charged(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry
) -> None:
    await burdock.set(LIMIT, [0], table="input")
    with pytest.raises(ServiceValidationError, match="no more than 0 A"):
        await act(hass, entry, "apply_schedule", charge=[{**NIGHT, "current": 60}])
