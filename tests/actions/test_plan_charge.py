"""plan_charge in a real Home Assistant: what it answers, what it lacks, and that an applied plan is on the inverter."""

from collections.abc import AsyncIterator, Iterator
from datetime import timedelta
from typing import Any

import pytest
from freezegun import freeze_time
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers.entity_platform import async_get_platforms
from homeassistant.helpers.translation import async_get_translations
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.bench.teasel import CONTROL_WORD
from tests.blueprints.house import london
from tests.calls import act, state
from tests.conftest import QUICK, AddInverter
from tests.teasel import INPUT_AT, held

BATTERY = {
    "capacity_kwh": 10, "charge_kw": 3, "discharge_kw": 3, "charge_efficiency": 94, "discharge_efficiency": 94,
    "reserve_level": 10, "highest_level": 100, "wear": 0, "fallback_level": 85,
}  # fmt: skip
TARIFF = {
    "buy": 0.31, "sell": 0.06, "keeps": "local", "bands": [{"start": "01:00", "end": "05:00", "buy": 0.11}]
}  # fmt: skip


async def plan(hass: HomeAssistant, entry: MockConfigEntry, **asked: Any) -> dict[str, Any]:
    answer = await act(hass, entry, "plan_charge", **asked)
    assert isinstance(answer, dict)
    return answer


EVENING = "2026-01-14 20:00"


@pytest.fixture
def evening(hass: HomeAssistant) -> Iterator[None]:
    """The house's time goes on from 20:00: what a plan chooses depends on how near the cheap hours are."""
    with freeze_time(london(EVENING), tick=True):
        yield


@pytest.fixture
async def bench(evening: None, socket_enabled: None) -> AsyncIterator[Bench]:
    """The bench with the house's time."""
    async with await Bench.start(**QUICK, clock=london(EVENING).replace(tzinfo=None)) as running:
        yield running


@pytest.fixture
async def planned(bench: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    await bench.battery(level=20)
    return await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF)


async def test_a_dear_dark_day_is_charged_for_at_the_night_rate(hass: HomeAssistant, planned: MockConfigEntry) -> None:
    answer = await plan(hass, planned, load_kwh=9, solar_kwh=0)
    assert answer["basis"] == {
        "load": "given", "load_days": 0, "outdoor": "none", "solar": "given", "prices": "tariff", "dated_hours": 0,
        "fallback": False, "hours_left_out": 0,
    }  # fmt: skip
    assert answer["target_level"] > 60
    for window in answer["windows"]:
        # The cheap hours and no others.
        assert "01:00" <= window["start"] < window["end"] <= "05:00"
    assert answer["saving"] == pytest.approx(answer["cost_without"] - answer["expected_cost"], abs=1e-3)
    assert answer["saving"] > 0.5
    assert sum(hour["load_kwh"] for hour in answer["hours"][:24]) == pytest.approx(9, rel=0.05)
    assert "0.11" in answer["why"]
    assert "0.31" in answer["why"]
    assert state(hass, "sensor", "planned_level").state == str(answer["target_level"])
    saving = state(hass, "sensor", "expected_saving")
    assert float(saving.state) == answer["saving"]
    assert saving.attributes["unit_of_measurement"] == hass.config.currency
    assert saving.attributes["device_class"] == "monetary"
    parts = {key: saving.attributes[key] for key in ("cost_without", "expected_cost", "left_gain", "wear_cost")}
    assert parts == {key: answer[key] for key in parts}
    assert parts["cost_without"] - parts["expected_cost"] == pytest.approx(float(saving.state), abs=1e-3)
    assert state(hass, "sensor", "planned_level").attributes["why"] == answer["why"]


async def test_a_sunny_day_needs_no_window(hass: HomeAssistant, bench: Bench, planned: MockConfigEntry) -> None:
    await bench.battery(level=80)
    await planned.runtime_data.async_refresh()
    answer = await plan(hass, planned, load_kwh=4, solar_kwh=25)
    assert answer["windows"] == []
    assert answer["grid_charge_kwh"] == 0


async def test_an_applied_plan_is_on_the_inverter(hass: HomeAssistant, bench: Bench, planned: MockConfigEntry) -> None:
    answer = await plan(hass, planned, load_kwh=9, solar_kwh=0, apply=True)
    assert answer["receipt"]["outcome"] == "confirmed"
    (window,) = answer["windows"]
    start, _, stop_level, _ = await held(bench)
    assert start == int(window["start"].replace(":", ""))
    assert stop_level == window["stop_level"]
    again = await plan(hass, planned, load_kwh=9, solar_kwh=0, apply=True)
    assert again["receipt"]["outcome"] in {"unchanged", "confirmed"}


async def test_every_attribute_of_every_entity_has_a_name_that_can_be_translated(
    hass: HomeAssistant, bench: Bench, planned: MockConfigEntry
) -> None:
    await bench.set(INPUT_AT["alarms"], [0, 1], table="input")
    await planned.runtime_data.async_refresh()
    await plan(hass, planned, load_kwh=9, solar_kwh=0, apply=True)
    shown = set[str]()
    for platform in async_get_platforms(hass, "chargehand"):
        own = await async_get_translations(hass, "en", "entity", ["chargehand"])
        common = await async_get_translations(hass, "en", "entity_component", [platform.domain])
        named = "\n".join(own | common)
        for entity in platform.entities.values():
            of_entity = f"component.chargehand.entity.{platform.domain}.{entity.translation_key}.state_attributes"
            of_platform = f"component.{platform.domain}.entity_component._.state_attributes"
            for name in {**(entity.extra_state_attributes or {}), **(entity.state_attributes or {})}:
                assert f"{of_entity}.{name}." in named or f"{of_platform}.{name}." in named, (entity.entity_id, name)
                shown.add(name)
    assert {"why", "hours", "last_failure", "nights_calculated", "active", "changes"} <= shown


