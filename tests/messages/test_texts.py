"""Messages in words: every one comes from the translations, and none shows a key."""

import json
import re
import string
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components import chargehand
from custom_components.chargehand.core.order import OrderKind
from custom_components.chargehand.core.planning import BadBattery, BadTariff
from custom_components.chargehand.core.reasons import Reason
from custom_components.chargehand.core.schedule import Change, Schedule, Window
from custom_components.chargehand.messages import (
    activity_text,
    before_text,
    changes_text,
    charge_text,
    charged_text,
    clock_text,
    name_text,
    planning_text,
    reason_text,
    schedule_text,
    set_elsewhere_texts,
)
from custom_components.chargehand.messages.adjusted_text import adjusted_text
from custom_components.chargehand.messages.order_text import order_name
from tests.calls import act

TEXTS: dict[str, dict[str, str]] = json.loads((Path(chargehand.__file__).parent / "translations/en.json").read_text())[
    "exceptions"
]

POWER = Window(start=60, end=300, power=3000, stop_level=95)
CURRENT = Window(start=1360, end=140, current=40)
BOTH = Window(start=0, end=1440, current=40.5, power=2000, stop_level=90)
BARE = Window(start=60, end=300)
UNREADABLE = Window(readable=False)
HELD = Window(start=1020, end=1200, active=False, other_use="hold")
UNUSED = Window(power=3000, stop_level=95)


@pytest.fixture(autouse=True)
def _texts_are_loaded(entry: MockConfigEntry) -> None:
    """An entry is there, and with it the translations."""


@pytest.mark.parametrize(
    ("schedule", "shown"),
    [
        (Schedule(charge=(POWER,), armed=True), "charge 01:00–05:00 3000 W to 95 %; discharge never; armed"),
        (Schedule(charge=(UNUSED,), discharge=(CURRENT,)), "charge never; discharge 22:40–02:20 40 A"),
        (
            Schedule(charge=(BOTH, UNREADABLE), discharge=(BARE,), armed=False),
            "charge 00:00–24:00 40.5 A 2000 W to 90 %, window 2 not readable; discharge 01:00–05:00; not armed",
        ),
        (
            Schedule(charge=(replace(BARE, days=(0, 6)), HELD), discharge=(replace(HELD, other_use="7"),)),
            "charge 01:00–05:00 on Monday, Sunday only, place 2 used for holding 17:00–20:00; discharge place 1 used for mode 7 17:00–20:00",
        ),
    ],
)
async def test_a_schedule_in_words(schedule: Schedule, shown: str) -> None:
    assert schedule_text(schedule) == shown


@pytest.mark.parametrize(
    ("window", "shown"),
    [
        (POWER, "Charge to 95 % at 3000 W"),
        (CURRENT, "Charge at 40 A"),
        (Window(start=0, end=60, stop_level=80), "Charge to 80 %"),
        (BARE, "Charge"),
    ],
)
async def test_a_window_as_a_page_of_a_calendar_has_it(window: Window, shown: str) -> None:
    assert charge_text(window) == shown


@pytest.mark.parametrize(
    ("reached", "wanted", "shown"),
    [
        (87.0, 90.0, "Charged to 87 % (wanted 90 %)"),
        (87.0, None, "Charged to 87 %"),
        (None, 90.0, "Charged, level at the end not seen (wanted 90 %)"),
        (None, None, "Charged, level at the end not seen"),
    ],
)
async def test_what_a_window_brought(reached: float | None, wanted: float | None, shown: str) -> None:
    assert charged_text(reached, wanted) == shown


async def test_changes_in_words() -> None:
    changes = [
        Change(what="armed", was=False, now=True),
        Change(what="charge_window_1_start", was="22:40", now=None),
        Change(what="charge_window_12_current", was=40.0, now=7.5),
        Change(what="discharge_window_2_stop_level", was=10.0, now=20.0),
        Change(what="discharge_window_2_active", was=True, now=False),
        Change(what="charge_window_1_power", was=3000.0, now=500.0),
    ]
    assert changes_text(changes) == (
        "armed off to on, charge window 1 start 22:40 to not readable, charge window 12 current 40 A to 7.5 A, "
        "discharge window 2 stop level 10 % to 20 %, discharge window 2 active on to off, charge window 1 power 3000 W to 500 W"
    )
    assert changes_text(changes * 2).endswith("to not readable, and 4 more")
    others = [
        Change(what="charge_window_1_days", was="every_day", now="saturday,sunday"),
        Change(what="charge_window_2_other_use", was=None, now="discharge"),
    ]
    assert changes_text(others) == (
        "charge window 1 days every day to Saturday, Sunday, charge window 2 other use none to discharging"
    )


async def test_what_became_of_a_schedule_in_words() -> None:
    was = Schedule(charge=(POWER, UNREADABLE, UNUSED), armed=True)
    now = Schedule(charge=(CURRENT, BOTH, UNUSED), armed=False)
    assert activity_text(was, now) == (
        "windows now not armed (were armed), charge window 1 now 22:40–02:20 at 40 A (was 01:00–05:00 at 3000 W to 95 %), "
        "charge window 2 now 00:00–24:00 at 40.5 A 2000 W to 90 % (was not readable)"
    )
    assert activity_text(was, was) == "its windows as they were"
    taken, workdays = Schedule(charge=(HELD,)), Schedule(charge=(replace(BARE, days=(0, 1, 2, 3, 4)),))
    assert activity_text(Schedule(charge=(UNUSED,)), taken) == "charge window 1 now holding (was unused)"
    assert activity_text(Schedule(charge=(BARE,)), workdays) == (
        "charge window 1 now 01:00–05:00 on Monday, Tuesday, Wednesday, Thursday, Friday only (was 01:00–05:00)"
    )
    back = activity_text(now, Schedule(charge=(UNUSED, BOTH, UNUSED), armed=True))
    assert back == "windows now armed (were not armed), charge window 1 now unused (was 22:40–02:20 at 40 A)"


