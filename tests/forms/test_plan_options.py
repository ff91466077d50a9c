"""The options that a plan needs, through the form: what is kept, shown again and cleared, and what the form refuses."""

from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType, section
from homeassistant.helpers.translation import async_get_translations
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.chargehand.core.planning import Days
from custom_components.chargehand.forms.plan_forms import BATTERY_SCHEMA, tariff_schema
from tests.actions.test_plan_charge import BATTERY, TARIFF, plan
from tests.calls import entity_id
from tests.house.test_plan_prices import ASKED, PRICES, publish, rows

SENSORS = ("load_sensor", "solar_sensor", "outdoor_sensor")
USUAL_NAMES = {"lists": ["prices"], "start": "start", "end": "end", "buy": "buy", "sell": "sell", "factor": 1.0}


async def opened(hass: HomeAssistant, entry: MockConfigEntry, step: str) -> Any:
    menu = await hass.config_entries.options.async_init(entry.entry_id)
    return await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": step})


async def submit(hass: HomeAssistant, entry: MockConfigEntry, step: str, given: dict[str, Any]) -> Any:
    form = await opened(hass, entry, step)
    result = await hass.config_entries.options.async_configure(form["flow_id"], given)
    await hass.async_block_till_done()
    return result


def shown(form: Any) -> dict[str, Any]:
    """What the fields of a form show, those of its sections among them; a field without a value is left out."""
    found: dict[str, Any] = {}
    for key, kind in form["data_schema"].schema.items():
        if isinstance(kind, section):
            found |= {f"{key}.{name}": value for name, value in shown({"data_schema": kind.schema}).items()}
        elif key.description and "suggested_value" in key.description:
            found[str(key)] = key.description["suggested_value"]
    return found


@pytest.fixture
def sensors(hass: HomeAssistant) -> dict[str, str]:
    """Three sensors that have long-term statistics, and a weather entity."""
    for name in SENSORS:
        hass.states.async_set(f"sensor.mill_{name}", "1", {"state_class": "measurement"})
    hass.states.async_set("weather.mill", "sunny")
    return {name: f"sensor.mill_{name}" for name in SENSORS} | {"weather": "weather.mill"}


