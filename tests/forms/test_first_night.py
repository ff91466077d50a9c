"""Three steps from nothing to a planned night: the form, the page that shows the inverter, the automation with the inverter picked."""

from collections.abc import AsyncIterator
from typing import Any

import pytest
from freezegun import freeze_time
from homeassistant.core import HomeAssistant

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.blueprints.house import MovedHouse
from tests.blueprints.house import london as evening_of
from tests.calls import state
from tests.conftest import QUICK
from tests.first_night import blueprint_in_place, three_steps
from tests.house.test_plan_house import DAYS, GRID, STORE
from tests.kept_history import keep_dashboard, keep_energy
from tests.teasel import UNUSED, held, registers
from tests.test_config_flow import submit

EVENING = "2026-01-14 20:10"


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The recorder has to be there before Home Assistant."""


@pytest.fixture
async def bench(hass: HomeAssistant, london_time: Any, socket_enabled: None) -> AsyncIterator[Bench]:
    async with await Bench.start(**QUICK, clock=evening_of(EVENING).replace(tzinfo=None)) as running:
        await running.battery(level=20)
        await running.house(load=500)
        # Not what it leaves the factory with: a charge that nobody asked for.
        await running.set(CHARGE[0].start, UNUSED)
        yield running


@pytest.fixture
async def london_time(hass: HomeAssistant, london: None) -> AsyncIterator[Any]:
    frozen = freeze_time(evening_of(EVENING), tick=True)
    yield frozen.start()
    frozen.stop()


async def planned_house(hass: HomeAssistant, bench: Bench, clock: Any) -> MovedHouse:
    """Go the three steps, and let the night come."""
    entry, steps = await three_steps(hass, bench.port)
    assert len(steps) == 3
    # Polls at each of five seconds of many hours would take the test minutes.
    hass.config_entries.async_update_entry(entry, options={**entry.options, "fast_seconds": 60})
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    return MovedHouse(hass=hass, bench=bench, entry=entry, clock=clock)


async def test_three_steps_and_the_night_is_planned_and_on_the_inverter(
    hass: HomeAssistant, bench: Bench, london_time: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A dark week in which the house took half a kWh in each hour, from the grid.
    for sensor, kwh in (("grid_in", 0.5), ("grid_out", 0.0), ("store_in", 0.0), ("store_out", 0.0)):
        await keep_energy(hass, f"sensor.mill_{sensor}", DAYS, lambda _start, kwh=kwh: kwh)
    await keep_dashboard(hass, GRID, STORE)
    house = await planned_house(hass, bench, london_time)
    house.watch_threads(monkeypatch)
    assert blueprint_in_place(hass).exists()
    for moment in ("2026-01-15 00:59", "2026-01-15 01:01"):
        await house.go(moment)
    level = state(hass, "sensor", "planned_level")
    assert (level.attributes["basis"]["load"], level.attributes["basis"]["fallback"]) == ("energy_dashboard", False)
    # The night rate's hours, and the power that was read of the battery: nothing of it was asked twice.
    stop = round(float(level.state))
    assert stop >= 70, "20 hours of 0.5 kWh are more than half of 10 kWh above the reserve of 20 %"
    charge_kw = house.entry.options["battery"]["charge_kw"]
    assert await held(bench) == registers("01:30", "04:30", round(1000 * charge_kw), stop)
    assert (await bench.registers("holding", CONTROL_WORD))[0] & 1, "armed"
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    await house.go("2026-01-15 04:31")
    assert await house.level() == pytest.approx(stop, abs=1)
    await hass.config_entries.async_unload(house.entry.entry_id)


async def test_a_house_of_which_nothing_is_known_charges_to_the_fixed_level_of_the_options(
    hass: HomeAssistant, bench: Bench, london_time: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    house = await planned_house(hass, bench, london_time)
    house.watch_threads(monkeypatch)
    for moment in ("2026-01-15 00:59", "2026-01-15 01:01"):
        await house.go(moment)
    charge_kw = house.entry.options["battery"]["charge_kw"]
    assert await held(bench) == registers("01:30", "04:30", round(1000 * charge_kw), 90)
    await hass.config_entries.async_unload(house.entry.entry_id)


async def test_fixed_prices_are_those_of_the_energy_dashboard(hass: HomeAssistant, bench: Bench) -> None:
    await keep_dashboard(hass, GRID | {"number_energy_price": 0.29, "number_energy_price_export": 0.07})
    page: Any = await submit(hass, bench.port)
    (rate,) = [kind for key, kind in page["data_schema"].schema.items() if key == "night_rate"]
    known = {str(key): key.description["suggested_value"] for key in rate.schema.schema if key.description}
    assert known == {"buy": 0.29, "sell": 0.07}
    hass.config_entries.flow.async_abort(page["flow_id"])