async def test_what_somebody_else_has_set_in_words() -> None:
    workdays = replace(POWER, days=(0, 4))
    schedule = Schedule(charge=(POWER, workdays, UNUSED, HELD), discharge=(replace(HELD, other_use="charge"),))
    assert set_elsewhere_texts(schedule) == [
        "charge window 2: 01:00–05:00 3000 W to 95 % on Monday, Friday only",
        "charge window 4: used for holding 17:00–20:00",
        "discharge window 1: used for charging 17:00–20:00",
    ]


async def test_a_clock_that_was_set_in_words() -> None:
    assert (
        clock_text(64.7, 1.2, "its options")
        == "had its clock set: was 65 s ahead and is now 1 s off, asked by its options"
    )
    assert clock_text(-64.7, 0, "repair") == "had its clock set: was 65 s behind and is now 0 s off, asked by repair"


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("charge_window_1", "charge window 1"),
        ("discharge_window_10_stop_level", "discharge window 10 stop level"),
        ("charge_window_2_start", "charge window 2 start"),
        ("charge_window_2_end", "charge window 2 end"),
        ("charge_window_2_active", "charge window 2 active"),
        ("armed", "armed"),
    ],
)
async def test_a_key_has_a_name(key: str, name: str) -> None:
    assert name_text(key) == name


async def test_a_limit_that_the_inverter_has_not_is_called_by_its_name() -> None:
    text = reason_text(Reason.of("no_such_limit", what="charge_window_1", limit="stop_level"))
    assert text == "charge window 1 has a stop level, which this inverter's windows do not have"


async def test_temperatures_are_in_the_unit_of_the_house(hass: HomeAssistant) -> None:
    cold = Reason.of("too_cold", temperature="-5", coldest="0")
    assert "is at -5 °C and must not be charged below 0 °C" in reason_text(cold)
    hass.config.units = US_CUSTOMARY_SYSTEM
    # -5 °C is 23 °F and 0 °C is 32 °F (the definition of the Fahrenheit scale by the Celsius scale, NIST SP 811, B.8).
    assert "is at 23 °F and must not be charged below 32 °F" in reason_text(cold)


async def test_a_fault_of_the_program_is_for_the_log(caplog: pytest.LogCaptureFixture) -> None:
    text = planning_text(BadBattery("taper_from is a level: give one"))
    assert text == "no plan can be made from these values; Home Assistant's log says why"
    assert "taper_from is a level: give one" in caplog.text


async def test_a_band_of_the_tariff_has_the_house_s_times(hass: HomeAssistant) -> None:
    fault = BadTariff("", "band_overlap", start="01:30")
    assert planning_text(fault).startswith("the band from 01:30 overlaps")
    hass.config.country = "US"
    assert planning_text(fault).startswith("the band from 1:30 AM overlaps")


async def test_what_is_no_number_is_told_by_a_text(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    with pytest.raises(Exception, match=r"'much' is not a number: give one, like 40 or 7\.5"):
        await act(hass, entry, "plan_charge", hours="much")


def test_no_message_holds_a_key() -> None:
    """A word with an underscore is a key, unless it names one of Chargehand's actions, or what is written in a map's file."""
    allowed = set(yaml.safe_load((Path(chargehand.__file__).parent / "services.yaml").read_text()))
    for key, one in TEXTS.items():
        if key.startswith(("map_mistake_", "map_cure_", "map_key_")):
            continue
        words = "".join(plain for plain, *_ in string.Formatter().parse(one["message"]))
        assert set(re.findall(r"\w+_\w+", words)) <= allowed, key


async def test_a_reason_shows_no_key(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    wrong = [
        {"start": "01:00", "end": "01:00", "power": 99999, "stop_level": None},
        {"start": 5, "end": "25:00", "current": True},
        {"start": "24:00", "end": "02:00", "power": 1000, "stop_level": 500},
    ]
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, entry, "apply_schedule", charge=wrong)
    text = str(refused.value)
    assert not re.findall(r"\w+_\w+", text), text
    assert "charge window 1 starts and ends at 01:00" in text
    assert "charge window 1 stop level is empty" in text
    assert "charge window 2 start 5 is not a time" in text


async def test_an_order_is_called_by_its_action() -> None:
    assert {kind: order_name(kind) for kind in OrderKind} == {kind: kind.replace("_", " ") for kind in OrderKind}


@pytest.mark.parametrize("why", ["rounded", "watts_to_amperes", "amperes_to_watts", "battery_limit"])
async def test_an_adjustment_in_words_names_the_setting_and_the_reason(why: str) -> None:
    one = {"what": "charge_window_1_current", "requested": "60 A", "applied": "45 A", "why": why}
    reason = TEXTS[f"adjusted_{why}"]["message"]
    assert adjusted_text(one) == f"charge window 1 current: 60 A was requested, 45 A was set ({reason})."


async def test_the_windows_of_a_charge_before_expensive_hours_are_in_the_house_s_times(hass: HomeAssistant) -> None:
    hass.config.country = "US"
    charge = [{"start": "13:00", "end": "14:30", "stop_level": 80}, {"start": "02:00", "end": "03:00"}]
    report = before_text(None, None, charge, [])
    assert "1:00 PM–2:30 PM to 80 %, 2:00 AM–3:00 AM" in report.message
