"""The main job on each Home Assistant that users may have, through its own interfaces, and over a restart."""

from collections.abc import AsyncIterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from tests.bench.remote import Bench
from tests.conftest import QUICK
from tests.live.process import Home, Json, Refused, make_folder, platforms
from tests.powers import TEASEL
from tests.teasel import TONIGHT, WANTED, held, registers
from tests.waiting import until

pytestmark = pytest.mark.timeout(400)

AUTOMATION = {
    "alias": "Say so",
    "triggers": [{"trigger": "chargehand.schedule_confirmed", "target": {}}],
    "conditions": [{"condition": "chargehand.is_schedule_confirmed", "target": {}}],
    "actions": [{"event": "said_so"}],
}


@pytest.fixture(params=platforms(), ids=lambda python: Path(python).parents[1].name)
async def house(
    request: pytest.FixtureRequest, tmp_path: Path, socket_enabled: None, unused_tcp_port: int
) -> tuple[str, Path, int]:
    """A Home Assistant that was never started: its python, its folder, its port. The map has powers and no energies."""
    lines = TEASEL.read_text().splitlines()
    make_folder(tmp_path, unused_tcp_port, "\n".join(line for line in lines if "_energy" not in line))
    return request.param, tmp_path, unused_tcp_port


@pytest.fixture
async def quick_bench(socket_enabled: None) -> AsyncIterator[Bench]:
    async with await Bench.start(**QUICK, time_zone="Europe/London") as running:
        yield running


async def add(home: Home, bench: Bench) -> str:
    """Add the inverter by its forms and return the entry's id."""
    flow = "config/config_entries/flow"
    form = await home.post(flow, handler="chargehand")
    found = await home.post(
        f"{flow}/{form['flow_id']}", host="127.0.0.1", port=bench.port, framing="tcp", register_map="mine"
    )
    assert found["step_id"] == "confirm", found
    done = await home.post(f"{flow}/{form['flow_id']}", allow_control=True, set_clock_seconds=0)
    assert done["type"] == "create_entry"
    assert done["result"]["state"] == "loaded", done
    return str(done["result"]["entry_id"])


async def registered(home: Home) -> dict[str, dict[str, Any]]:
    """Chargehand's entities in the registry, by entity id."""
    listed = await home.ask("config/entity_registry/list")
    return {one["entity_id"]: one for one in listed if one["platform"] == "chargehand"}


async def statistics(home: Home) -> set[str]:
    """What the recorder keeps a long history of."""
    return {one["statistic_id"] for one in await home.ask("recorder/list_statistic_ids")}


def ours(log: str) -> list[str]:
    """Lines that name Chargehand and are more than information, but for the platform's own greeting of custom integrations."""
    named = [line for line in log.splitlines() if "chargehand" in line.lower() or "custom_components" in line]
    relevant = [line for line in named if "not been tested by Home Assistant" not in line]
    return [line for line in relevant if " INFO " not in line and " DEBUG " not in line]


async def test_the_main_job_and_a_restart(house: tuple[str, Path, int], quick_bench: Bench) -> None:
    python, folder, port = house
    async with Home(python, folder, port) as home:
        entry_id = await add(home, quick_bench)
        entities = await registered(home)
        keys = {entity_id: one["unique_id"] for entity_id, one in entities.items()}
        assert len(keys) > 60
        states = {one["entity_id"]: one["state"] for one in await home.get("states")}
        shown = {entity_id for entity_id, one in entities.items() if one["disabled_by"] is None}
        assert {entity_id: states.get(entity_id) for entity_id in shown if entity_id not in states} == {}
        assert [entity_id for entity_id in shown if states[entity_id] == "unavailable"] == []
        await use_everything(home, entry_id, quick_bench)
        level = await home.state("sensor.teasel_t5_battery_level")
        energy = float(await home.state("sensor.teasel_t5_grid_energy_imported_calculated_from_power"))
        kept = await statistics(home)
        assert {"sensor.teasel_t5_battery_level", "sensor.teasel_t5_grid_energy_imported_calculated_from_power"} <= kept
        assert (await quick_bench.stats())["connections"] == 1
    assert (await quick_bench.stats())["connections"] == 0, "closed when Home Assistant stops"
    async with Home(python, folder, port, home.token) as home:
        again = await registered(home)
        states = {one["entity_id"]: one["state"] for one in await home.get("states")}
        assert [entity_id for entity_id in shown if states[entity_id] == "unavailable"] == []
        assert {entity_id: one["unique_id"] for entity_id, one in again.items()} == keys
        assert {entity_id: one["id"] for entity_id, one in again.items()} == {
            entity_id: one["id"] for entity_id, one in entities.items()
        }
        assert await home.state("sensor.teasel_t5_schedule_status") == "confirmed"
        assert float(await home.state("sensor.teasel_t5_grid_energy_imported_calculated_from_power")) >= energy
        assert await statistics(home) >= kept
        since = quote((datetime.now().astimezone() - timedelta(hours=1)).isoformat())
        (history,) = await home.get(f"history/period/{since}?filter_entity_id=sensor.teasel_t5_battery_level")
        assert level in {one["state"] for one in history}, "what was before the restart"
        await home.post(f"config/config_entries/entry/{entry_id}/reload")
        assert await home.state("sensor.teasel_t5_schedule_status") == "confirmed"
    assert ours(home.log()) == []


