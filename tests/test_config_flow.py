"""Adding an inverter: nothing is stored before it has answered, and every fault is named."""

import asyncio
import re
import socket
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from unittest.mock import patch

import pytest
from homeassistant.config_entries import SOURCE_USER, ConfigFlowResult
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import entity_registry as er
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.inverter.line_share import LineShare
from custom_components.chargehand.forms import host_errors
from tests.bench.remote import Bench
from tests.bench.teasel import SERIAL_NUMBER
from tests.conftest import QUICK, SERIAL, AddInverter
from tests.teasel import INPUT_AT

TEASEL = Path(__file__).parents[1] / "custom_components" / "chargehand" / "maps" / "teasel_t5.yaml"


async def submit(hass: HomeAssistant, port: int, **changed: object) -> ConfigFlowResult:
    """Fill in the first form and submit it."""
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    assert form["type"] is FlowResultType.FORM
    assert form["step_id"] == "user"
    data = {"host": "127.0.0.1", "port": port, "framing": "tcp", "register_map": "teasel_t5"} | changed
    return await hass.config_entries.flow.async_configure(form["flow_id"], data)


async def user_map(hass: HomeAssistant, tmp_path: Path, name: str, text: str) -> None:
    """Put a register map of one's own into the configuration folder."""
    hass.config.config_dir = str(tmp_path)
    (tmp_path / "chargehand").mkdir(exist_ok=True)
    (tmp_path / "chargehand" / f"{name}.yaml").write_text(text)


async def test_an_inverter_is_found_shown_and_added(hass: HomeAssistant, bench: Bench, london: None) -> None:
    form = await submit(hass, bench.port, host=" 127.0.0.1 ")
    assert form["step_id"] == "confirm"
    shown = form["description_placeholders"]
    assert shown is not None
    assert (shown["maker"], shown["model"], shown["serial"]) == ("Teasel", "T5", SERIAL)
    level = (await bench.registers("input", INPUT_AT["battery_level"]))[0]
    assert shown["level"] == f"{level} %"
    assert float(shown["round_trip"].removesuffix(" ms")) > 0
    assert shown["framing"] == "Modbus TCP"
    assert 0 <= int(shown["share"].removesuffix(" %")) < 50
    assert not hass.config_entries.async_entries("chargehand")
    done = await hass.config_entries.flow.async_configure(form["flow_id"], {"allow_control": False})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    entry = done["result"]
    assert entry.unique_id == SERIAL
    assert entry.title == "Teasel T5"
    assert entry.data == {"host": "127.0.0.1", "port": bench.port, "framing": "tcp", "register_map": "teasel_t5"}
    assert entry.options == {"allow_control": False, "set_clock_seconds": 0}
    await hass.async_block_till_done()
    assert await hass.config_entries.async_unload(entry.entry_id)
    assert not [request for request in await bench.journal() if request["function"] in (6, 16)]


async def test_a_port_and_a_unit_are_whole_numbers(hass: HomeAssistant, bench: Bench) -> None:
    form = await submit(hass, bench.port, unit=1.5)
    assert form["errors"] == {"unit": "not_whole"}
    form = await submit(hass, bench.port + 0.5, unit=1)
    assert form["errors"] == {"port": "not_whole"}


async def test_a_copy_of_a_map_is_told_from_the_one_it_was_made_from(
    hass: HomeAssistant, bench: Bench, tmp_path: Path
) -> None:
    await user_map(hass, tmp_path, "mine", TEASEL.read_text())
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": "user"})
    assert form["data_schema"] is not None
    maps = form["data_schema"].schema["register_map"].config["options"]
    labels = [one["label"] for one in maps if one["value"] in {"mine", "teasel_t5"}]
    assert labels == ["Teasel T5 (bench inverter) (mine)", "Teasel T5 (bench inverter) (teasel_t5)"]
    assert len({one["label"] for one in maps}) == len(maps)
    hass.config_entries.flow.async_abort(form["flow_id"])


async def test_control_is_not_allowed_unless_asked_for(hass: HomeAssistant, bench: Bench) -> None:
    form = await submit(hass, bench.port)
    schema = form["data_schema"]
    assert schema is not None
    assert schema({}) == {"allow_control": False, "set_clock_seconds": 0, "blueprints": True}
    hass.config_entries.flow.async_abort(form["flow_id"])


