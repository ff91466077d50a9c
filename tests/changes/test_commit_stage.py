"""A commit's stages as they happen: what whoever listens is told, and when."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.changes import CommitStage
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.calls import act, apply_draft, hurry, set_entity, state
from tests.changes.test_schedule_monitor import poll
from tests.teasel import TONIGHT, WANTED, held

DONE = ["checking", "writing", "reading_back", "confirmed"]


@pytest.fixture
def told(hass: HomeAssistant, entry: MockConfigEntry) -> list[CommitStage | None]:
    """What a listener is told from now on."""
    stages: list[CommitStage | None] = []
    entry.runtime_data.monitor.commit_stages.listen(stages.append)
    return stages


def names(stages: list[CommitStage | None]) -> list[str | None]:
    return [None if one is None else str(one.stage) for one in stages]


async def test_a_commit_tells_each_stage_at_once_and_ends_confirmed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, told: list[CommitStage | None]
) -> None:
    status: list[str] = []
    listen = entry.runtime_data.monitor.commit_stages.listen
    listen(lambda _: status.append(state(hass, "sensor", "schedule_status").state))
    before = dt_util.utcnow()
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert names(told) == DONE
    assert status == ["never_confirmed", "never_confirmed", "changing", "confirmed"], "what listens is told meanwhile"
    last = told[-1]
    assert last is not None
    assert last.seconds == receipt["seconds"]
    assert last.text == (
        f"Read back and confirmed after {receipt['seconds']:.1f} s: charge window 1 now 01:00–05:00 at 3000 W to 95 % "
        "(was 22:40–02:20 at 2000 W to 100 %)"
    )
    assert [one.seconds for one in told[:-1] if one] == [None] * 3
    times = [one.since for one in told if one]
    assert times == sorted(times)
    assert before <= times[0] <= times[-1] <= dt_util.utcnow() + timedelta(seconds=1)
    assert entry.runtime_data.monitor.commit_stages.now is last, "and it stays to be shown"


async def test_a_schedule_that_is_held_already_is_confirmed_after_checking(
    hass: HomeAssistant, entry: MockConfigEntry, told: list[CommitStage | None]
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    told.clear()
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    # What the earlier commit came to is shown until the next begins, and that one begins by checking.
    assert names([one for one in told if one is not None]) == ["checking", "confirmed"]
    assert told[-1] is not None
    assert told[-1].text == "The inverter holds this schedule already, so nothing was written"


async def test_one_that_is_refused_fails_with_the_words_of_the_error_and_writes_nothing(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, told: list[CommitStage | None]
) -> None:
    with pytest.raises(HomeAssistantError) as refused:
        await act(hass, entry, "apply_schedule", charge=[{**TONIGHT[0], "power": 50_000}])
    assert names(told) == ["checking", "failed"]
    assert told[-1] is not None
    assert told[-1].text == str(refused.value)
    assert told[-1].seconds is not None
    assert "50000" in told[-1].text


@pytest.mark.parametrize(
    ("faults", "key"),
    [
        ([{"kind": "write_ignored", "count": None}], "schedule_restored"),
        (
            [
                {"kind": "answer_lost", "only": "write"},
                {"kind": "no_answer", "only": "read", "nth": 3, "count": None},
            ],
            "schedule_uncertain",
        ),
    ],
    ids=["not_taken", "uncertain"],
)
async def test_one_that_is_not_proven_fails_with_the_words_of_the_error(
    hass: HomeAssistant,
    bench: Bench,
    entry: MockConfigEntry,
    told: list[CommitStage | None],
    faults: list[dict[str, object]],
    key: str,
) -> None:
    hurry(entry)
    for fault in faults:
        await bench.fault(**fault)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert failed.value.translation_key == key
    assert names(told)[:3] == DONE[:3]
    assert names(told)[-1] == "failed"
    assert told[-1] is not None
    assert told[-1].text == str(failed.value)


async def test_a_line_that_is_down_fails_before_anything_is_written(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, told: list[CommitStage | None]
) -> None:
    hurry(entry)
    await bench.fault("no_answer", only="read", count=None)
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert names(told) == ["checking", "failed"]


async def test_the_draft_goes_through_the_same_stages(
    hass: HomeAssistant, entry: MockConfigEntry, told: list[CommitStage | None]
) -> None:
    await set_entity(hass, "number", "set_value", "charge_window_1_power", value=1234)
    assert told == []
    await apply_draft(hass)
    assert names(told) == DONE


async def test_the_end_of_a_commit_is_shown_until_something_else_happens_to_the_schedule(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, told: list[CommitStage | None]
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await poll(hass, entry)
    assert names(told) == DONE
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    assert told[-1] is None
    assert entry.runtime_data.monitor.commit_stages.now is None


async def test_a_listener_that_raises_disturbs_neither_the_commit_nor_the_others(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, caplog: pytest.LogCaptureFixture
) -> None:
    def fails(_stage: CommitStage | None) -> None:
        raise RuntimeError("watching")

    stages = entry.runtime_data.monitor.commit_stages
    stages.listen(fails)
    told: list[CommitStage | None] = []
    stop: Callable[[], None] = stages.listen(told.append)
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert receipt["outcome"] == "confirmed"
    assert await held(bench) == WANTED
    assert names(told) == DONE
    assert caplog.text.count("RuntimeError: watching") == len(DONE)
    stop()
    await act(hass, entry, "restore_schedule")
    assert names(told) == DONE, "who has stopped listening is told nothing"