async def use_everything(home: Home, entry_id: str, bench: Bench) -> None:
    """Use each part that leans on the platform once; none may say anything in the log."""
    (device,) = [
        one["id"] for one in await home.ask("config/device_registry/list") if entry_id in one["config_entries"]
    ]
    target = {"target": {"device_id": device}}
    automation = {
        **AUTOMATION,
        **{key: [AUTOMATION[key][0] | target] for key in ("triggers", "conditions")},  # type: ignore[operator]
    }
    await home.post("config/automation/config/say_so", **automation)
    receipt = await home.act("apply_schedule", device_id=device, charge=TONIGHT)
    assert receipt["outcome"] == "confirmed"
    assert await held(bench) == WANTED
    assert await home.state("sensor.teasel_t5_schedule_status") == "confirmed"
    said_so = await home.get("states/automation.say_so")
    assert said_so["attributes"]["last_triggered"] is not None, "trigger and condition work"
    assert (await home.act("get_schedule", device_id=device))["charge"][0]["start"] == "01:00"
    await each_platform(home, device, bench)
    await each_page(home, entry_id)


async def each_platform(home: Home, device: str, bench: Bench) -> None:
    """Change something by an entity of each kind."""

    async def do(service: str, entity: str, **data: Json) -> None:
        await home.post(f"services/{service}", entity_id=entity, **data)

    await do("time/set_value", "time.teasel_t5_charge_window_1_start", time="01:20:00")
    await do("number/set_value", "number.teasel_t5_charge_window_1_power", value=1665)
    assert await held(bench) == WANTED
    await do("button/press", "button.teasel_t5_apply_draft")
    assert await held(bench) == registers("01:20", "05:00", 1665, 95)
    await do("switch/turn_on", "switch.teasel_t5_buzzer")
    await do("select/select_option", "select.teasel_t5_running_mode", option="hold")
    await home.becomes("select.teasel_t5_running_mode", "hold")
    await do("button/press", "button.teasel_t5_set_clock")
    await home.act("restore_schedule", device_id=device)
    assert await held(bench) == WANTED
    with pytest.raises(Refused):
        await home.act("apply_schedule", device_id=device, charge=[{"start": "25:00", "end": "05:00"}])
    assert (await home.get("states/sensor.teasel_t5_schedule_status"))["attributes"]["last_failure"] is not None


async def each_page(home: Home, entry_id: str) -> None:
    """Ask for what the platform's pages show of Chargehand."""
    today, tomorrow = (f"{datetime.now().astimezone() + timedelta(days=day):%Y-%m-%dT%H:%M:%S}" for day in (0, 1))
    assert await home.get(f"calendars/calendar.teasel_t5_schedule?start={today}&end={tomorrow}")
    diagnostics = await home.get(f"diagnostics/config_entry/{entry_id}")
    assert diagnostics["data"]["schedule_status"] == "confirmed"
    options = "config/config_entries/options/flow"
    menu = await home.post(options, handler=entry_id)
    form = await home.post(f"{options}/{menu['flow_id']}", next_step_id="polling")
    done = await home.post(f"{options}/{form['flow_id']}", fast_seconds=1, slow_seconds=10)
    assert done["type"] == "create_entry"
    await home.becomes("sensor.teasel_t5_schedule_status", "confirmed")
    (actions,) = [one["services"] for one in await home.get("services") if one["domain"] == "chargehand"]
    assert {"apply_schedule", "plan_charge"} <= actions.keys()

    async def in_the_logbook() -> bool:
        return any("has a new schedule" in one.get("message", "") for one in await home.get("logbook"))

    # The recorder writes every few seconds.
    await until(in_the_logbook)
    assert (await home.ask("energy/validate"))["energy_sources"] == []
