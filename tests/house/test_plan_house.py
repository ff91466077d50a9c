"""What a plan knows of the house: its load and roof by the energy dashboard's sources, and how cold it was and will be."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from homeassistant.components.weather import WeatherEntity, WeatherEntityFeature
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
from homeassistant.util.unit_system import US_CUSTOMARY_SYSTEM
from pytest_homeassistant_custom_component.common import setup_test_component_platform

from tests.actions.test_plan_charge import BATTERY, TARIFF, plan
from tests.bench.remote import Bench
from tests.calls import entity_id
from tests.conftest import AddInverter
from tests.kept_history import keep_dashboard, keep_energy, keep_temperature
from tests.moved_time import HouseTime

GRID = {
    "type": "grid", "stat_energy_from": "sensor.mill_grid_in", "stat_energy_to": "sensor.mill_grid_out",
    "cost_adjustment_day": 0,
}  # fmt: skip
STORE = {"type": "battery", "stat_energy_from": "sensor.mill_store_out", "stat_energy_to": "sensor.mill_store_in"}
ROOF = {"type": "solar", "stat_energy_from": "sensor.mill_roof", "config_entry_solar_forecast": None}
BARN = {"type": "solar", "stat_energy_from": "sensor.mill_barn", "config_entry_solar_forecast": None}
LOAD, THERMOMETER = "sensor.alder_mill_load", "sensor.mill_outdoor"
DAYS = 9
EVENING = datetime(2026, 1, 14, 20, 10, tzinfo=ZoneInfo("Europe/London"))
"""A Wednesday. Of this day 20 hours are over: enough for it to be one to learn from."""

FLOWS: dict[str, dict[range, float]] = {
    "sensor.mill_grid_in": {range(5): 2.9, range(5, 9): 0.4},
    "sensor.mill_grid_out": {range(9, 16): 0.5},
    "sensor.mill_roof": {range(9, 16): 1.2},
    "sensor.mill_barn": {range(9, 16): 0.3},
    "sensor.mill_store_out": {range(16, 24): 0.7},
    "sensor.mill_store_in": {range(5): 2.5, range(9, 16): 0.6},
}
"""What each counter rises by in an hour of the day, in kWh."""

BY_HAND = {
    **dict.fromkeys(range(5), 2.9 - 2.5),
    **dict.fromkeys(range(5, 9), 0.4),
    **dict.fromkeys(range(9, 16), 1.2 + 0.3 - 0.5 - 0.6),
    **dict.fromkeys(range(16, 24), 0.7),
}


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The recorder has to be there before Home Assistant."""


@pytest.fixture(autouse=True)
def house_time(monkeypatch: pytest.MonkeyPatch) -> HouseTime:
    return HouseTime(monkeypatch, EVENING)


def by_the_clock(hours: dict[range, float]) -> Callable[[datetime], float]:
    return lambda start: sum(kwh for there, kwh in hours.items() if start.hour in there)


async def keep_flows(hass: HomeAssistant, **changed: Callable[[datetime], float | None]) -> None:
    for sensor, hours in FLOWS.items():
        counted = changed.get(sensor.removeprefix("sensor.mill_"), by_the_clock(hours))
        await keep_energy(hass, sensor, DAYS, counted, unit="Wh" if sensor.endswith("roof") else "kWh")


def whole_hours(answer: dict[str, Any], key: str) -> list[tuple[datetime, float]]:
    """Start and energy of the answer's hours but the first and the last, which may be parts of an hour."""
    return [(datetime.fromisoformat(hour["start"]), hour[key]) for hour in answer["hours"][1:-1]]


async def test_the_load_is_worked_out_from_the_energy_dashboard(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF)
    await keep_flows(hass)
    await keep_dashboard(hass, GRID, STORE, ROOF, BARN)
    answer = await plan(hass, entry, solar_kwh=0)
    assert answer["basis"] == {
        "load": "energy_dashboard", "load_days": DAYS, "outdoor": "none", "hours_left_out": 0,
        "solar": "given", "prices": "tariff", "dated_hours": 0, "fallback": False,
    }  # fmt: skip
    for start, kwh in whole_hours(answer, "load_kwh"):
        assert kwh == pytest.approx(BY_HAND[start.hour]), start


