"""An inverter is identified by its entry, never by a place on the network, and cannot be added twice."""

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from homeassistant.config_entries import (
    SOURCE_RECONFIGURE,
    SOURCE_USER,
    ConfigEntry,
    ConfigEntryState,
    ConfigFlowContext,
    ConfigFlowResult,
)
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers import entity_registry as er
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.bench.teasel import SERIAL_NUMBER
from tests.calls import act, state
from tests.conftest import QUICK, SERIAL, AddInverter
from tests.teasel import TONIGHT

TEASEL = Path(__file__).parents[2] / "custom_components" / "chargehand" / "maps" / "teasel_t5.yaml"
NAMED = TEASEL.read_text()
NAMELESS = "\n".join(line for line in NAMED.splitlines() if "serial_number:" not in line)


@pytest.fixture
def own_map(hass: HomeAssistant) -> Path:
    """Write a map of the user's own, without a serial number, and return its file."""
    path = Path(hass.config.path("chargehand", "mine.yaml"))
    path.parent.mkdir(exist_ok=True)
    path.write_text(NAMELESS)
    return path


@pytest.fixture
async def second_bench(socket_enabled: None) -> AsyncIterator[Bench]:
    async with await Bench.start(**QUICK) as running:
        yield running


async def form(hass: HomeAssistant, port: int, **changed: object) -> ConfigFlowResult:
    """Fill in the first form and submit it."""
    started = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    data = {"host": "127.0.0.1", "port": port, "framing": "tcp", "register_map": "teasel_t5"} | changed
    return await hass.config_entries.flow.async_configure(started["flow_id"], data)


async def reconfigured(hass: HomeAssistant, entry: ConfigEntry, **changed: object) -> ConfigFlowResult:
    context = ConfigFlowContext(source=SOURCE_RECONFIGURE, entry_id=entry.entry_id)
    started = await hass.config_entries.flow.async_init("chargehand", context=context)
    done = await hass.config_entries.flow.async_configure(started["flow_id"], {**entry.data, **changed})
    await hass.async_block_till_done()
    return done


