"""A schedule rehearsed over the websocket, in a real Home Assistant with a recorder: nothing is written, and the figures are worked out by hand."""

from collections.abc import AsyncIterator, Awaitable, Callable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from tests.actions.test_plan_charge import BATTERY, TARIFF
from tests.bench.remote import Bench
from tests.calls import device_id
from tests.changes.test_schedule_monitor import poll
from tests.conftest import QUICK, AddInverter
from tests.kept_history import keep_energy
from tests.moved_time import HouseTime
from tests.teasel import FACTORY, held

LOAD = "sensor.alder_mill_load"
EVENING = datetime(2026, 1, 14, 20, 0, tzinfo=ZoneInfo("Europe/London"))
OPTIONS = {"battery": BATTERY | {"load_sensor": LOAD}, "tariff": TARIFF}
NIGHT = {"start": "01:00", "end": "05:00", "power": 2000, "stop_level": 90}

type Rehearse = Callable[..., Awaitable[dict[str, Any]]]


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The recorder has to be there before Home Assistant."""


@pytest.fixture(autouse=True)
def house_time(monkeypatch: pytest.MonkeyPatch) -> HouseTime:
    return HouseTime(monkeypatch, EVENING)


@pytest.fixture
async def bench(house_time: HouseTime, socket_enabled: None) -> AsyncIterator[Bench]:
    """The bench with the house's time."""
    async with await Bench.start(**QUICK, clock=EVENING.replace(tzinfo=None)) as running:
        yield running


@pytest.fixture
async def entry(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    """A house that draws 0.3 kW all the time, with a battery at 20 %."""
    await bench.battery(level=20)
    added = await add_inverter(bench.port, **OPTIONS)
    await keep_energy(hass, LOAD, 9, lambda _: 0.3)
    return added


@pytest.fixture
async def rehearse(hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator) -> Rehearse:
    """Ask as a card does; returns the whole answer."""
    client = await hass_ws_client(hass)

    async def ask(device: str | None = None, **windows: Any) -> dict[str, Any]:
        await client.send_json_auto_id(
            {"type": "chargehand/rehearse", "device_id": device or device_id(hass, entry), **windows}
        )
        answer: dict[str, Any] = await client.receive_json()
        return answer

    return ask


def level_at(course: dict[str, Any], hours: float) -> float:
    """The level so many hours after the horizon's start."""
    level: float = course["level"][round(hours * 60 / course["step_minutes"]) - 1]
    return level


async def test_a_night_is_rehearsed_and_nothing_is_written(
    bench: Bench, entry: MockConfigEntry, rehearse: Rehearse
) -> None:
    answer = await rehearse(charge=[NIGHT])
    assert answer["success"]
    course = answer["result"]["course"]
    assert answer["result"]["reasons"] == []
    assert datetime.fromisoformat(course["start"]) == EVENING
    assert course["step_minutes"] == 15
    assert course["currency"] == "EUR"
    # Until 23:08 the house takes the kWh above the reserve out (0.3 kW / 94 %); in the window 2 kW go in until 90 %, after 4 h.
    assert level_at(course, 1) == pytest.approx(20 - 0.3 / 0.94 * 10, abs=0.2)
    assert level_at(course, 5) == pytest.approx(10, abs=0.1)
    assert level_at(course, 7) == pytest.approx(50, abs=0.1)
    assert level_at(course, 9) == pytest.approx(90, abs=0.1)
    assert level_at(course, 12) == pytest.approx(90 - 3 * 0.3 / 0.94 * 10, abs=0.3)
    assert course["low"] == course["high"] == course["level"], "a house that is the same every day"
    # The second night's window is in the course too, but what is bought and saved is the coming day's alone. At the meter.
    assert level_at(course, 33) == pytest.approx(90, abs=0.1)
    assert course["grid_charge_kwh"] == pytest.approx(8 / 0.94, abs=0.02)
    assert course["saving"] == pytest.approx(course["cost_without"] - course["cost"], abs=1e-3)
    assert await held(bench) == FACTORY
    assert not [one for one in await bench.journal() if one["function"] in {6, 16}]
    assert entry.runtime_data.drafts.draft is None


async def test_windows_that_begin_at_odd_minutes_are_rehearsed_by_five_minutes(rehearse: Rehearse) -> None:
    course = (await rehearse(charge=[NIGHT | {"start": "01:05", "end": "02:05"}]))["result"]["course"]
    assert course["step_minutes"] == 5
    assert level_at(course, 5 + 1 / 12) == pytest.approx(10, abs=0.1)
    assert level_at(course, 6 + 1 / 12) == pytest.approx(30, abs=0.1)


async def test_a_discharge_window_is_rehearsed_too(rehearse: Rehearse) -> None:
    evening = {"start": "06:00", "end": "07:00", "power": 1000, "stop_level": 70}
    course = (await rehearse(charge=[NIGHT], discharge=[evening]))["result"]["course"]
    before = level_at(course, 10)
    assert level_at(course, 11) == pytest.approx(before - 10, abs=0.1)


async def test_a_side_that_is_left_out_is_as_the_inverter_holds_it(rehearse: Rehearse) -> None:
    as_held = (await rehearse())["result"]["course"]
    # The inverter's own window: 22:40-02:20, 2000 W, to 100 %.
    same = {"start": "22:40", "end": "02:20", "power": 2000, "stop_level": 100}
    assert (await rehearse(charge=[same]))["result"]["course"] == as_held


async def test_what_the_inverter_cannot_hold_is_refused_with_every_reason(rehearse: Rehearse) -> None:
    answer = await rehearse(
        charge=[NIGHT | {"end": "01:00"}, {"start": "06:00", "end": "07:00", "power": 99000, "stop_level": 80}]
    )
    assert answer["success"]
    assert "course" not in answer["result"]
    texts = [one["text"] for one in answer["result"]["reasons"]]
    assert len(texts) == 2, texts
    assert "charge window 1" in texts[0]
    assert "charge window 2" in texts[1]


async def test_another_level_is_rehearsed_from_at_once(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, rehearse: Rehearse
) -> None:
    before = (await rehearse(charge=[NIGHT]))["result"]["course"]
    await bench.battery(level=60)
    await poll(hass, entry)
    after = (await rehearse(charge=[NIGHT]))["result"]["course"]
    assert after["level"][0] == pytest.approx(before["level"][0] + 40, abs=0.1)


async def test_errors_are_those_of_the_actions(hass: HomeAssistant, entry: MockConfigEntry, rehearse: Rehearse) -> None:
    unknown = await rehearse("no-such-device", charge=[NIGHT])
    assert (unknown["success"], unknown["error"]["translation_key"]) == (False, "unknown_device")
    await hass.config_entries.async_unload(entry.entry_id)
    stopped = await rehearse(charge=[NIGHT])
    assert (stopped["success"], stopped["error"]["translation_key"]) == (False, "not_running")


async def test_too_little_history_has_no_course_and_says_so(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, hass_ws_client: WebSocketGenerator
) -> None:
    added = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF)
    client = await hass_ws_client(hass)
    await client.send_json_auto_id({"type": "chargehand/rehearse", "device_id": device_id(hass, added)})
    result = (await client.receive_json())["result"]
    assert (result["reasons"], result["course"]) == ([], None)
    assert result["why"].startswith("Too little is known of what the house uses")


