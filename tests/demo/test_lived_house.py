"""The demo's house has lived: weeks in the recorder, nights that were planned and what they saved, tonight on the inverter."""

import asyncio
import socket
from collections.abc import AsyncIterator, Iterator
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import aiohttp
import pytest
import pytest_socket

from scripts.alder_mill import nights as lived_nights
from scripts.alder_mill.process import running
from tests.bench.battery import CAPACITY_WH
from tests.bench.flow import EFFICIENCY

pytestmark = pytest.mark.timeout(400)  # The demo has six weeks to live through before it is there.

LONDON = ZoneInfo("Europe/London")
NIGHT_RATE, DAY_RATE = 0.11, 0.31
WEEKS = 6
METERS = (
    *("load_energy", "solar_energy", "grid_energy_imported", "grid_energy_exported"),
    *("battery_energy_charged", "battery_energy_discharged"),
)


class Page:
    """The demo's page, for the user demo."""

    def __init__(self, session: aiohttp.ClientSession, url: str) -> None:
        self._session, self._url = session, url
        self._token = ""

    async def log_in(self) -> None:
        """Log in as the page's form does."""
        client = f"{self._url}/"
        begun = {"client_id": client, "handler": ["homeassistant", None], "redirect_uri": client}
        flow = await self._post("/auth/login_flow", json=begun)
        typed = {"client_id": client, "username": "demo", "password": "demo"}
        code = (await self._post(f"/auth/login_flow/{flow['flow_id']}", json=typed))["result"]
        form = {"client_id": client, "grant_type": "authorization_code", "code": code}
        self._token = (await self._post("/auth/token", data=form))["access_token"]

    async def _post(self, path: str, **body: Any) -> Any:
        async with self._session.post(self._url + path, **body, raise_for_status=True) as answer:
            return await answer.json()

    async def get(self, path: str) -> Any:
        headers = {"Authorization": f"Bearer {self._token}"}
        async with self._session.get(f"{self._url}/api/{path}", headers=headers, raise_for_status=True) as answer:
            return await answer.json()

    async def state(self, entity_id: str) -> dict[str, Any]:
        state: dict[str, Any] = await self.get(f"states/{entity_id}")
        return state

    async def ask(self, command: str, **fields: Any) -> Any:
        """Give one command to the websocket interface, and return its result."""
        async with self._session.ws_connect(f"{self._url}/api/websocket", max_msg_size=0) as socket:
            await socket.receive_json()
            await socket.send_json({"type": "auth", "access_token": self._token})
            await socket.receive_json()
            await socket.send_json({"id": 1, "type": command, **fields})
            answer = await socket.receive_json()
        assert answer["success"], answer
        return answer["result"]

    async def nights(self) -> Any:
        """Return what the diagnostics' file holds of the nights."""
        entries = await self.get("config/config_entries/entry?domain=chargehand")
        return (await self.get(f"diagnostics/config_entry/{entries[0]['entry_id']}"))["data"]["nights"]


@pytest.fixture(scope="module")
def demo() -> Iterator[str]:
    """The address of a demo's page."""
    pytest_socket.enable_socket()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with running(port):
        yield f"http://127.0.0.1:{port}"


@pytest.fixture
async def page(demo: str, socket_enabled: None) -> AsyncIterator[Page]:
    async with aiohttp.ClientSession() as session:
        page = Page(session, demo)
        await page.log_in()
        yield page


async def hours(page: Page, *kinds: str) -> dict[str, list[dict[str, Any]]]:
    """Return six weeks of the sensors' statistics by the hour, by key."""
    keys = (*METERS, "battery_level")
    rows = await page.ask(
        "recorder/statistics_during_period",
        start_time=(datetime.now(UTC) - timedelta(weeks=WEEKS + 1)).isoformat(),
        statistic_ids=[f"sensor.teasel_t5_{key}" for key in keys],
        period="hour",
        types=list(kinds),
    )
    return {key: rows[f"sensor.teasel_t5_{key}"] for key in keys}


async def test_six_weeks_of_meters_balance(page: Page) -> None:
    """What comes in goes out, in each hour and altogether: an energy balance at the house's AC side."""
    rows = await hours(page, "change", "mean", "sum")
    for key, there in rows.items():
        starts = [row["start"] for row in there]
        assert len(there) in (24 * 7 * WEEKS, 24 * 7 * WEEKS + 1), key
        assert {after - before for before, after in pairwise(starts)} == {3_600_000}, key
    kwh = {key: [row["change"] for row in rows[key]] for key in METERS}

    def balance(at: slice) -> float:
        load, solar, bought, sold, stored, taken = (sum(kwh[key][at]) for key in METERS)
        return bought + solar + taken * EFFICIENCY - sold - stored / EFFICIENCY - load

    # Each of the six counters shows whole tenths of a kWh.
    for hour in range(1, len(kwh["load_energy"])):
        assert abs(balance(slice(hour, hour + 1))) <= 0.62, hour
    assert abs(balance(slice(1, None))) <= 0.62
    assert min(min(there) for there in kwh.values()) >= 0


