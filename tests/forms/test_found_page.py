"""The page that shows an inverter which was found: its schedule in words, and a night rate that makes a plan possible at once."""

import re
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest
from homeassistant.config_entries import SOURCE_USER
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType, section
from homeassistant.helpers.translation import async_get_translations
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.bench.teasel import SERIAL_NUMBER
from tests.calls import act
from tests.conftest import QUICK, AddInverter
from tests.teasel import INPUT_AT, held, registers
from tests.test_config_flow import TEASEL, submit, user_map

RATE = {"start": "01:30:00", "end": "04:30:00", "night_buy": 0.12, "buy": 0.34}
"""As the page sends it: times with seconds, nothing for a field that is left empty."""


@pytest.fixture(autouse=True)
async def _flows_end(hass: HomeAssistant, london: None) -> AsyncIterator[None]:
    yield
    for flow in hass.config_entries.flow.async_progress():
        hass.config_entries.flow.async_abort(flow["flow_id"])
    for entry in hass.config_entries.async_entries("chargehand"):
        await hass.config_entries.async_unload(entry.entry_id)
    await hass.async_block_till_done()


async def found(hass: HomeAssistant, bench: Bench, **form: Any) -> Any:
    page = await submit(hass, bench.port, **form)
    assert page["step_id"] == "confirm", page["errors"]
    return page


async def confirm(hass: HomeAssistant, page: Any, rate: dict[str, Any] | None, **given: Any) -> Any:
    filled = {"allow_control": True, "set_clock_seconds": 0, "blueprints": False} | given
    if rate is not None:
        filled["night_rate"] = rate
    result = await hass.config_entries.flow.async_configure(page["flow_id"], filled)
    await hass.async_block_till_done()
    return result


def rate_of(page: Any) -> dict[str, Any]:
    """The fields of the night rate, and what each is filled in with (None: nothing)."""
    (rate,) = [kind for key, kind in page["data_schema"].schema.items() if key == "night_rate"]
    assert isinstance(rate, section)
    return {str(key): (key.description or {}).get("suggested_value") for key in rate.schema.schema}


async def test_the_page_shows_the_schedule_that_the_inverter_holds_in_words(hass: HomeAssistant, bench: Bench) -> None:
    shown = (await found(hass, bench))["description_placeholders"]
    # As the bench leaves the factory.
    for words in ("22:40–02:20", "2000 W", "100 %"):
        assert words in shown["schedule"]
    assert not [one for one in await bench.journal() if one["function"] in (6, 16)]


async def test_a_night_rate_is_the_tariff_and_the_battery_is_what_was_read(hass: HomeAssistant, bench: Bench) -> None:
    volts = (await bench.registers("input", INPUT_AT["battery_voltage"]))[0] / 10
    limits = [
        (await bench.registers("input", INPUT_AT[f"battery_{way}charge_current_limit"]))[0] / 10 for way in ("", "dis")
    ]
    done = await confirm(hass, await found(hass, bench), RATE | {"sell": 0.05})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    options = done["result"].options
    assert options["tariff"] == {
        "buy": 0.34, "sell": 0.05, "keeps": "local",
        "bands": [{"start": "01:30:00", "end": "04:30:00", "buy": 0.12}],
    }  # fmt: skip
    battery = options["battery"]
    # What the bench's registers say: 10.00 kWh in holding register 813, 5000 W in 812, 20 % in 733.
    assert (battery["capacity_kwh"], battery["reserve_level"]) == (10, 20)
    for power, limit in zip((battery["charge_kw"], battery["discharge_kw"]), limits, strict=True):
        exact = min(limit * volts / 1000, 5)
        assert exact - 0.1 < power <= exact
    assert battery["fallback_level"] == 90
    assert options.keys() == {"allow_control", "set_clock_seconds", "tariff", "battery"}


async def test_tonight_can_be_charged_for_at_once(hass: HomeAssistant, bench: Bench) -> None:
    entry: MockConfigEntry = (await confirm(hass, await found(hass, bench), RATE))["result"]
    answer = await act(hass, entry, "charge_tonight", level=80)
    assert answer["outcome"] == "confirmed"
    assert await held(bench) == registers("01:30", "04:30", round(1000 * entry.options["battery"]["charge_kw"]), 80)


async def test_without_a_night_rate_nothing_is_known_of_prices(hass: HomeAssistant, bench: Bench) -> None:
    for rate in (None, {}, {"buy": 0.34, "sell": 0.05}):
        done = await confirm(hass, await found(hass, bench), rate)
        assert done["result"].options == {"allow_control": True, "set_clock_seconds": 0}
        await hass.config_entries.async_remove(done["result"].entry_id)