async def test_prices_of_ones_own_must_cover_the_horizon(hass: HomeAssistant, planned: MockConfigEntry) -> None:
    start = dt_util.now().replace(minute=0, second=0, microsecond=0)
    hours = [
        {"start": (start + timedelta(hours=h)).isoformat(), "end": (start + timedelta(hours=h + 1)).isoformat(),
         "buy": 0.10 if h in {5, 6, 7} else 0.40}
        for h in range(48)
    ]  # fmt: skip
    answer = await plan(hass, planned, load_kwh=9, solar_kwh=0, prices=hours)
    (window,) = answer["windows"]
    assert "01:00" <= window["start"] < window["end"] <= "04:00"
    with pytest.raises(ServiceValidationError) as fault:
        await plan(hass, planned, load_kwh=9, solar_kwh=0, prices=hours[:10])
    assert fault.value.translation_key == "plan_rejected"
    assert f"{start + timedelta(hours=10):%H:%M}" in str(fault.value)
    assert "; give prices that cover the whole horizon" in str(fault.value)


async def test_with_too_little_history_the_fixed_level_is_charged_to(
    hass: HomeAssistant, planned: MockConfigEntry
) -> None:
    answer = await plan(hass, planned, solar_kwh=0)
    assert answer["basis"]["fallback"]
    assert answer["target_level"] == 85
    (window,) = answer["windows"]
    assert (window["start"], window["end"], window["stop_level"]) == ("01:00", "05:00", 85)
    assert answer["expected_cost"] is None
    assert state(hass, "sensor", "expected_saving").state == "unknown"


async def test_the_fixed_level_takes_enough_cheap_hours_that_are_next_to_each_other(
    hass: HomeAssistant, planned: MockConfigEntry
) -> None:
    """6.5 kWh at 3 kW take 2.2 h: not the one cheapest half hour, and none of the expensive ones."""
    start = dt_util.now().replace(minute=0, second=0, microsecond=0)
    cheap = {3: 0.05, **dict.fromkeys(range(8, 14), 0.12), 20: 0.12}
    rows = [
        {
            "start": (start + timedelta(minutes=30 * half)).isoformat(),
            "end": (start + timedelta(minutes=30 * half + 30)).isoformat(),
            "buy": cheap.get(half, 0.40),
        }
        for half in range(96)
    ]
    (window,) = (await plan(hass, planned, solar_kwh=0, prices=rows))["windows"]
    assert window["start"] == f"{start + timedelta(hours=4):%H:%M}"
    assert window["end"] == f"{start + timedelta(hours=7):%H:%M}"


async def test_a_plan_without_a_charge_leaves_the_schedule_disarmed(
    hass: HomeAssistant, bench: Bench, planned: MockConfigEntry
) -> None:
    await act(hass, planned, "apply_schedule", charge=[], armed=False)
    await bench.battery(level=80)
    await planned.runtime_data.async_refresh()
    await plan(hass, planned, load_kwh=4, solar_kwh=25, apply=True)
    assert not (await bench.registers("holding", CONTROL_WORD))[0] & 1


@pytest.mark.parametrize(
    ("options", "key"),
    [({}, "plan_no_battery"), ({"battery": BATTERY}, "plan_no_tariff")],
)
async def test_what_is_missing_is_named(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, options: dict[str, Any], key: str
) -> None:
    entry = await add_inverter(bench.port, **options)
    with pytest.raises(ServiceValidationError) as fault:
        await plan(hass, entry)
    assert fault.value.translation_key == key


async def test_a_read_only_entry_plans_but_does_not_apply(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF, allow_control=False)
    assert (await plan(hass, entry, load_kwh=9, solar_kwh=0))["target_level"] > 0
    with pytest.raises(ServiceValidationError) as fault:
        await plan(hass, entry, load_kwh=9, solar_kwh=0, apply=True)
    assert fault.value.translation_key == "control_not_allowed"


async def test_the_options_keep_what_a_plan_can_be_made_of(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    async def submit(step: str, given: dict[str, Any]) -> Any:
        menu = await hass.config_entries.options.async_init(entry.entry_id)
        form = await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": step})
        assert form["step_id"] == step
        return await hass.config_entries.options.async_configure(form["flow_id"], given)

    wrong = await submit("battery", BATTERY | {"reserve_level": 90, "highest_level": 80})
    assert wrong["errors"] == {"base": "battery_rejected"}
    assert "the highest level 80 %; the reserve must be lower" in wrong["description_placeholders"]["detail"]
    overlapping = [*TARIFF["bands"], {"start": "04:00", "end": "06:00", "buy": 0.2}]  # type: ignore[misc]
    wrong = await submit("tariff", TARIFF | {"bands": overlapping})
    assert wrong["errors"] == {"base": "tariff_rejected"}
    assert "the band from 04:00 overlaps another one; " in wrong["description_placeholders"]["detail"]
    assert (await submit("battery", BATTERY))["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done()
    assert (await submit("tariff", TARIFF))["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done()
    assert entry.options["battery"] == BATTERY
    assert entry.options["tariff"] == TARIFF
    assert entry.options["allow_control"]