async def test_the_roof_is_known_from_the_energy_dashboards_solar_sources(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF)

    def awake(start: datetime) -> float | None:
        """This roof's inverter is off at night."""
        return 0.3 if 9 <= start.hour < 16 else None

    await keep_flows(hass, barn=awake)
    await keep_dashboard(hass, GRID, STORE, ROOF, BARN)
    answer = await plan(hass, entry, load_kwh=9)
    assert (answer["basis"]["load"], answer["basis"]["solar"]) == ("given", "history")
    for start, kwh in whole_hours(answer, "solar_kwh"):
        assert kwh == pytest.approx(1.5 if 9 <= start.hour < 16 else 0), start


async def test_an_hour_that_a_source_lacks_is_left_out_and_counted(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF)
    day = (dt_util.now() - timedelta(days=5)).date()

    def gap(start: datetime) -> float | None:
        return None if (start.date(), start.hour) == (day, 2) else by_the_clock(FLOWS["sensor.mill_grid_in"])(start)

    def absurd(start: datetime) -> float:
        """More than came in altogether."""
        sold = 9.0 if (start.date(), start.hour) == (day, 12) else 0.0
        return sold + by_the_clock(FLOWS["sensor.mill_grid_out"])(start)

    await keep_flows(hass, grid_in=gap, grid_out=absurd)
    await keep_dashboard(hass, GRID, STORE, ROOF, BARN)
    answer = await plan(hass, entry, solar_kwh=0)
    # The hour that is missing, the next one, whose rise is that of both, and the negative one.
    assert answer["basis"]["hours_left_out"] == 3
    for start, kwh in whole_hours(answer, "load_kwh"):
        assert kwh == pytest.approx(BY_HAND[start.hour]), start


@pytest.mark.parametrize("sources", [(), (ROOF,), (GRID, ROOF), (STORE, ROOF)])
async def test_without_grid_and_battery_in_the_dashboard_no_load_is_known(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, sources: tuple[dict[str, Any], ...]
) -> None:
    """What is charged at night would count as used."""
    entry = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF)
    await keep_flows(hass)
    await keep_dashboard(hass, *sources)
    basis = (await plan(hass, entry, solar_kwh=0))["basis"]
    assert (basis["load"], basis["fallback"], basis["load_days"]) == ("none", True, 0)


@pytest.mark.parametrize("sources", [(), (GRID,)])
async def test_without_the_dashboards_sources_the_inverters_own_counters_are_used(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, sources: tuple[dict[str, Any], ...]
) -> None:
    entry = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF)
    await keep_dashboard(hass, *sources)
    await keep_energy(hass, entity_id(hass, "sensor", "load_energy"), DAYS, lambda start: 0.3)
    await keep_energy(hass, entity_id(hass, "sensor", "solar_energy"), DAYS, by_the_clock(FLOWS["sensor.mill_roof"]))
    answer = await plan(hass, entry)
    basis = answer["basis"]
    assert (basis["load"], basis["load_days"], basis["solar"], basis["fallback"]) == (
        "inverter",
        DAYS,
        "history",
        False,
    )
    for start, kwh in whole_hours(answer, "load_kwh"):
        assert kwh == pytest.approx(0.3), start
    for start, kwh in whole_hours(answer, "solar_kwh"):
        assert kwh == pytest.approx(1.2 if 9 <= start.hour < 16 else 0), start


async def test_the_dashboards_sources_go_before_the_inverters_own_counters(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF)
    await keep_flows(hass)
    await keep_dashboard(hass, GRID, STORE, ROOF, BARN)
    await keep_energy(hass, entity_id(hass, "sensor", "load_energy"), DAYS, lambda start: 0.3)
    answer = await plan(hass, entry, solar_kwh=0)
    assert answer["basis"]["load"] == "energy_dashboard"
    assert {round(kwh, 6) for start, kwh in whole_hours(answer, "load_kwh") if start.hour == 2} == {0.4}


