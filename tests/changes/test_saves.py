"""An inverter that acts on what it was told to save: what is told as confirmed is what it acts on."""

from collections.abc import AsyncIterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.schedule.commit import NotTaken, Uncertain
from custom_components.chargehand.core.schedule.request import ScheduleRequest, WindowRequest
from tests.calls import act, record_events
from tests.conftest import AddInverter
from tests.core.schedule.quick_inverter import PATIENCE
from tests.plain_map import add_plain, plain_inverter

from .saving_device import DECLARED, LATER, MAP, NIGHT, SAVE, UNLOCK, SavingDevice, saving_device
from .test_schedule_monitor import issue, poll

LATER_ASKED = [{"start": "23:40", "end": "03:20", "power": 2500}]
MAY_HAVE_ACTED, NEVER = 4, 3
"""Exceptions after which a write may have been carried out, and will never be (Modbus Application Protocol V1.1b3, section 7)."""


@pytest.fixture
def declared() -> frozenset[int]:
    return DECLARED | {91}


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    return hass_tmp_config_dir


@pytest.fixture
async def device(socket_enabled: None) -> AsyncIterator[SavingDevice]:
    async with saving_device() as serving:
        yield serving


@pytest.fixture
async def entry(hass: HomeAssistant, add_inverter: AddInverter, device: SavingDevice) -> MockConfigEntry:
    return await add_plain(hass, add_inverter, MAP, device.plain)


def status(entry: MockConfigEntry) -> str:
    return str(entry.runtime_data.monitor.shown.status)


def acts_on(device: SavingDevice) -> dict[int, int]:
    return device.saves_of(NIGHT)


