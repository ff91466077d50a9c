"""The texts of faults of the line, of values and of plans: each kind of fault has one in the translations."""

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components import chargehand
from custom_components.chargehand.core.inverter import ScaleMoved
from custom_components.chargehand.core.modbus import LineError, Missing, NoAnswer
from custom_components.chargehand.core.modbus.errors import REASONS
from custom_components.chargehand.core.planning import (
    Band,
    Battery,
    DatedPrice,
    Horizon,
    PlanningFault,
    Tariff,
    dated_prices,
    tariff_prices,
)
from custom_components.chargehand.messages.line_faults import (
    LOST,
    NO_ANSWER,
    POINTS_REFUSED,
    REFUSED,
    REFUSED_OTHERWISE,
    SCALE_MOVED,
    line_fault,
)
from custom_components.chargehand.messages.planning_faults import planning_text
from tests.bench.remote import Bench
from tests.calls import act, set_entity
from tests.conftest import AddInverter

TEXTS: dict[str, dict[str, str]] = json.loads((Path(chargehand.__file__).parent / "translations/en.json").read_text())[
    "exceptions"
]


async def reason(hass: HomeAssistant, entry: MockConfigEntry) -> str:
    """Return why the schedule cannot be read now."""
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "get_schedule")
    assert failed.value.translation_key == "line_down"
    placeholders = failed.value.translation_placeholders
    assert placeholders is not None
    return placeholders["reason"]


def text(key: str, **values: str) -> str:
    return TEXTS[key]["message"].format(**values)


def test_every_kind_of_fault_has_a_text() -> None:
    others = {REFUSED_OTHERWISE, POINTS_REFUSED, SCALE_MOVED}
    assert {*LOST.values(), *NO_ANSWER.values(), *REFUSED.values(), *others} <= TEXTS.keys()
    assert NO_ANSWER.keys() == set(Missing)
    for code, words in REASONS.items():
        assert text(REFUSED[code], code=f"{code:02X}") == f"exception {code:02X}: {words}"


@pytest.mark.parametrize(
    ("fault", "key", "values"),
    [
        (
            {"kind": "exception", "code": 2},
            "line_points_refused",
            {"code": "02", "registers": "holding 734, 740–755, 764–771"},
        ),
        ({"kind": "exception", "code": 11}, "line_refused_0b", {"code": "0B"}),
        ({"kind": "exception", "code": 9}, "line_refused", {"code": "09"}),
        ({"kind": "reset"}, "line_dropped", {"gateway": "127.0.0.1:{port}"}),
    ],
)
async def test_each_kind_of_fault_has_its_own_text(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, fault: dict[str, Any], key: str, values: dict[str, str]
) -> None:
    await bench.fault(**fault, count=None)
    filled = {name: value.format(port=bench.port) for name, value in values.items()}
    assert await reason(hass, entry) == text(key, **filled)


async def test_the_text_for_a_silent_inverter_names_unit_and_gateway(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.fault("no_answer", count=None)
    assert await reason(hass, entry) == text("line_no_answer", gateway=f"127.0.0.1:{bench.port}", unit="1")


@pytest.mark.parametrize(
    ("fault", "text_of_it"),
    [
        (NoAnswer(""), "no matching answer came from unit 1 through 127.0.0.1:{port}"),
        (NoAnswer("", Missing.LATE), "unit 1 answers too late through 127.0.0.1:{port}: the answer to an earlier"),
        (NoAnswer("", Missing.OTHER), "unit 1 through 127.0.0.1:{port} answered another request"),
        (NoAnswer("", Missing.NOISE), "127.0.0.1:{port} keeps sending data that is not a Modbus answer"),
        (ScaleMoved(), "the power of ten or the rated power of its values changed meanwhile"),
    ],
)
async def test_what_came_instead_of_an_answer_is_named(
    bench: Bench, entry: MockConfigEntry, fault: LineError, text_of_it: str
) -> None:
    key, values = line_fault(entry.runtime_data.inverter.line, fault)
    assert text(key, **values).startswith(text_of_it.format(port=bench.port))


async def test_an_entry_that_cannot_start_says_why_by_the_same_texts(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    await bench.gateway(down=True)
    away = await add_inverter(bench.port, state=ConfigEntryState.SETUP_RETRY)
    assert away.error_reason_translation_key == "line_no_connection"
    assert away.error_reason_translation_placeholders == {"gateway": f"127.0.0.1:{bench.port}"}
    await bench.gateway(down=False)
    await bench.fault("exception", code=6, count=None)
    await hass.config_entries.async_reload(away.entry_id)
    assert away.error_reason_translation_key == "line_refused_06"
    assert away.reason == text("line_refused_06", code="06")
    await bench.clear_faults()
    await hass.config_entries.async_reload(away.entry_id)
    assert away.state is ConfigEntryState.LOADED


async def test_a_value_that_is_no_number_is_refused_with_what_would_do(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    with pytest.raises(ServiceValidationError) as failed:
        await set_entity(hass, "number", "set_value", "reserve_level", value="nan")
    assert failed.value.translation_key == "value_rejected"
    reason_text = text("reason_not_in_range", value="nan", minimum="10", maximum="100")
    assert failed.value.translation_placeholders == {"reason": reason_text}


NOON = datetime(2026, 1, 14, 12, tzinfo=ZoneInfo("Europe/London"))


def one_day(*prices: tuple[int, int, float]) -> None:
    """Return prices from an hour of the day to another."""
    at = NOON.replace(hour=0)
    rows = [DatedPrice(start=at.replace(hour=first), end=at.replace(hour=last), buy=buy) for first, last, buy in prices]
    dated_prices(rows, Horizon(start=NOON, hours=24))


def bands(*bands: tuple[int, int]) -> None:
    """Calculate the prices of a tariff with bands from a minute of the day to another."""
    tariff_bands = tuple(Band(start=start, end=end, buy=0.1) for start, end in bands)
    tariff_prices(Tariff(buy=0.3, bands=tariff_bands), Horizon(start=NOON))


@pytest.mark.parametrize(
    ("calculate", "expected"),
    [
        (
            lambda: Battery(capacity_kwh=10, charge_kw=3, discharge_kw=3, reserve_level=90, highest_level=80),
            "the reserve level is 90 % and the highest level 80 %; the reserve must be lower",
        ),
        (lambda: bands((60, 60)), "the band from 01:00 to 01:00 has no length; give two different times"),
        (lambda: bands((0, 120), (90, 180)), "the band from 01:30 overlaps another one; give each"),
        (lambda: one_day((13, 12, 0.1)), "the price from 2026-01-14 13:00:00+00:00 ends before it starts; swap"),
        (lambda: one_day((12, 14, 0.1), (13, 15, 0.1)), "two prices for 2026-01-14 13:00:00+00:00; give one"),
        (lambda: one_day((12, 14, float("nan"))), "a price is not a number; give a price"),
        (
            lambda: one_day((12, 14, 0.1)),
            "no price from 2026-01-14 14:00+0000 to 2026-01-15 12:00+0000; give prices that cover",
        ),
    ],
)
async def test_the_reason_for_no_plan_is_a_text_of_the_translations(
    hass: HomeAssistant, entry: MockConfigEntry, calculate: Callable[[], object], expected: str
) -> None:
    with pytest.raises(PlanningFault) as fault:
        calculate()
    shown = planning_text(fault.value)
    assert shown == text(f"plan_fault_{fault.value.key}", **fault.value.values)
    assert shown.startswith(expected)
