"""The day of an inverter pushed to a card: a real Home Assistant with a recorder, the bench over TCP, and its websocket."""

import time
from datetime import datetime, timedelta
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry, async_fire_time_changed
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from custom_components.chargehand.day.live_day import DAYS
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.calls import act, device_id, set_entity
from tests.changes.test_schedule_monitor import poll
from tests.day.conftest import EVENING
from tests.day.watching import Card
from tests.moved_time import HouseTime
from tests.teasel import TONIGHT

SECTIONS = {
    "inverter", "limits", "clock", "band", "held", "draft", "acting", "prices", "past", "expected", "status", "order",
    "commit", "plan", "foreign", "undo", "currency",
}  # fmt: skip

FACTORY = {"number": 1, "start": "22:40", "end": "02:20", "power": 2000.0, "stop_level": 100.0}
"""The bench's own window, as it leaves the factory."""

FACTORY_WINDOW = {key: FACTORY[key] for key in ("start", "end", "power", "stop_level")}

LEVELS = {"min": 10.0, "max": 100.0, "step": 1.0}
POWERS = {"unit": "W", "min": 0.0, "max": 5000.0, "step": 1.0}
"""As the map of the Teasel T5 has them."""


async def test_the_first_answer_has_all_sections(hass: HomeAssistant, entry: MockConfigEntry, card: Card) -> None:
    begun = time.perf_counter()
    day = await card.watch(device_id(hass, entry))
    print(f"first answer after {time.perf_counter() - begun:.3f} s")
    assert day.keys() == SECTIONS
    assert day["inverter"] == {
        "device_id": device_id(hass, entry), "name": "Teasel T5", "available": True,
        "last_read": "2026-01-14T20:10:00+00:00", "why": None, "mapped": True, "controls": True, "permitted": True, "can": {"charge": True, "discharge": True},
    }  # fmt: skip
    assert day["limits"] == {
        "step_minutes": 1, "midnight": True,
        "charge": {"count": 4, "stop_level": LEVELS, "limit": POWERS},
        "discharge": {"count": 2, "stop_level": LEVELS, "limit": POWERS},
    }  # fmt: skip
    # Eight hours before 20:00, and the midnight after tomorrow.
    assert day["band"] == {"start": "2026-01-14T12:00:00+00:00", "end": "2026-01-16T00:00:00+00:00"}
    assert day["clock"] == {
        "zone": "Europe/London",
        "segments": [{"from": "2026-01-14T12:00:00+00:00", "offset_minutes": 0}],
    }
    assert day["held"] == {"charge": [FACTORY], "discharge": [], "armed": True}
    tonight, tomorrow = (
        {
            "side": "charge", "number": 1, "start": f"2026-01-{at}T22:40:00+00:00", "end": f"2026-01-{at + 1}T02:20:00+00:00",
            "stop_level": 100.0, "power_kw": 2.0,
        }
        for at in (14, 15)
    )  # fmt: skip
    assert day["acting"] == {"held": [tonight, tomorrow], "draft": None}
    assert [(one["start"][:16], one["end"][:16], one["buy"], one["sell"]) for one in day["prices"]] == [
        ("2026-01-14T12:00", "2026-01-15T01:00", 0.31, 0.06),
        ("2026-01-15T01:00", "2026-01-15T05:00", 0.11, 0.06),
        ("2026-01-15T05:00", "2026-01-16T00:00", 0.31, 0.06),
    ]
    assert {day[name] for name in ("draft", "order", "commit", "plan", "foreign")} == {None}
    assert day["status"] == {
        "state": "never_confirmed", "since": None, "armed": True,
        "text": "Never confirmed: Chargehand has not set this schedule.",
    }  # fmt: skip
    assert day["undo"] == {"possible": False, "text": None}
    assert day["currency"] == "EUR"