async def test_a_load_sensor_goes_before_the_energy_dashboard(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, battery=BATTERY | {"load_sensor": LOAD}, tariff=TARIFF)
    await keep_flows(hass)
    await keep_energy(hass, LOAD, DAYS, lambda start: 0.25)
    await keep_dashboard(hass, GRID, STORE, ROOF, BARN)
    answer = await plan(hass, entry, solar_kwh=0)
    assert answer["basis"]["load"] == "sensor"
    assert all(kwh == pytest.approx(0.25) for _, kwh in whole_hours(answer, "load_kwh"))


# Outdoors: every other day is cold, and then the house uses four times as much.
COLD, WARM = -2.0, 14.0
COLD_KWH, WARM_KWH = 1.2, 0.3
COMPARED_DAYS = 20


def is_cold(day: date) -> bool:
    """Days in pairs, so that workdays and weekends have both."""
    return day.toordinal() % 4 < 2


def in_unit(celsius: float, unit: str) -> float:
    return celsius * 9 / 5 + 32 if unit == "°F" else celsius


async def keep_winter(hass: HomeAssistant, *, now_cold: bool, unit: str = "°C") -> None:
    """Twenty days; the last two days are cold, or warm."""
    today = dt_util.now().date()

    def celsius(start: datetime) -> float:
        near = today - start.date() < timedelta(days=2)
        return COLD if (now_cold if near else is_cold(start.date())) else WARM

    await keep_energy(hass, LOAD, COMPARED_DAYS, lambda start: COLD_KWH if celsius(start) == COLD else WARM_KWH)
    await keep_temperature(hass, THERMOMETER, COMPARED_DAYS, lambda start: in_unit(celsius(start), unit), unit=unit)


async def predict(hass: HomeAssistant, kind: str, rows: list[dict[str, Any]], unit: str = "°C") -> str:
    """A weather entity that predicts these rows."""
    hass.states.async_set("sensor.mill_forecast", "counted", {"rows": rows})
    weather = {
        "name": "Mill",
        "condition": "sunny",
        "temperature": "{{ 5 }}",
        "temperature_unit": unit,
        "humidity": "{{ 80 }}",
        f"forecast_{kind}": "{{ state_attr('sensor.mill_forecast', 'rows') }}",
    }
    assert await async_setup_component(hass, "template", {"template": [{"weather": [weather]}]})
    await hass.async_block_till_done()
    return "weather.mill"


def coming_day(answer: dict[str, Any]) -> list[float]:
    """Load of the whole hours of the day that most of the coming 24 hours belong to; its neighbours go as theirs went."""
    day = (EVENING + timedelta(days=1)).date()
    found = [kwh for start, kwh in whole_hours(answer, "load_kwh") if start.date() == day]
    assert found
    return found


def at(day: date, hour: int) -> str:
    return datetime(day.year, day.month, day.day, hour, tzinfo=dt_util.get_default_time_zone()).isoformat()


@pytest.mark.parametrize("now_cold", [True, False])
async def test_a_cold_day_is_planned_by_cold_days(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, now_cold: bool
) -> None:
    options = BATTERY | {"load_sensor": LOAD, "outdoor_sensor": THERMOMETER}
    entry = await add_inverter(bench.port, battery=options, tariff=TARIFF)
    await keep_winter(hass, now_cold=now_cold)
    answer = await plan(hass, entry, solar_kwh=0)
    assert answer["basis"]["outdoor"] == "persistence"
    expected = COLD_KWH if now_cold else WARM_KWH
    assert all(kwh == pytest.approx(expected, abs=0.05) for kwh in coming_day(answer))


async def test_without_a_thermometer_cold_and_warm_days_are_mixed(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, battery=BATTERY | {"load_sensor": LOAD}, tariff=TARIFF)
    await keep_winter(hass, now_cold=True)
    answer = await plan(hass, entry, solar_kwh=0)
    assert answer["basis"]["outdoor"] == "none"
    assert all(WARM_KWH + 0.2 < kwh < COLD_KWH - 0.2 for kwh in coming_day(answer))