async def test_the_level_follows_what_goes_in_and_out(page: Page) -> None:
    """From the first hour's level to the last one's, by what was charged and discharged: what comes between is at most an hour's."""
    rows = await hours(page, "change", "mean", "min", "max")
    stored = sum(row["change"] for row in rows["battery_energy_charged"][1:])
    taken = sum(row["change"] for row in rows["battery_energy_discharged"][1:])
    levels = rows["battery_level"]
    rise = (levels[-1]["mean"] - levels[0]["mean"]) / 100 * CAPACITY_WH / 1000
    spread = sum(row["max"] - row["min"] for row in (levels[0], levels[-1])) / 100 * CAPACITY_WH / 1000
    assert stored - taken == pytest.approx(rise, abs=spread + 0.3)


async def test_three_nights_have_saved_what_their_kilowatt_hours_can(page: Page) -> None:
    """A kWh bought at night spares at most what is left of it on the way through the battery, at the day's price.

    What the house uses in the window comes from the grid, so that as much stays in the battery for the day.
    """
    nights = (await page.nights())["last"]
    over = [night for night in nights if night["outcome"] is not None and night["outcome"]["saving"] is not None]
    assert len(over) >= 3
    most = DAY_RATE * EFFICIENCY**2 - NIGHT_RATE
    used = (await hours(page, "change"))["load_energy"]
    for night in over:
        outcome = night["outcome"]
        begins, ends = (datetime.fromisoformat(night[key]).timestamp() * 1000 for key in ("begins", "ends"))
        kept = sum(row["change"] for row in used if begins <= row["start"] < ends)
        assert outcome["windows"] == len(night["windows"])
        assert outcome["saving"] <= outcome["grid_charge_kwh"] * most + kept * (DAY_RATE - NIGHT_RATE) + 0.005
        assert outcome["cost"] == pytest.approx(outcome["grid_charge_kwh"] * NIGHT_RATE, abs=0.005)
        assert outcome["level_reached"] == pytest.approx(night["target_level"], abs=1)
    earned = await page.state("sensor.teasel_t5_saving_earned")
    assert earned["attributes"]["nights_calculated"] == len(over)
    assert earned["attributes"]["nights_not_calculated"] == 0
    assert float(earned["state"]) == pytest.approx(sum(night["outcome"]["saving"] for night in over), abs=0.01)


async def test_tonight_is_planned_and_on_the_inverter(page: Page) -> None:
    assert (await page.state("sensor.teasel_t5_schedule_status"))["state"] == "confirmed"
    tonight = (await page.nights())["last"][-1]
    assert tonight["outcome"] is None
    assert not tonight["basis"]["fallback"]
    assert tonight["basis"]["load_days"] >= 7 * WEEKS - 1
    for number, window in enumerate(tonight["windows"], start=1):
        for edge in ("start", "end"):
            held = await page.state(f"time.teasel_t5_charge_window_{number}_{edge}")
            assert held["state"] == f"{window[edge]}:00"


async def test_the_automation_of_the_nights_is_on(page: Page) -> None:
    assert (await page.state("automation.charge_in_winter_nights"))["state"] == "on"


async def test_the_energy_dashboard_has_nothing_to_object_to(page: Page) -> None:
    prefs = await page.ask("energy/get_prefs")
    assert {source["type"] for source in prefs["energy_sources"]} == {"grid", "solar", "battery"}
    validated = await page.ask("energy/validate")
    assert [issue for issues in validated["energy_sources"] for issue in issues] == []


async def test_the_last_day_is_there_state_by_state(page: Page) -> None:
    begun = datetime.now(UTC) - timedelta(hours=24)
    for key in ("battery_level", "solar_power", "load_power"):
        entity_id = f"sensor.teasel_t5_{key}"
        rows = await page.ask(
            "history/history_during_period",
            start_time=begun.isoformat(),
            entity_ids=[entity_id],
            no_attributes=True,
            include_start_time_state=False,
        )
        times = [row["lu"] for row in rows[entity_id]]
        assert times == sorted(times)
        longest = max(after - before for before, after in pairwise(times))
        # The sun does not shine at night, and a level may stand still.
        assert longest <= (1800 if key == "load_power" else 17 * 3600)
        assert times[0] <= begun.timestamp() + (17 * 3600 if key == "solar_power" else 6 * 3600)


@pytest.mark.parametrize("now", ["2026-03-31 09:00", "2026-10-27 09:00"])
async def test_nights_over_a_change_of_the_clock_charge_in_the_cheap_hours(
    now: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lived_nights, "WEEKS", timedelta(days=12))
    moment = datetime.fromisoformat(now).replace(tzinfo=LONDON)
    lived = await asyncio.to_thread(lived_nights.live_through, moment)
    assert len(lived.plans) == lived_nights.NIGHTS
    assert lived.charged
    for one in lived.charged:
        shown = [at.astimezone(LONDON) for at in (one.start, one.end)]
        assert all(1 <= at.hour < 5 or (at.hour, at.minute) == (5, 0) for at in shown)
        assert one.reached == pytest.approx(one.wanted, abs=1)
