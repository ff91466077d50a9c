"""Lists in the fields of actions, as the page's own forms send them: times with seconds, whole numbers, and no key for what is left empty.

What the page sends is from Home Assistant's frontend: `ha-selector-object` draws each field by its selector, `ha-selector-time` gives
"HH:MM:SS", `ha-selector-datetime` "YYYY-MM-DD HH:MM:SS", `ha-selector-number` a number or nothing.
"""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import yaml
from homeassistant.core import HomeAssistant
from homeassistant.helpers.selector import selector
from homeassistant.helpers.translation import async_get_translations
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components import chargehand
from tests.actions.test_charge_tonight import OPTIONS, bench, evening, full  # noqa: F401 - fixtures
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, DISCHARGE
from tests.calls import act
from tests.teasel import EVENING_HELD, UNUSED, WANTED, held, registers

ACTIONS: dict[str, Any] = yaml.safe_load((Path(chargehand.__file__).parent / "services.yaml").read_text())
LISTS = {
    (action, field): described["selector"]["object"]
    for action, about in ACTIONS.items()
    for field, described in about["fields"].items()
    if "object" in described["selector"]
}
AS_IT_IS = {("compare_registers", "snapshot"), ("charge_before", "prices")}
"""Fields that take what something else has answered: an action's whole answer, and prices whose keys other fields name."""


def checked(action: str, field: str, value: Any) -> Any:
    """A value that the field's selector takes, as the platform checks it."""
    return selector(ACTIONS[action]["fields"][field]["selector"])(value)


async def test_each_list_is_a_form_whose_fields_have_names(hass: HomeAssistant) -> None:
    texts = await async_get_translations(hass, "en", "selector", {"chargehand"})
    assert {place for place, form in LISTS.items() if not form} == AS_IT_IS
    for place, form in LISTS.items():
        for name in (form or {"fields": {}})["fields"]:
            assert texts[f"component.chargehand.selector.{form['translation_key']}.fields.{name}.name"], place


def test_no_number_has_to_be_given_that_the_page_would_fill_with_its_lowest() -> None:
    for form in LISTS.values():
        for field in (form or {"fields": {}})["fields"].values():
            assert not (field.get("required") and "min" in (field["selector"].get("number") or {}))


async def test_windows_of_the_page_are_on_the_inverter(
    hass: HomeAssistant,
    bench: Bench,  # noqa: F811
    full: MockConfigEntry,  # noqa: F811
) -> None:
    charge = [
        {"start": "01:00:00", "end": "05:00:00", "power": 3000, "stop_level": 95},
        {"start": "13:00:00", "end": "14:30:00"},
    ]
    discharge = [{"start": "17:00:00", "end": "19:00:00", "power": 4000, "stop_level": 30}]
    # What the second window leaves out stays as the inverter has it.
    await bench.set(CHARGE[1].start, [0, 1500, 60, 0])
    answer = await act(
        hass,
        full,
        "apply_schedule",
        charge=checked("apply_schedule", "charge", charge),
        discharge=checked("apply_schedule", "discharge", discharge),
        armed=True,
        override=False,
    )
    assert answer["outcome"] == "confirmed"
    assert await held(bench) == WANTED
    assert await held(bench, CHARGE[1]) == registers("13:00", "14:30", 1500, 60)
    assert await held(bench, CHARGE[2]) == UNUSED
    assert await held(bench, DISCHARGE[0]) == EVENING_HELD


async def test_a_current_of_the_page_is_a_power_by_the_batterys_voltage(
    hass: HomeAssistant,
    bench: Bench,  # noqa: F811
    full: MockConfigEntry,  # noqa: F811
) -> None:
    charge = [{"start": "01:00:00", "end": "05:00:00", "current": 20, "stop_level": 95}]
    answer = await act(hass, full, "apply_schedule", charge=checked("apply_schedule", "charge", charge))
    assert {"what": "charge_window_1_power", "why": "amperes_to_watts"}.items() <= answer["adjusted"][0].items()
    assert (await held(bench))[1] == pytest.approx(20 * 51.2, rel=0.15), "16 cells of 3.2 V, common practice, no source"


async def test_hours_of_the_page_are_charged_in(
    hass: HomeAssistant,
    bench: Bench,  # noqa: F811
    full: MockConfigEntry,  # noqa: F811
) -> None:
    between = checked("charge_tonight", "between", {"start": "02:00:00", "end": "04:30:00"})
    await act(hass, full, "charge_tonight", between=between, level=80, lowest_level=0, set_clock=True)
    assert await held(bench) == registers("02:00", "04:30", 3000, 80)


async def test_prices_of_the_page_are_planned_with(
    hass: HomeAssistant,
    full: MockConfigEntry,  # noqa: F811
) -> None:
    first = dt_util.now().replace(minute=0, second=0, microsecond=0)
    prices = [
        {"start": f"{first:%Y-%m-%d %H:%M:%S}", "end": f"{first + timedelta(hours=6):%Y-%m-%d %H:%M:%S}", "buy": 0.4},
        {
            "start": f"{first + timedelta(hours=6):%Y-%m-%d %H:%M:%S}",
            "end": f"{first + timedelta(hours=40):%Y-%m-%d %H:%M:%S}",
            "buy": 0.2,
            "sell": 0.05,
        },
    ]
    answer = await act(
        hass, full, "plan_charge", prices=checked("plan_charge", "prices", prices), load_kwh=9, solar_kwh=0
    )
    assert answer["basis"]["prices"] == "given"
    assert [answer["hours"][at]["buy"] for at in (0, 5, 6, 20)] == [0.4, 0.4, 0.2, 0.2]
    assert [answer["hours"][at]["sell"] for at in (0, 6)] == [0, 0.05]