@pytest.mark.parametrize(
    ("kind", "predicted", "thermometer", "weather"),
    [
        ("hourly", COLD, "°C", "°F"),
        ("twice_daily", COLD, "°C", "°F"),
        ("daily", COLD, "°C", "°F"),
        ("hourly", WARM, "°F", "°C"),
    ],
)
async def test_a_forecast_goes_before_the_last_day(
    hass: HomeAssistant,
    bench: Bench,
    add_inverter: AddInverter,
    kind: str,
    predicted: float,
    thermometer: str,
    weather: str,
) -> None:
    """The weather turns; thermometer and forecast are each in the unit of another country."""
    options = BATTERY | {"load_sensor": LOAD, "outdoor_sensor": THERMOMETER, "weather": "weather.mill"}
    entry = await add_inverter(bench.port, battery=options, tariff=TARIFF)
    if weather == "°F":
        hass.config.units = US_CUSTOMARY_SYSTEM
    await keep_winter(hass, now_cold=predicted != COLD, unit=thermometer)
    days = [dt_util.now().date() + timedelta(days=ahead) for ahead in range(4)]
    degrees = in_unit(predicted, weather)
    rows: dict[str, list[dict[str, Any]]] = {
        "hourly": [{"datetime": at(day, hour), "temperature": degrees} for day in days for hour in range(24)],
        "twice_daily": [
            {"datetime": at(day, hour), "temperature": degrees, "is_daytime": hour == 12}
            for day in days
            for hour in (0, 12)
        ],
        "daily": [{"datetime": at(day, 12), "temperature": degrees + 20, "templow": degrees - 20} for day in days],
    }
    await predict(hass, kind, rows[kind], unit=weather)
    answer = await plan(hass, entry, solar_kwh=0)
    assert answer["basis"]["outdoor"] == "forecast"
    expected = COLD_KWH if predicted == COLD else WARM_KWH
    assert all(kwh == pytest.approx(expected, abs=0.05) for kwh in coming_day(answer))


async def test_without_a_forecast_the_coming_day_is_as_the_last_one(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    options = BATTERY | {"load_sensor": LOAD, "outdoor_sensor": THERMOMETER, "weather": "weather.mill"}
    entry = await add_inverter(bench.port, battery=options, tariff=TARIFF)
    await keep_winter(hass, now_cold=True)
    assert (await plan(hass, entry, solar_kwh=0))["basis"]["outdoor"] == "persistence", "no such entity"
    await predict(hass, "hourly", [])
    assert (await plan(hass, entry, solar_kwh=0))["basis"]["outdoor"] == "persistence", "it predicts nothing"


class Unreached(WeatherEntity):
    """A weather entity whose service does not answer."""

    _attr_name = "Mill"
    _attr_supported_features = WeatherEntityFeature.FORECAST_HOURLY
    _attr_native_temperature_unit = "°C"

    def __init__(self, fault: Exception) -> None:
        self.fault = fault

    async def async_forecast_hourly(self) -> None:
        raise self.fault


@pytest.mark.parametrize("fault", [HomeAssistantError("no answer"), TimeoutError(), ConnectionRefusedError()])
async def test_a_forecast_that_cannot_be_had_does_not_keep_from_planning(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, fault: Exception
) -> None:
    options = BATTERY | {"load_sensor": LOAD, "outdoor_sensor": THERMOMETER, "weather": "weather.mill"}
    entry = await add_inverter(bench.port, battery=options, tariff=TARIFF)
    await keep_winter(hass, now_cold=True)
    setup_test_component_platform(hass, "weather", [Unreached(fault)])
    assert await async_setup_component(hass, "weather", {"weather": [{"platform": "test"}]})
    await hass.async_block_till_done()
    assert hass.states.get("weather.mill") is not None
    assert (await plan(hass, entry, solar_kwh=0))["basis"]["outdoor"] == "persistence"


async def test_a_thermometer_without_a_history_changes_nothing(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    options = BATTERY | {"load_sensor": LOAD, "outdoor_sensor": "sensor.new", "weather": "weather.mill"}
    entry = await add_inverter(bench.port, battery=options, tariff=TARIFF)
    await keep_energy(hass, LOAD, DAYS, lambda start: 0.25)
    answer = await plan(hass, entry, solar_kwh=0)
    assert (answer["basis"]["load"], answer["basis"]["outdoor"]) == ("sensor", "none")
