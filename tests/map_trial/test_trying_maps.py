"""A map tried before it meets a real inverter: the command serves it, a real Home Assistant changes its schedule, the command says what acts."""

import asyncio
import subprocess
import sys
from pathlib import Path

import pytest
from homeassistant.core import HomeAssistant
from pymodbus.client import AsyncModbusTcpClient
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.registers import load_map
from custom_components.chargehand.core.schedule import Side, points_of
from tests.calls import act
from tests.map_trial.trial import ROOT, trial

MAPS = ROOT / "custom_components" / "chargehand" / "maps"
WITH_CHARGE_WINDOWS = sorted(
    path.stem for path in MAPS.glob("*.yaml") if (points := load_map(path).schedule) is not None and points.charge
)

MILL_RACE = """
chargehand_map: 1
title: Mill race
maker: Nobody
model: One
source: these lines
line: {settle_ms: 0, no_read: [{table: input, from: 6, to: 9}]}
readings:
  battery_level: {input: 5, unit: "%"}
schedule:
  before_write: [{holding: 40, write: 7, reads: 1}]
  after_write: [{holding: 41, write: 1, activates: true}]
  charge:
    windows:
      - start: {holding: 10, layout: packed}
        end: {holding: 11, layout: packed}
        stop_level: {holding: 12, min: 10, max: 100}
"""
"""A map with an unlock before a change, and a save without which it does not act."""


@pytest.fixture(autouse=True)
def _sockets(socket_enabled: None) -> None:
    """The command is on a real port."""


async def added(hass: HomeAssistant, port: int, name: str) -> MockConfigEntry:
    """An entry that may control the inverter at this port."""
    data = {"host": "127.0.0.1", "port": port, "framing": "tcp", "register_map": name}
    entry = MockConfigEntry(domain="chargehand", title="Trial", data=data, options={"allow_control": True})
    entry.add_to_hass(hass)
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    return entry


@pytest.mark.parametrize("name", WITH_CHARGE_WINDOWS)
async def test_a_schedule_is_confirmed_and_the_command_says_which_window_acts(
    hass: HomeAssistant, enable_custom_integrations: None, unused_tcp_port: int, name: str
) -> None:
    # The inverter's clock keeps what the map says, and what is printed is on that clock.
    await hass.config.async_set_time_zone("UTC")
    points = load_map(MAPS / f"{name}.yaml").schedule
    assert points is not None
    where = points_of(points, Side.CHARGE)[0]
    with trial(MAPS / f"{name}.yaml", unused_tcp_port) as running:
        entry = await added(hass, unused_tcp_port, name)
        limit = {"power": 2000} if where.power is not None else {"current": 20}
        window = {"start": "01:00", "end": "05:00", "stop_level": 90, **limit}
        receipt = await act(hass, entry, "apply_schedule", charge=[window], armed=True)
        assert receipt["outcome"] == "confirmed"
        # On the way there, windows may be kept from acting.
        line = await asyncio.to_thread(running.until, "90 %: acts")
        assert line.startswith("  charge window 1: 01:00-05:00, ")
        assert "refused" not in "\n".join(running.printed)
        await hass.config_entries.async_unload(entry.entry_id)


async def test_what_is_locked_is_refused_and_what_is_not_saved_does_not_act(
    tmp_path: Path, unused_tcp_port: int
) -> None:
    (tmp_path / "mill_race.yaml").write_text(MILL_RACE, encoding="utf-8")
    with trial(tmp_path / "mill_race.yaml", unused_tcp_port) as running:
        async with AsyncModbusTcpClient("127.0.0.1", port=unused_tcp_port) as client:
            # Exceptions by the Modbus Application Protocol V1.1b3, 7: 02 illegal address, 03 illegal value, 04 device failure.
            assert (await client.write_registers(10, [1 << 8, 5 << 8])).exception_code == 4
            assert (await client.read_holding_registers(10, count=2)).registers == [0, 0]
            assert (await client.write_register(40, 8)).exception_code == 3
            assert not (await client.write_register(40, 7)).isError()
            assert (await client.read_holding_registers(40, count=1)).registers == [1]
            assert not (await client.write_registers(10, [1 << 8, 5 << 8])).isError()
            assert await asyncio.to_thread(running.until, "not saved") == (
                "  written and not saved: charge window 1: 01:00-05:00, 100 %"
            )
            assert not (await client.write_register(41, 1)).isError()
            await asyncio.to_thread(running.until, "  charge window 1: 01:00-05:00, 100 %: acts")
            assert (await client.read_holding_registers(41, count=1)).registers == [0]
            assert (await client.write_register(13, 1)).exception_code == 2
            assert (await client.read_input_registers(4, count=2)).registers == [0, 50]
            assert (await client.read_input_registers(6, count=1)).exception_code == 2
            assert (await client.read_coils(0, count=1)).exception_code == 1
    assert "  no window acts" in running.printed


def test_what_is_doubtful_in_a_map_is_printed_before_it_is_served(tmp_path: Path, unused_tcp_port: int) -> None:
    (tmp_path / "mill_race.yaml").write_text(MILL_RACE.replace(", max: 100", ""), encoding="utf-8")
    with trial(tmp_path / "mill_race.yaml", unused_tcp_port) as running:
        assert "stop_level: warning: it has no max" in running.printed[0]


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("chargehand_map: 1\nreadings: 5\n", "readings"),
        (None, "No such file"),
    ],
)
def test_a_map_that_cannot_be_served_is_told(tmp_path: Path, lines: str | None, says: str) -> None:
    file = tmp_path / "wrong.yaml"
    if lines is not None:
        file.write_text(lines, encoding="utf-8")
    command = [sys.executable, "-m", "scripts.map_trial", str(file)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 1
    assert says in done.stderr
    assert "Traceback" not in done.stderr