async def reload(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    entry.runtime_data.inverter.commit_rules.patience = PATIENCE


async def test_a_schedule_is_unlocked_written_read_back_and_saved(
    hass: HomeAssistant, entry: MockConfigEntry, device: SavingDevice
) -> None:
    told = record_events(hass, "chargehand_schedule", "message")
    done = await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    assert (done["outcome"], done["saved"]) == ("confirmed", True)
    assert acts_on(device) == LATER
    first, *changed, last = device.written
    assert (first, last) == (UNLOCK, UNLOCK) or last == SAVE
    assert set(changed) <= {51, 52, 54, UNLOCK, SAVE}
    assert device.written[-1] == SAVE
    assert "confirmed and saved in" in told[-1]
    again = await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    assert (again["outcome"], again["saved"]) == ("unchanged", False)


async def test_what_is_not_proven_to_be_saved_is_never_told_as_confirmed(
    hass: HomeAssistant, entry: MockConfigEntry, device: SavingDevice
) -> None:
    told = record_events(hass, "chargehand_schedule", "message")
    device.refuses_save = MAY_HAVE_ACTED
    with pytest.raises(HomeAssistantError, match="has not confirmed that it is saved"):
        await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    assert "holds the new schedule, but the inverter has not confirmed" in told[-1]
    assert acts_on(device) == NIGHT
    assert status(entry) == "unconfirmed"
    assert issue(hass, entry, "schedule_uncertain") is not None
    for _ in range(2):
        await poll(hass, entry)
        assert status(entry) == "unconfirmed"
    with pytest.raises(HomeAssistantError, match="has not confirmed that it is saved"):
        await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    device.refuses_save = None
    done = await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    assert done["outcome"] in {"confirmed", "unchanged"}
    assert acts_on(device) == LATER
    assert status(entry) == "confirmed"
    assert issue(hass, entry, "schedule_uncertain") is None


async def test_a_later_poll_saves_what_an_earlier_start_has_left_unsaved(
    hass: HomeAssistant, entry: MockConfigEntry, device: SavingDevice
) -> None:
    device.refuses_save = MAY_HAVE_ACTED
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    hass.config_entries.async_update_entry(entry, options={**entry.options, "allow_control": False})
    device.refuses_save = None
    await reload(hass, entry)
    written = len(device.written)
    await poll(hass, entry)
    assert status(entry) == "unconfirmed"
    assert len(device.written) == written, "control is not allowed"
    assert acts_on(device) == NIGHT
    assert "has not confirmed that it saved" in (entry.runtime_data.monitor.shown.what or "")
    hass.config_entries.async_update_entry(entry, options={**entry.options, "allow_control": True})
    await reload(hass, entry)
    await poll(hass, entry)
    assert acts_on(device) == LATER
    assert status(entry) == "confirmed"


async def test_a_save_that_is_refused_puts_the_earlier_schedule_back(
    hass: HomeAssistant, entry: MockConfigEntry, device: SavingDevice
) -> None:
    await act(hass, entry, "keep_schedule")
    device.refuses_save = NEVER
    with pytest.raises(HomeAssistantError, match="refused to save it"):
        await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    assert acts_on(device) == NIGHT
    assert {at: device.held[at] for at in NIGHT} == NIGHT
    assert status(entry) == "confirmed"


async def test_an_inverter_that_restarts_before_the_save_is_found_out(
    hass: HomeAssistant, entry: MockConfigEntry, device: SavingDevice
) -> None:
    device.refuses_save = MAY_HAVE_ACTED
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    told = record_events(hass, "chargehand_schedule", "message")
    device.restart()
    device.refuses_save = None
    await reload(hass, entry)
    await poll(hass, entry)
    assert acts_on(device) == NIGHT
    assert entry.runtime_data.storage.unfinished is None
    assert status(entry) == "confirmed"
    assert "earlier schedule again" in told[-1]


async def test_to_keep_what_is_there_is_to_save_it(
    hass: HomeAssistant, entry: MockConfigEntry, device: SavingDevice
) -> None:
    device.refuses_save = MAY_HAVE_ACTED
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    with pytest.raises(HomeAssistantError, match="has not confirmed that it is saved"):
        await act(hass, entry, "keep_schedule")
    assert status(entry) == "unconfirmed"
    device.refuses_save = None
    await act(hass, entry, "keep_schedule")
    assert acts_on(device) == LATER
    assert status(entry) == "confirmed"


@pytest.mark.usefixtures("socket_enabled")
async def test_an_earlier_schedule_is_saved_again_where_the_change_may_have_been(
    tmp_path: Path, device: SavingDevice
) -> None:
    """The change acts once 90 is written; 91, which is to keep it, is refused. What acts then has to be the earlier schedule again."""
    kept = "schedule:\n  before_write: [{holding: 80, write: 0xA5A5, reads: 1, lasts: 60}]\n"
    both = "  after_write: [{holding: 90, write: 1, activates: true}, {holding: 91, write: 1}]\n"
    start, end = MAP.index("schedule:"), MAP.index("  charge:")
    real = device.refuse
    device.plain.refuses = lambda request: NEVER if request.writes and request.first == 91 else real(request)
    later = ScheduleRequest(charge=[WindowRequest(start="23:40", end="03:20", power=2500.0)])
    async with plain_inverter(tmp_path, MAP[:start] + kept + both + MAP[end:], device.plain) as inverter:
        with pytest.raises(Uncertain, match="save_refused"):
            await inverter.apply(later)
    assert device.written.count(SAVE) >= 2
    assert {at: device.held[at] for at in NIGHT} == NIGHT
    assert acts_on(device) == NIGHT


async def test_a_schedule_that_is_there_already_is_saved_unless_it_is_known_to_be(
    hass: HomeAssistant, entry: MockConfigEntry, device: SavingDevice
) -> None:
    await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    device.plain.registers["holding"] |= NIGHT
    await poll(hass, entry)
    assert status(entry) == "changed_elsewhere"
    device.saved |= NIGHT
    device.plain.registers["holding"] |= LATER
    device.refuses_save = MAY_HAVE_ACTED
    with pytest.raises(HomeAssistantError, match="has not confirmed that it is saved"):
        await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    await poll(hass, entry)
    assert status(entry) == "unconfirmed", "another hand has saved its own"
    device.refuses_save = None
    done = await act(hass, entry, "apply_schedule", charge=LATER_ASKED)
    assert acts_on(device) == LATER
    assert (done["registers_written"], status(entry)) == (0, "confirmed")
    assert entry.runtime_data.storage.previous != entry.runtime_data.storage.confirmed


# ---- a control and the clock


@pytest.mark.usefixtures("socket_enabled")
async def test_a_control_is_saved_also_where_an_earlier_save_was_lost(tmp_path: Path, device: SavingDevice) -> None:
    async with plain_inverter(tmp_path, MAP, device.plain) as inverter:
        device.refuses_save = NEVER
        with pytest.raises(NotTaken, match="save_refused"):
            await inverter.set_control("buzzer", True)
        assert (device.held[40], device.saved[40]) == (0, 0)
        device.refuses_save = None
        device.plain.requests.clear()
        assert await inverter.set_control("buzzer", True) is True
        assert device.written == [UNLOCK, 40, UNLOCK, SAVE]
        assert device.saved[40] == 1
        device.refuses_save = MAY_HAVE_ACTED
        with pytest.raises(Uncertain, match="not_saved"):
            await inverter.set_control("buzzer", False)
        assert device.saved[40] == 1
        device.refuses_save = None
        assert await inverter.set_control("buzzer", False) is False
        assert device.saved[40] == 0
        written = len(device.written)
        await inverter.set_control("buzzer", False)
        assert len(device.written) == written, "it is saved already"
        async with plain_inverter(tmp_path, MAP, device.plain) as later:
            await later.set_control("buzzer", False)
        assert device.written[written:] == [UNLOCK, SAVE], "a later start cannot know that"
        device.refuses_save = NEVER
        with pytest.raises(NotTaken, match="save_refused"):
            await inverter.set_control("buzzer", True)
        assert device.held[40] == 0


@pytest.mark.usefixtures("socket_enabled")
async def test_the_clock_is_unlocked_written_and_saved(tmp_path: Path, device: SavingDevice) -> None:
    async with plain_inverter(tmp_path, MAP, device.plain) as inverter:
        device.hold(dict(zip(range(42, 48), (20, 1, 2, 3, 4, 5), strict=True)))
        _, after = await inverter.set_clock()
        assert abs(after) <= 2
        assert device.written == [UNLOCK, 42, UNLOCK, SAVE]
        assert device.saved[42] == datetime.now(tz=inverter.reader.zone).year - 2000
        device.refuses_save = MAY_HAVE_ACTED
        with pytest.raises(NotTaken, match="not_saved"):
            await inverter.set_clock()


async def test_half_of_a_schedule_is_put_back_before_a_control_is_saved(
    hass: HomeAssistant, entry: MockConfigEntry, device: SavingDevice
) -> None:
    """The save of the control would let that half act."""
    real, asked = device.refuse, [0]

    def refuse(request: Any) -> int | None:
        asked[0] += request.writes and 51 <= request.first <= 54
        return MAY_HAVE_ACTED if request.writes and asked[0] > 1 else real(request)

    device.plain.refuses = refuse
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=[{"start": "23:40", "end": "02:20", "power": 2500}])
    held = {at: device.held[at] for at in NIGHT}
    assert held not in (NIGHT, {**NIGHT, 51: 0x1728, 54: 2500}), "half of it"
    device.plain.refuses = real
    await entry.runtime_data.inverter.set_control("buzzer", True)
    assert device.saved[40] == 1
    assert acts_on(device) == NIGHT
