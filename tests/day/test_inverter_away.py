"""A card whose inverter does not run: it says why, shows what is known, and goes on by itself."""

from typing import Any, cast

import pytest
from homeassistant.config_entries import ConfigEntryDisabler, ConfigEntryState
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.day.day_facts import DayFacts
from custom_components.chargehand.day.day_sections import QUICK
from custom_components.chargehand.day.live_day import DAYS
from tests.bench.remote import Bench
from tests.calls import act, device_id
from tests.changes.test_schedule_monitor import poll
from tests.conftest import AddInverter
from tests.day.conftest import OPTIONS
from tests.day.test_subscribing import SECTIONS
from tests.day.watching import Card
from tests.teasel import TONIGHT

WANTED = [{"number": 1, **TONIGHT[0]}]


async def test_one_that_falls_silent_says_why_and_keeps_what_was_read(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, card: Card
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await card.watch(device_id(hass, entry))
    await bench.gateway(down=True)
    for _ in range(2):
        await poll(hass, entry)
    day = await card.until(
        lambda day: not day["inverter"]["available"] and day["expected"] is None and day["past"]["level"][-1] is None
    )
    assert "cannot be reached" in day["inverter"]["why"] or "connect" in day["inverter"]["why"]
    assert day["inverter"]["last_read"] == "2026-01-14T20:10:00+00:00"
    assert day["held"]["charge"] == WANTED
    await bench.gateway(down=False)
    await poll(hass, entry)
    day = await card.until(lambda day: day["inverter"]["available"] and day["expected"] is not None)
    assert day["inverter"]["why"] is None


async def test_one_that_is_reloaded_goes_on_by_itself(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, card: Card
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await card.watch(device_id(hass, entry))
    await hass.config_entries.async_unload(entry.entry_id)
    day = await card.until(lambda day: not day["inverter"]["available"])
    assert day["held"]["charge"] == WANTED
    assert day["limits"]["charge"]["count"] == 4
    assert day["status"]["state"] == "unconfirmed"
    assert day["undo"]["possible"] is False
    await hass.config_entries.async_setup(entry.entry_id)
    await card.until(lambda day: day["inverter"]["available"] and day["status"]["state"] == "confirmed")
    # It is followed again, not only shown once.
    await bench.battery(level=70)
    await poll(hass, entry)
    await card.until(lambda day: day["expected"] is not None and day["expected"]["level"][0] > 65)


async def test_one_that_has_not_answered_since_the_start_shows_what_was_kept(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, card: Card
) -> None:
    """The file of an earlier run is all there is; the gateway is away when Home Assistant starts."""
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await act(hass, entry, "plan_charge")
    await act(hass, entry, "draft_schedule", charge=[TONIGHT[0] | {"power": 1000}])
    await hass.config_entries.async_unload(entry.entry_id)
    await bench.gateway(down=True)
    await hass.config_entries.async_setup(entry.entry_id)
    assert entry.state is ConfigEntryState.SETUP_RETRY
    day = await card.watch(device_id(hass, entry))
    assert day.keys() == SECTIONS
    assert day["inverter"]["available"] is False
    assert day["inverter"]["why"] == entry.reason
    assert day["inverter"]["last_read"] is None
    assert day["held"] == {"charge": WANTED, "discharge": [], "armed": True}
    assert day["draft"]["charge"] == [WANTED[0] | {"power": 1000.0}]
    assert [one["start"][11:16] for one in day["acting"]["held"]] == ["01:00"]
    assert day["plan"]["target_level"] is not None
    assert day["prices"] != []
    assert day["expected"] is None
    assert day["status"]["text"].startswith("Not confirmed yet")
    await bench.gateway(down=False)
    await hass.config_entries.async_reload(entry.entry_id)
    await card.until(lambda day: day["inverter"]["available"] and day["expected"] is not None)


async def test_one_whose_map_has_gone_is_shown_without_its_windows(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, card: Card
) -> None:
    await hass.config_entries.async_unload(entry.entry_id)
    hass.config_entries.async_update_entry(entry, data={**entry.data, "register_map": "no_such_map"})
    await hass.config_entries.async_setup(entry.entry_id)
    day = await card.watch(device_id(hass, entry))
    assert (day["held"], day["limits"]) == (None, None)
    assert "no_such_map" in day["inverter"]["why"]


async def test_one_that_is_disabled_or_removed_says_so(hass: HomeAssistant, entry: MockConfigEntry, card: Card) -> None:
    await card.watch(device_id(hass, entry))
    await hass.config_entries.async_set_disabled_by(entry.entry_id, ConfigEntryDisabler.USER)
    await card.until(lambda day: (day["inverter"]["why"] or "").startswith("This inverter's entry is disabled"))
    await hass.config_entries.async_set_disabled_by(entry.entry_id, None)
    await card.until(lambda day: day["inverter"]["available"])
    await hass.config_entries.async_remove(entry.entry_id)
    day = await card.until(lambda day: day["inverter"]["why"] == "This inverter was removed from Home Assistant.")
    assert day["inverter"]["name"] == "Teasel T5"


async def test_a_house_that_knows_nothing_shows_windows_all_the_same(
    hass: HomeAssistant,
    bench: Bench,
    add_inverter: AddInverter,
    card: Card,
    caplog: pytest.LogCaptureFixture,
) -> None:
    """Neither battery nor tariff in the options, no history."""
    bare = await add_inverter(bench.port, allow_control=False)
    day = await card.watch(device_id(hass, bare))
    assert day["held"]["charge"][0]["start"] == "22:40"
    assert day["prices"] == []
    assert 'Fill in "Battery and demand"' in day["expected"]["why"]
    assert day["inverter"]["controls"] is False
    assert "Unexpected error making" not in caplog.text


async def test_a_history_that_is_short_has_no_expected_course(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, card: Card
) -> None:
    new = await add_inverter(bench.port, **OPTIONS)
    day = await card.watch(device_id(hass, new))
    assert day["expected"]["why"].endswith("It takes seven days of history.")
    assert day["prices"] != []


async def test_a_day_that_cannot_be_made_is_refused_and_asked_for_again(
    hass: HomeAssistant, entry: MockConfigEntry, card: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a result the card would wait for a first answer that never comes."""

    def fails(_facts: DayFacts) -> None:
        raise RuntimeError("no plan can be made data")

    with monkeypatch.context() as broken:
        broken.setitem(cast("dict[str, Any]", QUICK), "plan", fails)
        with pytest.raises(AssertionError, match="unknown_error"):
            await card.watch(device_id(hass, entry))
    assert hass.data[DAYS] == {}
    day = await card.watch(device_id(hass, entry))
    assert day["held"]["charge"][0]["start"] == "22:40"
