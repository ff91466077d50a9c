"""report_night: the lowest level, an inverter that is away, and one that is not running. What it says of whole nights is in tests/blueprints."""

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError

from tests.bench.remote import Bench
from tests.calls import act
from tests.conftest import AddInverter

HOLDS = "charge 22:40–02:20 2000 W to 100 %; discharge never; armed"


async def test_a_level_below_the_lowest_is_reported_with_the_reason_and_what_the_inverter_holds(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    await bench.battery(level=20)
    entry = await add_inverter(bench.port)
    answer = await act(hass, entry, "report_night", lowest_level=30)
    assert answer["short"] is True
    assert answer["level"] == 20
    assert answer["set_to_charge"] is True
    assert answer["title"] == "The battery is lower than it should be"
    assert answer["holds"] == HOLDS
    assert answer["message"] == (
        f"The battery is at 20 % now; the lowest level is 30 %. Why: {answer['reason']}. The inverter holds: {HOLDS}."
    )


async def test_the_reason_is_of_that_level_and_not_of_the_planned_one(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    await bench.battery(level=20)
    entry = await add_inverter(bench.port)
    await act(hass, entry, "apply_schedule", charge=[{"start": "01:00", "end": "05:00", "stop_level": 40}])
    assert (await act(hass, entry, "report_night", lowest_level=50))["reason"] == (
        "the inverter's charge stops at 40 % already"
    )
    assert "stops" not in (await act(hass, entry, "report_night", lowest_level=40))["reason"]
    await act(hass, entry, "apply_schedule", armed=False)
    answer = await act(hass, entry, "report_night", lowest_level=40)
    assert answer["reason"] == "the inverter's windows are not armed"
    assert answer["set_to_charge"] is False


@pytest.mark.parametrize("lowest", [20, 0])
async def test_a_level_that_is_not_below_the_lowest_is_not_short(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, lowest: float
) -> None:
    await bench.battery(level=20)
    entry = await add_inverter(bench.port)
    answer = await act(hass, entry, "report_night", lowest_level=lowest)
    assert (answer["short"], answer["reason"], answer["title"]) == (False, None, "Last night's charge")


async def test_an_inverter_that_is_away_has_no_level(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port)
    await bench.gateway(down=True)
    for _ in range(2):
        await entry.runtime_data.async_refresh()
    answer = await act(hass, entry, "report_night", lowest_level=30)
    assert answer["short"] is True
    assert (answer["level"], answer["holds"], answer["set_to_charge"]) == (None, None, None)
    assert answer["message"] == (
        "The battery's level is not known; the lowest level is 30 %. "
        "Why: the inverter does not answer. The inverter's schedule could not be read."
    )


async def test_an_inverter_that_is_not_running_is_reported_too(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port)
    await hass.config_entries.async_unload(entry.entry_id)
    answer = await act(hass, entry, "report_night")
    assert answer["short"] is True
    assert answer["title"] == "The battery's level is not known"
    assert answer["message"] == "Neither the level nor what was planned is known. Why: the inverter does not answer."


async def test_another_device_is_refused(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter) -> None:
    await add_inverter(bench.port)
    with pytest.raises(ServiceValidationError, match="not a Chargehand inverter"):
        await hass.services.async_call(
            "chargehand", "report_night", {"device_id": "nobody"}, blocking=True, return_response=True
        )


async def test_nothing_is_written(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter) -> None:
    entry = await add_inverter(bench.port, allow_control=False)
    await act(hass, entry, "report_night")
    assert [one for one in await bench.journal() if one["function"] not in (3, 4)] == []