async def test_what_is_expected_is_worked_out_by_hand(hass: HomeAssistant, entry: MockConfigEntry, card: Card) -> None:
    await card.watch(device_id(hass, entry))
    course = (await card.until(lambda day: day["expected"] is not None))["expected"]
    assert (course["start"], course["step_minutes"]) == ("2026-01-14T20:10:00+00:00", 5)
    # 0.3 kW through 94 % take 3.19 % an hour out of 10 kWh, for 2.5 hours until 22:40; then 2 kW go in for 220 minutes.
    assert course["level"][29] == pytest.approx(20 - 2.5 * 0.3 / 0.94 * 10, abs=0.1)
    assert course["level"][29 + 44] == pytest.approx(20 - 2.5 * 0.3 / 0.94 * 10 + 220 / 60 * 2 * 10, abs=0.2)
    assert set(course["load_kw"]) == {0.3}
    assert set(course["solar_kw"]) == {0.0}
    assert course.keys() == {
        "start", "step_minutes", "level", "low", "high", "solar_kw", "load_kw", "cost", "cost_without", "saving",
        "left_kwh", "left_gain", "wear_cost", "grid_charge_kwh",
    }  # fmt: skip


async def test_an_edit_pushes_the_draft_and_when_it_acts_and_nothing_else(
    hass: HomeAssistant, entry: MockConfigEntry, card: Card
) -> None:
    await card.watch(device_id(hass, entry))
    await set_entity(hass, "number", "set_value", "charge_window_1_power", value=1500)
    pushed = await card.next()
    assert pushed.keys() == {"draft", "acting"}
    assert pushed["draft"] == {
        "charge": [FACTORY | {"power": 1500.0}], "discharge": [], "by": "unknown (number.teasel_t5_charge_window_1_power)", "since": EVENING.isoformat(),
        "applied_at": None, "reasons": [],
    }  # fmt: skip
    assert [one["power_kw"] for one in pushed["acting"]["draft"]] == [1.5, 1.5]
    assert [one["power_kw"] for one in pushed["acting"]["held"]] == [2.0, 2.0]
    await hass.services.async_call("button", "press", {"entity_id": "button.teasel_t5_discard_draft"}, blocking=True)
    pushed = await card.next()
    assert (pushed["draft"], pushed["acting"]["draft"]) == (None, None)


async def test_a_draft_tells_what_speaks_against_it(hass: HomeAssistant, entry: MockConfigEntry, card: Card) -> None:
    await card.watch(device_id(hass, entry))
    second = {"start": "23:00", "end": "23:30", "power": 1000, "stop_level": 90}
    await act(hass, entry, "draft_schedule", charge=[FACTORY_WINDOW, second])
    day = await card.until(lambda day: bool(day["draft"] and day["draft"]["reasons"]))
    (reason,) = day["draft"]["reasons"]
    assert reason["key"] == "overlap"
    assert "22:40–02:20" in reason["text"]


async def test_a_commit_is_pushed_stage_by_stage_and_then_what_it_made(
    hass: HomeAssistant, entry: MockConfigEntry, card: Card
) -> None:
    await card.watch(device_id(hass, entry))
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    day = await card.until(
        lambda day: day["status"]["state"] == "confirmed" and (day["commit"] or {}).get("stage") == "confirmed"
    )
    stages = [event["commit"]["stage"] for event in card.pushed[1:] if event.get("commit")]
    assert stages == ["checking", "writing", "reading_back", "confirmed"]
    assert day["commit"]["seconds"] > 0
    assert day["held"]["charge"] == [{"number": 1, **TONIGHT[0]}]
    assert day["status"]["since"] == EVENING.isoformat()
    assert day["status"]["text"].startswith("Confirmed at 20:10, by ")
    assert day["undo"]["possible"]
    assert day["undo"]["text"].startswith("charge 22:40–02:20 2000 W to 100 %")
    assert [one["start"][11:16] for one in day["acting"]["held"]] == ["01:00"]


