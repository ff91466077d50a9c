"""stop_charging and resume_charging on a real line: what the inverter holds afterwards, and what is answered."""

from typing import Any

import pytest
from homeassistant.core import Context, HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.blueprints.conftest import MAPS, SERIALS
from tests.calls import act, device_id, hurry, set_entity, state
from tests.changes.order_calls import answers_again, hence, order
from tests.changes.test_schedule_monitor import issue, poll
from tests.conftest import QUICK, AddInverter
from tests.teasel import FACTORY, TONIGHT, WANTED, held

ARMED, DISARMED = [1], [0]
FACTORY_TEXT = "charge 22:40–02:20 2000 W to 100 %; discharge never; armed"
SWITCHES = {"start": "01:00", "end": "05:00", "current": 40, "stop_level": 90}


async def writes(bench: Bench) -> int:
    return len([one for one in await bench.journal() if one["function"] in (6, 16)])


@pytest.fixture
async def burdock(socket_enabled: None) -> Any:
    """An inverter that nothing disarms."""
    async with await Bench.start(**QUICK, inverter="burdock") as running:
        yield running


@pytest.fixture
async def burdock_entry(burdock: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    return await add_inverter(burdock.port, register_map=MAPS["burdock"], unique_id=SERIALS["burdock"])


class User:
    """Somebody by name, as the platform knows who pressed a button."""

    def __init__(self, hass: HomeAssistant, entry: MockConfigEntry, name: str) -> None:
        self._hass, self._entry = hass, entry
        self._user = MockUser(name=name, is_owner=True).add_to_hass(hass)

    async def does(self, action: str, **data: Any) -> dict[str, Any]:
        response = await self._hass.services.async_call(
            "chargehand",
            action,
            {"device_id": device_id(self._hass, self._entry), **data},
            blocking=True,
            return_response=True,
            context=Context(user_id=self._user.id),
        )
        assert response is not None
        return dict(response)


async def test_an_armed_charge_is_disarmed_and_its_windows_stay(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    answer = await act(hass, entry, "stop_charging")
    assert await bench.registers("holding", CONTROL_WORD) == DISARMED
    assert await held(bench) == FACTORY
    assert answer["outcome"] == "confirmed"
    assert answer["changes"] == [{"what": "armed", "was": True, "now": False}]
    assert answer["held"] == FACTORY_TEXT
    assert answer["title"] == "Charging is disarmed"
    assert answer["message"] == "Reading back shows that no charge window is active. Its windows stay."
    assert state(hass, "sensor", "schedule_status").state == "confirmed"


async def test_nothing_is_written_where_nothing_charges(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=[], armed=True)
    before = await writes(bench)
    answer = await act(hass, entry, "stop_charging", until=hence(hours=1))
    assert (answer["outcome"], answer["title"]) == ("unchanged", "There was no charge to disarm")
    assert await writes(bench) == before
    assert await bench.registers("holding", CONTROL_WORD) == ARMED, "discharging may go on"


async def test_a_schedule_of_another_hand_that_does_not_charge_is_not_taken_for_wanted(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CONTROL_WORD, DISARMED)
    await poll(hass, entry)
    assert (await act(hass, entry, "stop_charging"))["outcome"] == "unchanged"
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    assert issue(hass, entry, "changed_elsewhere") is not None


async def test_windows_are_taken_off_where_nothing_disarms(
    hass: HomeAssistant, burdock: Bench, burdock_entry: MockConfigEntry
) -> None:
    evening = {"start": "17:00", "end": "19:00", "power": 2000, "stop_level": 30}
    await act(hass, burdock_entry, "apply_schedule", charge=[SWITCHES], discharge=[evening])
    answer = await act(hass, burdock_entry, "stop_charging")
    assert answer["held"].startswith("charge 01:00–05:00 40 A to 90 %")
    assert "its charge windows were removed" in answer["message"]
    left = await act(hass, burdock_entry, "get_schedule")
    assert (left["charge"], left["discharge"]) == ([], [evening])
    assert (await act(hass, burdock_entry, "stop_charging"))["outcome"] == "unchanged"


async def test_a_window_whose_times_make_no_sense_is_stopped_as_well(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """The start says 99:99: nobody knows when that inverter would charge."""
    await bench.set(CHARGE[0].start, [9999])
    assert (await act(hass, entry, "stop_charging"))["outcome"] == "confirmed"
    assert await bench.registers("holding", CONTROL_WORD) == DISARMED


async def test_neither_a_cold_battery_nor_one_that_cannot_be_read_keeps_it_from_being_stopped(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.battery(temperature=-12)
    assert (await act(hass, entry, "stop_charging"))["outcome"] == "confirmed"


async def test_an_inverter_that_is_away_is_stopped_by_an_order_once_it_answers(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await bench.gateway(down=True)
    answer = await act(hass, entry, "stop_charging", until=hence(hours=1))
    assert (answer["outcome"], answer["title"]) == ("waiting", "Charging could not be disarmed yet")
    assert answer["message"].startswith("Chargehand could not reach the inverter, and nothing was written")
    assert "use the inverter's own switch or isolator" in answer["message"]
    assert answer["held"] == FACTORY_TEXT, "as it was read last"
    assert (order(hass)["state"], order(hass)["what"]) == ("waiting", "stop_charging")
    await answers_again(entry, bench)
    await poll(hass, entry)
    assert await bench.registers("holding", CONTROL_WORD) == DISARMED
    assert order(hass)["state"] == "done"


async def test_a_charge_that_waits_for_its_turn_is_replaced(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT, armed=False)
    await bench.fault("exception", code=11, only="write", count=None)
    assert (await act(hass, entry, "apply_schedule", until=hence(hours=1)))["outcome"] == "waiting"
    assert (await act(hass, entry, "stop_charging"))["outcome"] == "unchanged"
    assert order(hass)["state"] == "replaced", "it would have armed the charge"


async def test_a_read_only_entry_refuses_or_reports_it(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    entry.runtime_data.allow_control = False
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, entry, "stop_charging", until=hence(hours=1))
    assert fault.value.translation_key == "control_not_allowed"
    answer = await act(hass, entry, "stop_charging", report_failure=True)
    assert (answer["outcome"], answer["title"]) == ("failed", "Charging could not be disarmed yet")
    assert answer["message"].startswith("Chargehand may only read this inverter, and nothing was sent.")
    assert await bench.registers("holding", CONTROL_WORD) == ARMED


async def test_what_somebody_stopped_he_arms_again_and_once(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    guard, other = User(hass, entry, "Guard"), User(hass, entry, "Other")
    await guard.does("stop_charging")
    answer = await other.does("resume_charging")
    assert (answer["outcome"], answer["title"]) == ("unchanged", "Charging is not armed again")
    assert answer["message"] == "Charging by schedule is not armed, and stays so until you arm it."
    answer = await guard.does("resume_charging", until=hence(hours=1))
    assert (answer["outcome"], answer["title"]) == ("confirmed", "Charging is armed again")
    assert await bench.registers("holding", CONTROL_WORD) == ARMED
    assert await held(bench) == WANTED
    await act(hass, entry, "apply_schedule", armed=False)
    assert (await guard.does("resume_charging"))["outcome"] == "unchanged", (
        "it was armed since, and not by stop_charging disarmed"
    )


async def test_what_was_armed_and_disarmed_since_is_not_armed_again(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    guard = User(hass, entry, "Guard")
    await guard.does("stop_charging")
    await bench.set(CONTROL_WORD, ARMED)
    await poll(hass, entry)
    await bench.set(CONTROL_WORD, DISARMED)
    await poll(hass, entry)
    assert (await guard.does("resume_charging"))["outcome"] == "unchanged"
    assert await bench.registers("holding", CONTROL_WORD) == DISARMED


async def test_nothing_is_armed_again_after_a_restart(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    guard = User(hass, entry, "Guard")
    await guard.does("stop_charging")
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert (await guard.does("resume_charging"))["outcome"] == "unchanged"


async def test_windows_that_somebody_removed_since_are_not_put_back(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    guard = User(hass, entry, "Guard")
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await guard.does("stop_charging")
    await act(hass, entry, "apply_schedule", charge=[], armed=False)
    assert (await guard.does("resume_charging"))["outcome"] == "unchanged"
    assert (await act(hass, entry, "get_schedule"))["charge"] == []
    assert await bench.registers("holding", CONTROL_WORD) == DISARMED


async def test_an_order_to_resume_does_not_outlive_a_restart(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """Nobody may be watching the room yet when the inverter answers again."""
    hurry(entry)
    guard = User(hass, entry, "Guard")
    await guard.does("stop_charging")
    await bench.gateway(down=True)
    assert (await guard.does("resume_charging", until=hence(hours=1)))["outcome"] == "waiting"
    await hass.config_entries.async_unload(entry.entry_id)
    await bench.gateway(down=False)
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await poll(hass, entry)
    assert (order(hass)["state"], order(hass)["what"]) == ("expired", "resume_charging")
    assert await bench.registers("holding", CONTROL_WORD) == DISARMED


async def test_a_stop_that_fails_for_good_brings_no_charge_back_that_waited(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await bench.gateway(down=True)
    assert (await act(hass, entry, "apply_schedule", charge=TONIGHT, until=hence(hours=1)))["outcome"] == "waiting"
    await answers_again(entry, bench)
    await bench.fault("write_ignored", count=None)
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "stop_charging", until=hence(hours=1))
    assert (order(hass)["state"], order(hass)["what"]) == ("failed", "stop_charging")


async def test_windows_that_were_taken_off_are_put_back_unless_there_are_others(
    hass: HomeAssistant, burdock: Bench, burdock_entry: MockConfigEntry
) -> None:
    guard = User(hass, burdock_entry, "Guard")
    await act(hass, burdock_entry, "apply_schedule", charge=[SWITCHES])
    await guard.does("stop_charging")
    assert (await guard.does("resume_charging"))["outcome"] == "confirmed"
    assert (await act(hass, burdock_entry, "get_schedule"))["charge"] == [SWITCHES]
    await guard.does("stop_charging")
    later = SWITCHES | {"start": "02:00"}
    await act(hass, burdock_entry, "apply_schedule", charge=[later])
    answer = await guard.does("resume_charging")
    assert (answer["outcome"], answer["message"]) == ("unchanged", "Charging by schedule is armed.")
    assert (await act(hass, burdock_entry, "get_schedule"))["charge"] == [later]


async def test_a_battery_that_is_too_cold_is_not_armed_again_until_it_is_warmer(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    guard = User(hass, entry, "Guard")
    await guard.does("stop_charging")
    await bench.battery(temperature=-5)
    await poll(hass, entry)
    answer = await guard.does("resume_charging", until=hence(hours=1))
    assert (answer["outcome"], answer["title"]) == ("waiting", "Charging could not be armed again")
    assert "-5 °C" in answer["message"]
    assert order(hass)["what"] == "resume_charging"
    assert await bench.registers("holding", CONTROL_WORD) == DISARMED


async def test_the_draft_stays(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await set_entity(hass, "number", "set_value", "charge_window_1_stop_level", value=80)
    await act(hass, entry, "stop_charging")
    assert state(hass, "binary_sensor", "draft").state == "on"
