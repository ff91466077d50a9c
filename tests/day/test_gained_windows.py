"""A card of an inverter whose map has gained windows since its last changes: what is kept says nothing of those."""

from pathlib import Path

from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.calls import act, device_id
from tests.changes.test_own_maps import change, own_map, reload  # noqa: F401 - a fixture
from tests.changes.test_schedule_monitor import poll
from tests.conftest import AddInverter
from tests.day.watching import Card
from tests.teasel import LATER, LATER_HELD, TONIGHT, WANTED, held


async def gained(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, own_map: Path) -> MockConfigEntry:  # noqa: F811
    """An inverter with two changes behind it, whose map has gained a window since; not loaded anew yet."""
    change(own_map, schedule={"charge": {"count": 1}})
    entry = await add_inverter(bench.port, register_map="mine")
    await act(hass, entry, "apply_schedule", charge=LATER)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert await held(bench) == WANTED
    change(own_map, schedule={"charge": {"count": 2}})
    return entry


async def test_undo_says_what_it_puts_back_and_puts_that_back(
    hass: HomeAssistant,
    bench: Bench,
    add_inverter: AddInverter,
    own_map: Path,  # noqa: F811
    card: Card,
) -> None:
    entry = await gained(hass, bench, add_inverter, own_map)
    await reload(hass, entry)
    await card.watch(device_id(hass, entry))
    assert card.day["limits"]["charge"]["count"] == 2
    assert card.day["undo"] == {
        "possible": True,
        "text": "charge 02:10–06:20 1800 W to 90 %; discharge never; armed",
    }
    await act(hass, entry, "restore_schedule")
    assert await held(bench) == LATER_HELD


async def test_while_the_inverter_does_not_run_nothing_is_said_of_windows_that_were_never_read(
    hass: HomeAssistant,
    bench: Bench,
    add_inverter: AddInverter,
    own_map: Path,  # noqa: F811
    card: Card,
) -> None:
    entry = await gained(hass, bench, add_inverter, own_map)
    await hass.config_entries.async_unload(entry.entry_id)
    await card.watch(device_id(hass, entry))
    day = await card.until(lambda day: day["limits"] is not None)
    assert day["limits"]["charge"]["count"] == 2
    assert (day["held"], day["undo"]) == (None, {"possible": False, "text": None})


async def test_what_another_hand_has_made_is_compared_in_all_windows(
    hass: HomeAssistant,
    bench: Bench,
    add_inverter: AddInverter,
    own_map: Path,  # noqa: F811
    card: Card,
) -> None:
    change(own_map, schedule={"charge": {"count": 1}})
    entry = await add_inverter(bench.port, register_map="mine")
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    change(own_map, schedule={"charge": {"count": 2}})
    await reload(hass, entry)
    await bench.set(CHARGE[0].power, [500])
    await poll(hass, entry)
    await card.watch(device_id(hass, entry))
    foreign = card.day["foreign"]
    assert foreign["changes"] == ["charge window 1 power 3000 W to 500 W"]
    assert (foreign["mine"]["charge"][0]["power"], foreign["theirs"]["charge"][0]["power"]) == (3000.0, 500.0)
    answer = await act(hass, entry, "restore_schedule", which="confirmed")
    assert answer["outcome"] == "confirmed"
    assert await held(bench) == WANTED