async def test_a_new_band_has_no_price_of_the_form_s_own_and_its_days_are_words(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """The page fills a price that has to be given with its lowest one, and shows what a field of a field has as it has it."""
    form = await opened(hass, entry, "tariff")
    fields = form["data_schema"].schema["bands"].config["fields"]
    assert "min" not in fields["buy"]["selector"]["number"]
    words = {one["value"]: one["label"] for one in fields["days"]["selector"]["select"]["options"]}
    texts = await async_get_translations(hass, "en", "selector", ["chargehand"])
    assert words == {day: texts[f"component.chargehand.selector.days.options.{day}"] for day in Days}


async def test_the_row_of_a_band_shows_its_price_beside_its_hours(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    """Without a label field the page joins all fields of a row, numbers with their units (Home Assistant's frontend, `ha-selector-object`)."""
    bands = (await opened(hass, entry, "tariff"))["data_schema"].schema["bands"].serialize()["selector"]["object"]
    assert not {"label_field", "description_field"} & bands.keys()
    assert list(bands["fields"]) == ["start", "end", "buy", "days"]
    assert bands["fields"]["buy"]["selector"]["number"]["unit_of_measurement"] == f"{hass.config.currency}/kWh"


async def test_a_form_that_was_never_filled_in_shows_what_the_inverter_tells_and_no_weather(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await opened(hass, entry, "battery")
    assert {key: value for key, value in shown(form).items() if key.endswith("_sensor")} == {
        "load_sensor": entity_id(hass, "sensor", "load_energy"),
        "solar_sensor": entity_id(hass, "sensor", "solar_energy"),
    }
    assert "weather" not in shown(form)
    assert shown(await opened(hass, entry, "tariff")) == {}
    result = await hass.config_entries.options.async_configure(form["flow_id"], {})
    assert result["type"] is FlowResultType.CREATE_ENTRY, "the figures have defaults"
    assert not {*SENSORS, "weather"} & entry.options["battery"].keys()


async def test_entities_are_kept_shown_again_and_cleared(
    hass: HomeAssistant, entry: MockConfigEntry, sensors: dict[str, str]
) -> None:
    await submit(hass, entry, "battery", BATTERY | sensors)
    assert entry.options["battery"] == BATTERY | sensors
    assert shown(await opened(hass, entry, "battery")) == BATTERY | sensors
    await submit(hass, entry, "battery", BATTERY)
    assert entry.options["battery"] == BATTERY
    assert shown(await opened(hass, entry, "battery")) == BATTERY


async def test_a_price_entity_is_kept_shown_again_and_cleared(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    listed = [{"from": row["start"], "cost": row["buy"] * 100} for row in rows()]
    publish(hass, listed, "hours")
    names = {"lists": ["hours"], "start": "from", "buy": "cost", "factor": 0.01}
    given = TARIFF | {"price_sensor": PRICES, "price_names": names}
    assert (await submit(hass, entry, "tariff", given))["type"] is FlowResultType.CREATE_ENTRY
    kept = {**given, "price_names": USUAL_NAMES | names}
    assert entry.options["tariff"] == kept
    fields = shown(await opened(hass, entry, "tariff"))
    assert fields["price_sensor"] == PRICES
    assert {name: fields[f"price_names.{name}"] for name in USUAL_NAMES} == USUAL_NAMES | names
    await submit(hass, entry, "battery", BATTERY)
    answer = await plan(hass, entry, **ASKED)
    assert answer["basis"]["prices"] == "entity"
    assert answer["hours"][1]["buy"] == pytest.approx(rows()[1]["buy"])
    await submit(hass, entry, "tariff", TARIFF | {"price_names": USUAL_NAMES})
    assert "price_sensor" not in entry.options["tariff"]
    assert (await plan(hass, entry, **ASKED))["basis"]["prices"] == "tariff"


@pytest.mark.parametrize("field", SENSORS)
async def test_a_sensor_that_is_not_there_or_keeps_no_statistics_is_refused(
    hass: HomeAssistant, entry: MockConfigEntry, field: str
) -> None:
    wrong = await submit(hass, entry, "battery", BATTERY | {field: "sensor.gone"})
    assert wrong["errors"] == {field: "no_such_entity"}
    assert wrong["description_placeholders"]["detail"] == "sensor.gone"
    assert shown(wrong)[field] == "sensor.gone", "what was filled in stays in the form"
    hass.states.async_set("sensor.text", "much")
    wrong = await submit(hass, entry, "battery", BATTERY | {field: "sensor.text"})
    assert wrong["errors"] == {field: "no_statistics"}
    assert "battery" not in entry.options


async def test_chargehands_own_sensors_may_be_picked(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    given = BATTERY | {"load_sensor": entity_id(hass, "sensor", "load_energy")}
    assert (await submit(hass, entry, "battery", given))["type"] is FlowResultType.CREATE_ENTRY


async def test_a_forecast_without_a_thermometer_is_refused(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    wrong = await submit(hass, entry, "battery", BATTERY | {"weather": "weather.mill"})
    assert wrong["errors"] == {"outdoor_sensor": "weather_alone"}


async def test_prices_that_cannot_be_read_are_told_in_the_form(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    given = TARIFF | {"price_sensor": PRICES}
    for listed, says in (
        (None, f"use {PRICES} for prices, but it does not exist"),
        ([{"start": "2026-11-25T10:00", "value": 0.2}], "start, value"),
        (rows(3) + rows(3, first=2, sell=0.01), "; give one for each time"),
    ):
        if listed is not None:
            publish(hass, listed)
        wrong = await submit(hass, entry, "tariff", given)
        assert wrong["errors"] == {"price_sensor": "prices_rejected"}
        assert says in wrong["description_placeholders"]["detail"]
    assert "tariff" not in entry.options
    hass.states.async_set(PRICES, "unavailable")
    assert (await submit(hass, entry, "tariff", given))["type"] is FlowResultType.CREATE_ENTRY, "away for now"


async def test_the_forms_can_be_drawn(
    hass: HomeAssistant, entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:
    """As the platform hands them to the browser: the names in the list are folded up, and entities are picked by kind."""
    assert await async_setup_component(hass, "config", {})
    client = await hass_client()
    drawn = {}
    for step in ("battery", "tariff", "automations"):
        flow = "/api/config/config_entries/options/flow"
        menu = await (await client.post(flow, json={"handler": entry.entry_id})).json()
        form = await (await client.post(f"{flow}/{menu['flow_id']}", json={"next_step_id": step})).json()
        drawn |= {field["name"]: field for field in form["data_schema"]}
    assert drawn["automations"]["selector"]["select"]["multiple"]
    assert drawn["price_names"]["type"] == "expandable"
    assert not drawn["price_names"]["expanded"]
    assert [field["name"] for field in drawn["price_names"]["schema"]] == list(USUAL_NAMES)
    assert {field["name"]: field.get("default") for field in drawn["price_names"]["schema"]} == USUAL_NAMES
    kinds = {name: drawn[name]["selector"]["entity"] for name in ("load_sensor", "outdoor_sensor", "weather")}
    assert kinds["load_sensor"].items() >= {"domain": ["sensor"], "device_class": ["energy"]}.items()
    assert kinds["outdoor_sensor"].items() >= {"domain": ["sensor"], "device_class": ["temperature"]}.items()
    assert kinds["weather"].items() >= {"domain": ["weather"]}.items()
    for name in (*SENSORS, "weather", "price_sensor", "price_names"):
        assert not drawn[name].get("required")


async def test_every_field_and_error_has_its_text(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    texts = await async_get_translations(hass, "en", "options", {"chargehand"})
    place = "component.chargehand.options"
    for step, schema in (("battery", BATTERY_SCHEMA), ("tariff", tariff_schema("EUR"))):
        for key, kind in schema.schema.items():
            if isinstance(kind, section):
                there = f"{place}.step.{step}.sections.{key}"
                assert f"{there}.name" in texts
                wanted = [
                    f"{there}.{what}.{name}" for name in kind.schema.schema for what in ("data", "data_description")
                ]
            else:
                wanted = [f"{place}.step.{step}.{what}.{key}" for what in ("data", "data_description")]
            assert texts.keys() >= set(wanted)
    errors = (
        "no_such_entity",
        "no_statistics",
        "weather_alone",
        "prices_rejected",
        "battery_rejected",
        "tariff_rejected",
    )
    for error in errors:
        assert "{detail}" in texts[f"{place}.error.{error}"]