async def test_the_same_inverter_is_added_once(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    again = await submit(hass, bench.port)
    assert again["errors"] == {"base": "already_added"}
    assert again["description_placeholders"] is not None
    assert again["description_placeholders"]["detail"] == entry.title


async def test_a_closed_port_is_told_and_the_form_can_be_mended(
    hass: HomeAssistant, bench: Bench, unused_tcp_port: int
) -> None:
    form = await submit(hass, unused_tcp_port)
    assert form["errors"] == {"port": "port_closed"}
    form = await hass.config_entries.flow.async_configure(
        form["flow_id"], {"host": "127.0.0.1", "port": bench.port, "framing": "tcp", "register_map": "teasel_t5"}
    )
    assert form["step_id"] == "confirm"
    hass.config_entries.flow.async_abort(form["flow_id"])


@pytest.mark.parametrize(
    ("host", "bare"),
    [
        ("http://127.0.0.1", "127.0.0.1"),
        ("https://gateway.lan/setup?page=2", "gateway.lan"),
        ("127.0.0.1:502", "127.0.0.1"),
        ("[::1]:502", "::1"),
    ],
)
async def test_an_address_with_more_than_a_host_in_it_is_told_with_what_it_should_be(
    hass: HomeAssistant, socket_enabled: None, unused_tcp_port: int, host: str, bare: str
) -> None:
    form = await submit(hass, unused_tcp_port, host=host)
    assert form["errors"] == {"host": "host_not_bare"}
    assert form["description_placeholders"] is not None
    assert form["description_placeholders"]["detail"] == bare
    assert host_errors(bare) == ({}, ""), "an address of version 6 has colons of its own"


UNKNOWN = socket.gaierror(socket.EAI_NONAME, "Name or service not known")
NO_NAME = UnicodeEncodeError("idna", "x" * 64, 0, 63, "label too long")


@pytest.mark.parametrize(("host", "failure"), [("gateway.lan", UNKNOWN), ("x" * 64, NO_NAME)])
async def test_a_name_that_nobody_has_is_told_apart(
    hass: HomeAssistant, socket_enabled: None, unused_tcp_port: int, host: str, failure: Exception
) -> None:
    """The test tools ask no name server, so the answer is a stand-in: `socket.getaddrinfo`'s for an unknown and an impossible name."""
    with patch("socket.getaddrinfo", side_effect=failure):
        form = await submit(hass, unused_tcp_port, host=host)
    assert form["errors"] == {"host": "host_unknown"}
    assert form["description_placeholders"] is not None
    assert form["description_placeholders"]["detail"] == host


async def test_a_name_with_two_addresses_that_refuse_is_told_as_a_closed_port(
    hass: HomeAssistant, socket_enabled: None, unused_tcp_port_factory: Callable[[], int]
) -> None:
    ports = unused_tcp_port_factory(), unused_tcp_port_factory()
    found = [(socket.AF_INET, socket.SOCK_STREAM, 6, "", ("127.0.0.1", port)) for port in ports]
    with patch("socket.getaddrinfo", return_value=found):
        form = await submit(hass, ports[0], host="gateway.lan")
    assert form["errors"] == {"port": "port_closed"}


async def test_the_cause_of_a_failure_is_told_too_while_no_other_connection_is_tried(
    hass: HomeAssistant, entry: MockConfigEntry, bench: Bench
) -> None:
    """The form shares the gateway with the entry that cannot reach it: it waits before it connects again."""
    await bench.gateway(down=True)
    coordinator = entry.runtime_data
    coordinator.inverter.line.gateway.back_off.delay = 60.0
    for _ in range(2):
        await coordinator.async_refresh()
    assert coordinator.inverter.line.gateway.back_off.must_wait
    form = await submit(hass, bench.port)
    assert form["errors"] == {"port": "port_closed"}


async def test_a_gateway_that_drops_a_second_client_is_told_apart(hass: HomeAssistant, socket_enabled: None) -> None:
    async with await Bench.start(**QUICK, gateway="single") as bench:
        _, first = await asyncio.open_connection("127.0.0.1", bench.port)
        form = await submit(hass, bench.port)
        assert form["errors"] == {"base": "connection_refused_busy"}
        first.close()


async def test_a_unit_that_does_not_answer_is_told(hass: HomeAssistant, bench: Bench) -> None:
    form = await submit(hass, bench.port, unit=9)
    assert form["errors"] == {"base": "no_answer"}


async def test_the_other_framing_is_recognised(hass: HomeAssistant, socket_enabled: None) -> None:
    async with await Bench.start(**QUICK, framing="rtu_over_tcp") as bench:
        form = await submit(hass, bench.port)
        assert form["errors"] == {"framing": "wrong_framing"}
        form = await submit(hass, bench.port, framing="rtu_over_tcp")
        assert form["step_id"] == "confirm"
        hass.config_entries.flow.async_abort(form["flow_id"])


async def test_rtu_frames_on_a_modbus_tcp_gateway_are_recognised(hass: HomeAssistant, bench: Bench) -> None:
    form = await submit(hass, bench.port, framing="rtu_over_tcp")
    assert form["errors"] == {"framing": "wrong_framing"}


async def test_an_inverter_of_another_model_is_told(hass: HomeAssistant, bench: Bench) -> None:
    await bench.set(INPUT_AT["model_code"], [4000], table="input")
    form = await submit(hass, bench.port)
    assert form["errors"] == {"base": "other_inverter"}
    assert form["description_placeholders"] is not None
    assert "model_code 4000" in form["description_placeholders"]["detail"]


async def test_a_broken_map_is_told_with_line_and_key(hass: HomeAssistant, bench: Bench, tmp_path: Path) -> None:
    await user_map(hass, tmp_path, "mine", TEASEL.read_text().replace("max: 100, step", "max: 70000, step"))
    form = await submit(hass, bench.port, register_map="mine")
    assert form["errors"] == {"register_map": "map_invalid"}
    assert form["description_placeholders"] is not None
    lists = form["description_placeholders"]["lists"]
    assert "\n- mine.yaml:" in lists
    assert "controls.reserve_level.max" in lists


async def test_several_mistakes_of_a_map_are_a_list(hass: HomeAssistant, bench: Bench, tmp_path: Path) -> None:
    text = TEASEL.read_text().replace("max: 100, step", "max: 70000, step").replace("maker: Teasel", "maker: 5")
    await user_map(hass, tmp_path, "mine", text)
    form = await submit(hass, bench.port, register_map="mine")
    assert form["description_placeholders"] is not None
    head, *mistakes = form["description_placeholders"]["lists"].strip().split("\n- ")
    assert head.strip() == "**Mistakes in the register map:**"
    assert len(mistakes) == 2
    assert all(mistake.startswith("mine.yaml:") for mistake in mistakes)


async def test_a_map_without_any_reading_is_refused_on_the_form(
    hass: HomeAssistant, bench: Bench, tmp_path: Path
) -> None:
    head = "chargehand_map: 1\ntitle: Bare\nmaker: Nobody\nmodel: Nothing\nsource: invented\n"
    await user_map(hass, tmp_path, "bare", head + "readings: {}\n")
    form = await submit(hass, bench.port, register_map="bare")
    assert form["errors"] == {"register_map": "map_invalid"}


async def test_a_register_that_is_not_there_is_told_with_what_was_read_from_it(
    hass: HomeAssistant, bench: Bench, tmp_path: Path
) -> None:
    text = TEASEL.read_text()
    reading = "readings:\n  far_away: {input: 900, type: u16, name: Far away}\n"
    await user_map(hass, tmp_path, "far", text.replace("readings:\n", reading, 1))
    form = await submit(hass, bench.port, register_map="far")
    assert form["errors"] == {"base": "other_inverter"}
    assert form["description_placeholders"] is not None
    assert form["description_placeholders"]["detail"] == (
        "exception 02: the inverter refuses to read input 900, on reading far_away. "
        "These maps fit it: Teasel T5 (bench inverter)"
    )
    moved = re.sub(r"serial_number: {input: 406\b", "serial_number: {input: 900", text)
    assert moved != text
    await user_map(hass, tmp_path, "moved", moved)
    form = await submit(hass, bench.port, register_map="moved")
    assert form["errors"] == {"base": "other_inverter"}
    assert form["description_placeholders"] is not None
    assert form["description_placeholders"]["detail"].startswith(
        "exception 02: the inverter refuses to read input 900–907, on reading identity: model_code, firmware, serial_number"
    )


@pytest.fixture
async def second_bench(socket_enabled: None) -> AsyncIterator[Bench]:
    async with await Bench.start(**QUICK) as running:
        yield running


async def test_reconfigure_moves_to_another_gateway(
    hass: HomeAssistant, entry: MockConfigEntry, second_bench: Bench
) -> None:
    form = await entry.start_reconfigure_flow(hass)
    assert form["step_id"] == "reconfigure"
    done = await hass.config_entries.flow.async_configure(form["flow_id"], {**entry.data, "port": second_bench.port})
    assert done["reason"] == "reconfigure_successful"
    assert entry.data["port"] == second_bench.port
    await hass.async_block_till_done()
    assert entry.state.value == "loaded"


async def test_reconfigure_refuses_another_inverter(
    hass: HomeAssistant, entry: MockConfigEntry, second_bench: Bench
) -> None:
    await second_bench.set(SERIAL_NUMBER, [0x5858] * 8, table="input")
    before = dict(entry.data)
    form = await entry.start_reconfigure_flow(hass)
    done = await hass.config_entries.flow.async_configure(form["flow_id"], {**entry.data, "port": second_bench.port})
    assert done["reason"] == "other_inverter"
    assert entry.data == before


async def test_reconfigure_to_a_closed_port_keeps_the_entry(
    hass: HomeAssistant, entry: MockConfigEntry, unused_tcp_port: int
) -> None:
    before = dict(entry.data)
    form = await entry.start_reconfigure_flow(hass)
    form = await hass.config_entries.flow.async_configure(form["flow_id"], {**entry.data, "port": unused_tcp_port})
    assert form["errors"] == {"port": "port_closed"}
    assert entry.data == before
    hass.config_entries.flow.async_abort(form["flow_id"])


async def test_polling_options_are_kept_and_taken_up(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    menu = await hass.config_entries.options.async_init(entry.entry_id)
    assert menu["menu_options"] == ["polling", "control", "edits", "battery", "tariff", "data_logger", "automations"]
    form = await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": "polling"})
    form = await hass.config_entries.options.async_configure(form["flow_id"], {"fast_seconds": 30, "slow_seconds": 20})
    assert form["errors"] == {"base": "slow_below_fast"}
    done = await hass.config_entries.options.async_configure(form["flow_id"], {"fast_seconds": 30, "slow_seconds": 300})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done()
    assert entry.options == {"allow_control": True, "fast_seconds": 30, "slow_seconds": 300}
    assert entry.runtime_data.update_interval.total_seconds() == 30


async def test_options_that_are_as_they_were_do_not_disturb_the_inverter(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    for fast_seconds, started_anew in ((30, True), (30, False)):
        running = entry.runtime_data
        menu = await hass.config_entries.options.async_init(entry.entry_id)
        form = await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": "polling"})
        done = await hass.config_entries.options.async_configure(
            form["flow_id"], {"fast_seconds": fast_seconds, "slow_seconds": 300}
        )
        assert done["type"] is FlowResultType.CREATE_ENTRY
        await hass.async_block_till_done()
        assert (entry.runtime_data is not running) is started_anew


async def test_taking_control_away_takes_the_controls_away(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port)
    assert hass.states.async_entity_ids("time")
    menu = await hass.config_entries.options.async_init(entry.entry_id)
    form = await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": "control"})
    await hass.config_entries.options.async_configure(form["flow_id"], {"allow_control": False})
    await hass.async_block_till_done()
    for platform in ("time", "number", "switch", "select", "button"):
        assert not hass.states.async_entity_ids(platform)
        assert not [one for one in er.async_get(hass).entities.values() if one.domain == platform]
    assert hass.states.async_entity_ids("sensor")


async def test_a_poll_interval_that_takes_more_than_half_the_line_is_refused_with_a_better_one(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(baud=9600, turnaround_ms=300) as bench:
        entry = await add_inverter(bench.port)
        menu = await hass.config_entries.options.async_init(entry.entry_id)
        form = await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": "polling"})
        form = await hass.config_entries.options.async_configure(
            form["flow_id"], {"fast_seconds": 1, "slow_seconds": 60}
        )
        assert form["errors"] == {"fast_seconds": "takes_line"}
        figures = form["description_placeholders"]
        assert figures is not None
        assert int(figures["share"].removesuffix(" %")) > 50
        better = int(figures["better"])
        assert better > 1
        done = await hass.config_entries.options.async_configure(
            form["flow_id"], {"fast_seconds": better, "slow_seconds": 60}
        )
        assert done["type"] is FlowResultType.CREATE_ENTRY
        await hass.async_block_till_done()
        await hass.config_entries.async_unload(entry.entry_id)


async def test_slow_polls_that_take_half_the_line_alone_are_refused() -> None:
    share = LineShare(fast=0.2, slow=6.0)
    assert share.at(5, 60) == pytest.approx(0.14)
    assert share.shortest_fast(60) == 1
    assert share.shortest_fast(10) is None


async def test_a_slow_interval_that_takes_half_the_line_alone_is_refused(
    hass: HomeAssistant, entry: MockConfigEntry, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A line that slow would take this test minutes; what its polls cost is put in place of the measurement.
    inverter = entry.runtime_data.inverter
    monkeypatch.setattr(inverter.reader, "poll_seconds", lambda _keys, rate: {"fast": 0.2, "slow": 6.0}[rate])
    menu = await hass.config_entries.options.async_init(entry.entry_id)
    form = await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": "polling"})
    form = await hass.config_entries.options.async_configure(form["flow_id"], {"fast_seconds": 5, "slow_seconds": 10})
    assert form["errors"] == {"slow_seconds": "slow_takes_line"}
    hass.config_entries.options.async_abort(form["flow_id"])


async def test_an_interval_is_taken_while_the_inverter_is_away_and_cannot_be_measured(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await hass.config_entries.async_unload(entry.entry_id)
    menu = await hass.config_entries.options.async_init(entry.entry_id)
    form = await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": "polling"})
    done = await hass.config_entries.options.async_configure(form["flow_id"], {"fast_seconds": 1, "slow_seconds": 10})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done()
    assert entry.options["fast_seconds"] == 1