async def test_windows_can_be_thought_of_without_a_battery_in_the_options(
    hass: HomeAssistant, entry: MockConfigEntry, rehearse: Rehearse
) -> None:
    hass.config_entries.async_update_entry(entry, options={"allow_control": True})
    await hass.config_entries.async_reload(entry.entry_id)
    result = (await rehearse(charge=[NIGHT]))["result"]
    assert (result["reasons"], result["course"]) == ([], None)
    assert result["why"].startswith("A plan needs the battery's data")
    assert [one["start"] for one in result["acting"]] == ["2026-01-15T01:00:00+00:00"]


async def test_it_says_when_the_windows_act(rehearse: Rehearse) -> None:
    """London keeps UTC in January; the band ends with tomorrow, the 15th."""
    evening = {"start": "17:00", "end": "19:00", "power": 1500, "stop_level": 30}
    acting = (await rehearse(charge=[NIGHT], discharge=[evening]))["result"]["acting"]
    assert acting == [
        {
            "side": "charge", "number": 1, "start": "2026-01-15T01:00:00+00:00", "end": "2026-01-15T05:00:00+00:00",
            "stop_level": 90.0, "power_kw": 2.0,
        },
        {
            "side": "discharge", "number": 1, "start": "2026-01-15T17:00:00+00:00", "end": "2026-01-15T19:00:00+00:00",
            "stop_level": 30.0, "power_kw": 1.5,
        },
    ]  # fmt: skip


async def test_a_reason_names_its_window(rehearse: Rehearse) -> None:
    reasons = (await rehearse(charge=[NIGHT, NIGHT | {"start": "06:00", "end": "07:00", "stop_level": 120}]))["result"][
        "reasons"
    ]
    assert [(one["key"], one["side"], one["number"]) for one in reasons] == [("out_of_range", "charge", 2)]