@pytest.mark.parametrize("missing", ["start", "end", "night_buy", "buy"])
async def test_a_night_rate_with_a_gap_is_told_and_can_be_mended(
    hass: HomeAssistant, bench: Bench, missing: str
) -> None:
    page = await found(hass, bench)
    again = await confirm(hass, page, {key: value for key, value in RATE.items() if key != missing})
    assert again["errors"] == {"base": "night_rate_incomplete"}
    assert {key: value for key, value in rate_of(again).items() if value is not None} == {
        key: value for key, value in RATE.items() if key != missing
    }, "what was filled in stays"
    assert (await confirm(hass, again, RATE))["type"] is FlowResultType.CREATE_ENTRY


async def test_hours_without_length_are_told(hass: HomeAssistant, bench: Bench) -> None:
    again = await confirm(hass, await found(hass, bench), RATE | {"end": RATE["start"]})
    assert again["errors"] == {"base": "night_rate_rejected"}
    assert "01:30" in again["description_placeholders"]["detail"]
    assert not hass.config_entries.async_entries("chargehand")


async def test_what_the_inverter_does_not_tell_is_asked(hass: HomeAssistant, bench: Bench, tmp_path: Path) -> None:
    gone = ("rated_capacity", "rated_power", "battery_charge_current_limit")
    lines = [line for line in TEASEL.read_text().splitlines() if not line.strip().startswith(gone)]
    await user_map(hass, tmp_path, "bare", "\n".join(lines))
    page = await found(hass, bench, register_map="bare")
    assert list(rate_of(page)) == [*RATE, "sell", "capacity_kwh", "charge_kw"]
    assert (await confirm(hass, page, RATE))["errors"] == {"base": "night_rate_incomplete"}
    done = await confirm(hass, page, RATE | {"capacity_kwh": 7.5, "charge_kw": 2.5})
    assert (done["result"].options["battery"]["capacity_kwh"], done["result"].options["battery"]["charge_kw"]) == (
        7.5,
        2.5,
    )


async def test_the_house_has_one_night_rate(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter) -> None:
    tariff = {"buy": 0.31, "sell": 0.06, "keeps": "local", "bands": [{"start": "01:00", "end": "05:00", "buy": 0.11}]}
    async with await Bench.start(**QUICK) as other:
        await other.set(SERIAL_NUMBER, [0x5858] * 8, table="input")
        await add_inverter(bench.port, tariff=tariff)
        page = await found(hass, other)
        assert rate_of(page) == {"start": "01:00", "end": "05:00", "night_buy": 0.11, "buy": 0.31, "sell": 0.06}


async def test_a_map_without_charge_windows_asks_for_no_night_rate(
    hass: HomeAssistant, bench: Bench, tmp_path: Path
) -> None:
    text = re.sub(r"^schedule:.*", "", TEASEL.read_text(), flags=re.DOTALL | re.MULTILINE)
    await user_map(hass, tmp_path, "readings", text)
    page = await found(hass, bench, register_map="readings")
    assert "night_rate" not in page["data_schema"].schema
    assert page["description_placeholders"]["schedule"] == "–"


async def test_every_field_and_placeholder_of_the_page_has_its_text(
    hass: HomeAssistant, bench: Bench, tmp_path: Path
) -> None:
    page = await found(hass, bench)
    texts = await async_get_translations(hass, "en", "config", {"chargehand"})
    place = "component.chargehand.config.step.confirm"
    for key in page["data_schema"].schema:
        if key != "night_rate":
            assert texts.keys() >= {f"{place}.{what}.{key}" for what in ("data", "data_description")}
    rate = f"{place}.sections.night_rate"
    for key in (*rate_of(page), "capacity_kwh", "charge_kw"):
        assert texts.keys() >= {f"{rate}.{what}.{key}" for what in ("data", "data_description")}
    assert texts[f"{rate}.name"]
    asked = set(re.findall(r"{(\w+)}", texts[f"{place}.description"] + texts[f"{place}.title"]))
    assert asked | {"detail"} == page["description_placeholders"].keys()


async def test_the_form_for_the_gateway_is_the_first_of_two(hass: HomeAssistant, bench: Bench) -> None:
    """Form and found page: no third page comes between them and the inverter."""
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    page = await hass.config_entries.flow.async_configure(
        form["flow_id"], {"host": "127.0.0.1", "port": bench.port, "framing": "tcp", "register_map": "teasel_t5"}
    )
    assert (await confirm(hass, page, RATE))["type"] is FlowResultType.CREATE_ENTRY