async def test_another_schedule_is_expected_to_go_another_way(
    hass: HomeAssistant, entry: MockConfigEntry, card: Card
) -> None:
    await card.watch(device_id(hass, entry))
    before = (await card.until(lambda day: day["expected"] is not None))["expected"]
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    after = (await card.until(lambda day: day["expected"] != before))["expected"]
    # Its windows begin and end at quarters of an hour; at 01:00 the battery is at its reserve.
    assert after["step_minutes"] == 15
    assert after["level"][4 * 5 - 1] == pytest.approx(10, abs=0.1)


async def test_a_change_elsewhere_is_pushed_with_both_schedules(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, card: Card
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await card.watch(device_id(hass, entry))
    assert card.day["foreign"] is None
    await bench.set(CHARGE[0].power, [500])
    await poll(hass, entry)
    day = await card.until(lambda day: day["foreign"] is not None)
    assert day["foreign"] == {
        "mine": {"charge": [{"number": 1, **TONIGHT[0]}], "discharge": [], "armed": True},
        "theirs": {"charge": [{"number": 1, **TONIGHT[0], "power": 500.0}], "discharge": [], "armed": True},
        "changes": ["charge window 1 power 3000 W to 500 W"],
        "since": EVENING.isoformat(),
    }
    assert day["status"]["state"] == "changed_elsewhere"
    assert day["status"]["text"].startswith("Changed elsewhere, found at 20:10. Charge window 1 now")
    await act(hass, entry, "keep_schedule")
    await card.until(lambda day: day["foreign"] is None and day["status"]["state"] == "confirmed")


async def test_a_plan_is_pushed_with_its_reason(hass: HomeAssistant, entry: MockConfigEntry, card: Card) -> None:
    await card.watch(device_id(hass, entry))
    answer = await act(hass, entry, "plan_charge")
    plan = (await card.until(lambda day: day["plan"] is not None))["plan"]
    assert plan == {
        "made": EVENING.isoformat(), "reason": answer["why"], "cost": answer["expected_cost"], "saving": answer["saving"],
        "target_level": answer["target_level"], "charges": bool(answer["windows"]),
    }  # fmt: skip


async def test_an_order_that_waits_is_pushed_and_how_it_ended(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, card: Card
) -> None:
    await card.watch(device_id(hass, entry))
    await bench.gateway(down=True)
    answer = await act(hass, entry, "apply_schedule", charge=TONIGHT, until="23:00")
    assert answer["outcome"] == "waiting"
    order = (await card.until(lambda day: day["order"] is not None))["order"]
    assert (order["state"], order["until"]) == ("waiting", "2026-01-14T23:00:00+00:00")
    assert order["text"].startswith("Apply schedule waits, and is tried until at 23:00")


async def test_a_level_that_is_another_is_expected_from_at_once(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, card: Card
) -> None:
    await card.watch(device_id(hass, entry))
    before = (await card.until(lambda day: day["expected"] is not None))["expected"]
    await bench.battery(level=60)
    await poll(hass, entry)
    after = (await card.until(lambda day: day["expected"] != before))["expected"]
    assert after["level"][0] == pytest.approx(before["level"][0] + 40, abs=0.1)


async def test_five_minutes_later_the_past_has_gone_on(
    hass: HomeAssistant, house_time: HouseTime, entry: MockConfigEntry, card: Card
) -> None:
    await card.watch(device_id(hass, entry))
    before = (await card.until(lambda day: day["past"] is not None))["past"]
    house_time.move_to(EVENING + timedelta(minutes=5, seconds=31))
    async_fire_time_changed(hass, house_time.now)
    after = (await card.until(lambda day: day["past"] != before))["past"]
    assert len(after["level"]) == len(before["level"]) + 1
    assert after["start"] == before["start"]


async def test_with_the_hour_the_band_moves_on(
    hass: HomeAssistant, house_time: HouseTime, entry: MockConfigEntry, card: Card
) -> None:
    await card.watch(device_id(hass, entry))
    house_time.move_to(EVENING + timedelta(minutes=50, seconds=31))
    async_fire_time_changed(hass, house_time.now)
    day = await card.until(
        lambda day: day["band"]["start"] == "2026-01-14T13:00:00+00:00" and day["past"]["start"] == day["band"]["start"]
    )
    assert day["clock"]["segments"][0]["from"] == day["band"]["start"]
    assert day["prices"][0]["start"] == "2026-01-14T13:00:00+00:00"
    assert len(day["past"]["level"]) == 8 * 12 + 1


async def test_two_cards_get_the_same_and_share_the_work(
    hass: HomeAssistant, entry: MockConfigEntry, card: Card, hass_ws_client: WebSocketGenerator
) -> None:
    await card.watch(device_id(hass, entry))
    other = Card(lambda: hass_ws_client(hass))
    assert (await other.watch(device_id(hass, entry))).keys() == SECTIONS
    assert len(hass.data[DAYS]) == 1
    await set_entity(hass, "number", "set_value", "charge_window_1_power", value=1500)
    assert (await card.next())["draft"] == (await other.next())["draft"]


OF_CONNECTIONS = {"logging_changed", "homeassistant_stop"}
"""What each open connection of the websocket listens to, whatever comes over it."""


async def test_nothing_is_left_of_a_card_that_has_gone(
    hass: HomeAssistant, entry: MockConfigEntry, card: Card, hass_ws_client: WebSocketGenerator
) -> None:
    coordinator = entry.runtime_data
    stages = coordinator.monitor.commit_stages

    def listening() -> tuple[int, int, dict[str, int]]:
        events = {event: n for event, n in hass.bus.async_listeners().items() if event not in OF_CONNECTIONS}
        return len(coordinator._listeners), len(stages._listeners), events

    before = listening()
    await card.watch(device_id(hass, entry))
    assert (len(coordinator._listeners), len(stages._listeners)) == (before[0] + 1, 1)
    await card.stop()
    assert listening() == before
    assert hass.data[DAYS] == {}
    gone = Card(lambda: hass_ws_client(hass))
    await gone.watch(device_id(hass, entry))
    await gone.client.close()
    await hass.async_block_till_done()
    assert listening() == before
    assert hass.data[DAYS] == {}


async def test_who_may_only_read_watches_too(
    hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator, hass_read_only_access_token: str
) -> None:
    reader = Card(lambda: hass_ws_client(hass, hass_read_only_access_token))
    day = await reader.watch(device_id(hass, entry))
    assert day.keys() == SECTIONS
    assert (day["inverter"]["controls"], day["inverter"]["permitted"]) == (True, False)


async def test_an_unknown_device_is_a_clear_error(
    hass: HomeAssistant, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator
) -> None:
    client = await hass_ws_client(hass)
    await client.send_json_auto_id({"type": "chargehand/day/subscribe", "device_id": "no-such-device"})
    error: dict[str, Any] = (await client.receive_json())["error"]
    assert error["translation_key"] == "unknown_device"
    assert error["message"].startswith("no-such-device is not a Chargehand inverter")
    assert not hass.data.get(DAYS)


async def test_the_course_is_not_read_anew_for_every_level(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, card: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A year of statistics is read once in five minutes, however often the level changes."""
    from custom_components.chargehand.day import rehearsals  # noqa: PLC0415 - what it reads with is watched

    reads: list[datetime] = []
    read = rehearsals.plan_inputs

    async def seen(*given: Any) -> Any:
        reads.append(EVENING)
        return await read(*given)

    monkeypatch.setattr(rehearsals, "plan_inputs", seen)
    await card.watch(device_id(hass, entry))
    for level in (40, 60):
        before = (await card.until(lambda day: day["expected"] is not None))["expected"]
        await bench.battery(level=level)
        await poll(hass, entry)
        await card.until(lambda day, before=before: day["expected"] != before)
    assert len(reads) == 1