async def reload(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()


def write(own_map: Path, text: str) -> None:
    """Change the map's file."""
    own_map.write_text(text)


def registered(hass: HomeAssistant) -> dict[str, tuple[str, str]]:
    """Return the ids and unique ids of the registry's entities."""
    return {one.entity_id: (one.id, one.unique_id) for one in er.async_get(hass).entities.values()}


def assert_shows_owner(result: ConfigFlowResult, title: str) -> None:
    """Check that the form is still open, and names the entry that has the inverter."""
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == {"base": "already_added"}
    assert result["description_placeholders"] is not None
    assert result["description_placeholders"]["detail"] == title


async def test_one_without_a_serial_number_is_known_by_its_entry_wherever_it_is(
    hass: HomeAssistant, bench: Bench, second_bench: Bench, own_map: Path
) -> None:
    shown = await form(hass, bench.port, register_map="mine")
    added = (await hass.config_entries.flow.async_configure(shown["flow_id"], {"allow_control": True}))["result"]
    await hass.async_block_till_done()
    assert added.unique_id is None
    before = registered(hass)
    assert len(before) > 60
    assert all(unique_id.startswith(f"{added.entry_id}_") for _, unique_id in before.values())
    (device,) = dr.async_entries_for_config_entry(dr.async_get(hass), added.entry_id)
    assert (await reconfigured(hass, added, port=second_bench.port))["reason"] == "reconfigure_successful"
    assert added.state is ConfigEntryState.LOADED
    assert registered(hass) == before
    assert dr.async_entries_for_config_entry(dr.async_get(hass), added.entry_id) == [device]
    await hass.config_entries.async_unload(added.entry_id)


async def test_one_that_learns_its_serial_number_keeps_its_entities(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, own_map: Path
) -> None:
    entry = await add_inverter(bench.port, register_map="mine", unique_id=None)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    before = registered(hass)
    (device,) = dr.async_entries_for_config_entry(dr.async_get(hass), entry.entry_id)
    assert device.serial_number is None
    write(own_map, NAMED)
    await reload(hass, entry)
    assert entry.unique_id == SERIAL
    assert registered(hass) == before
    (now,) = dr.async_entries_for_config_entry(dr.async_get(hass), entry.entry_id)
    assert (now.id, now.serial_number) == (device.id, SERIAL)
    assert state(hass, "sensor", "schedule_status").state == "confirmed", "what is kept of it is its own"
    await bench.set(SERIAL_NUMBER, [0x5858] * 8, table="input")
    await reload(hass, entry)
    assert entry.state is ConfigEntryState.SETUP_ERROR, "from then on another one is not taken for it"


async def test_one_that_is_reconfigured_with_a_map_that_names_it_has_its_serial_number(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, own_map: Path
) -> None:
    entry = await add_inverter(bench.port, register_map="mine", unique_id=None)
    before = registered(hass)
    assert (await reconfigured(hass, entry, register_map="teasel_t5"))["reason"] == "reconfigure_successful"
    assert (entry.unique_id, entry.state) == (SERIAL, ConfigEntryState.LOADED)
    assert registered(hass) == before


async def test_a_serial_number_that_is_a_number_is_one(
    hass: HomeAssistant, bench: Bench, own_map: Path, add_inverter: AddInverter
) -> None:
    write(own_map, NAMED.replace("serial_number: {input: 406, type: text, length: 8}", "serial_number: {input: 406}"))
    entry = await add_inverter(bench.port, register_map="mine", unique_id=None)
    assert entry.unique_id == str(0x5435), "T5 in ASCII, the first two letters of the serial number"
    await reload(hass, entry)
    assert entry.state is ConfigEntryState.LOADED


async def test_the_same_serial_number_elsewhere_is_refused_with_its_owner(
    hass: HomeAssistant, entry: MockConfigEntry, second_bench: Bench
) -> None:
    hass.config_entries.async_update_entry(entry, title="Cellar")
    assert_shows_owner(await form(hass, second_bench.port), "Cellar")


@pytest.mark.parametrize("unit", [{}, {"unit": 1}], ids=["by its map", "given"])
@pytest.mark.parametrize("of_the_other", [{}, {"unit": 1}], ids=["by its map", "given"])
async def test_the_same_place_is_refused_with_its_owner(
    hass: HomeAssistant,
    bench: Bench,
    add_inverter: AddInverter,
    own_map: Path,
    unit: dict[str, int],
    of_the_other: dict[str, int],
) -> None:
    entry = await add_inverter(bench.port, register_map="mine", unique_id=None, **of_the_other)
    hass.config_entries.async_update_entry(entry, title="Cellar")
    assert_shows_owner(await form(hass, bench.port, register_map="mine", **unit), "Cellar")
    assert_shows_owner(await form(hass, bench.port, register_map="teasel_t5", **unit), "Cellar")


async def test_reconfigure_does_not_move_one_to_where_another_is(
    hass: HomeAssistant, bench: Bench, second_bench: Bench, add_inverter: AddInverter, own_map: Path
) -> None:
    first = await add_inverter(bench.port, register_map="mine", unique_id=None)
    second = await add_inverter(second_bench.port, register_map="mine", unique_id=None)
    hass.config_entries.async_update_entry(second, title="Cellar")
    assert_shows_owner(await reconfigured(hass, first, port=second_bench.port), "Cellar")
    assert first.data["port"] == bench.port
    assert (await reconfigured(hass, first))["reason"] == "reconfigure_successful"


async def test_another_unit_on_the_gateway_is_another_inverter(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter, own_map: Path
) -> None:
    async with await Bench.start(**QUICK, units=(1, 2)) as bench:
        await add_inverter(bench.port, register_map="mine", unique_id=None, unit=1)
        assert (await form(hass, bench.port, register_map="mine", unit=2))["step_id"] == "confirm"


async def test_an_inverter_that_took_the_place_of_another_can_be_added(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """Its serial number shows that it is another one, and the entry of the old one says so."""
    await bench.set(SERIAL_NUMBER, [0x5858] * 8, table="input")
    assert (await form(hass, bench.port))["step_id"] == "confirm"


async def test_two_forms_for_one_inverter_add_it_once(
    hass: HomeAssistant, bench: Bench, own_map: Path, london: None
) -> None:
    one, other = [await form(hass, bench.port, register_map="mine") for _ in range(2)]
    assert one["step_id"] == other["step_id"] == "confirm"
    flow = hass.config_entries.flow
    added = (await flow.async_configure(one["flow_id"], {"allow_control": False}))["result"]
    hass.config_entries.async_update_entry(added, title="Cellar")
    done = await flow.async_configure(other["flow_id"], {"allow_control": False})
    assert (done["type"], done["reason"]) == (FlowResultType.ABORT, "already_added")
    assert done["description_placeholders"] == {"inverter": "Cellar"}
    await hass.config_entries.async_unload(added.entry_id)


async def test_a_serial_number_that_another_entry_has_is_not_taken_over(
    hass: HomeAssistant, bench: Bench, second_bench: Bench, add_inverter: AddInverter, own_map: Path
) -> None:
    """One inverter in two entries would have two masters of its schedule."""
    named = await add_inverter(bench.port)
    hass.config_entries.async_update_entry(named, title="Cellar")
    second = await add_inverter(second_bench.port, register_map="mine", unique_id=None)
    write(own_map, NAMED)
    await reload(hass, second)
    assert second.state is ConfigEntryState.SETUP_ERROR
    assert second.unique_id is None
    assert second.reason is not None
    assert "Cellar" in second.reason
