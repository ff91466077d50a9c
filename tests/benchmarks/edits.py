"""Commits for "start, end and current changed on the dashboard", through the websocket calls that a dashboard makes.

`python -m tests.benchmarks.edits [--rounds N]`. The inverter is the Burdock, whose charge windows take amperes. Each round sets start, end
and current of charge window 1 and presses *Apply draft*. What the inverter acted on in between is looked up in the bench's own record.
"""

import argparse
import asyncio
import tempfile
from collections.abc import Sequence
from itertools import count
from pathlib import Path
from typing import Any

from aiohttp import ClientSession, ClientWebSocketResponse
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser

from tests.bench.burdock import CHARGE
from tests.bench.remote import Bench
from tests.benchmarks.house import home
from tests.benchmarks.rig import QUICK
from tests.benchmarks.table import show

WRITES = {5, 6, 15, 16, 22, 23}
"""Functions that change something (Modbus Application Protocol V1.1b3, 6)."""

START, END, AMPERES = 60, 300, 30
"""In minutes and A; each round adds its number of steps."""


def acting(registers: Sequence[int]) -> frozenset[tuple[int, ...]]:
    """Return the charge windows that can act, of the registers that the bench acted on: start, end, current and level of each."""
    windows = [tuple(registers[at : at + 4]) for at in range(1, 17, 4)]
    return frozenset(window for window in windows if window[2] and window[0] < window[1])


class Page:
    """A dashboard's end of the websocket."""

    def __init__(self, socket: ClientWebSocketResponse) -> None:
        self._socket = socket
        self._numbers = count(1)

    async def call(self, domain: str, service: str, entity_id: str, **data: Any) -> None:
        """Call a service as a card does. Raises RuntimeError where it fails."""
        number = next(self._numbers)
        call = {"domain": domain, "service": service, "target": {"entity_id": entity_id}, "service_data": data}
        await self._socket.send_json({"id": number, "type": "call_service", **call})
        while (answer := await self._socket.receive_json())["id"] != number:
            pass
        if not answer["success"]:
            raise RuntimeError(answer["error"])


async def open_page(hass: HomeAssistant, session: ClientSession) -> Page:
    """Log a user in over a real connection."""
    if not await async_setup_component(hass, "http", {"http": {"server_host": "127.0.0.1", "server_port": 0}}):
        raise RuntimeError("http")
    if not await async_setup_component(hass, "websocket_api", {}):
        raise RuntimeError("websocket_api")
    await hass.http.start()
    port = hass.http._server.sockets[0].getsockname()[1]
    user = MockUser(is_owner=True).add_to_hass(hass)
    token = hass.auth.async_create_access_token(await hass.auth.async_create_refresh_token(user, "http://page/"))
    socket = await session.ws_connect(f"http://127.0.0.1:{port}/api/websocket")
    await socket.receive_json()
    await socket.send_json({"type": "auth", "access_token": token})
    if (await socket.receive_json())["type"] != "auth_ok":
        raise RuntimeError("the page could not log in")
    return Page(socket)


async def run(rounds: int) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        async with (
            await Bench.start(**QUICK, inverter="burdock") as bench,
            home(Path(folder)) as hass,
            ClientSession() as session,
        ):
            await hass.config.async_set_time_zone("UTC")
            entry = MockConfigEntry(
                domain="chargehand",
                title="Burdock B3",
                data={"host": "127.0.0.1", "port": bench.port, "framing": "tcp", "register_map": "burdock_b3"},
                options={"allow_control": True, "fast_seconds": 3600, "slow_seconds": 3600},
            )
            entry.add_to_hass(hass)
            await hass.config_entries.async_setup(entry.entry_id)
            await hass.async_block_till_done()
            page = await open_page(hass, session)
            window = "burdock_b3_charge_window_1"
            commits, requests, between = 0, 0, 0
            for turn in range(1, rounds + 1):
                start, end, amperes = START + 5 * turn, END + 5 * turn, AMPERES + turn % 30
                before = len(await bench.journal()), len(await bench.acted()), entry.runtime_data.storage.commits_today
                await page.call(
                    "time", "set_value", f"time.{window}_start", time=f"{start // 60:02d}:{start % 60:02d}:00"
                )
                await page.call("time", "set_value", f"time.{window}_end", time=f"{end // 60:02d}:{end % 60:02d}:00")
                await page.call("number", "set_value", f"number.{window}_current", value=amperes)
                if any(one["function"] in WRITES for one in (await bench.journal())[before[0] :]):
                    raise RuntimeError("an edit has written to the inverter")
                await page.call("button", "press", "button.burdock_b3_apply_draft")
                *set_to, level = await bench.registers("holding", CHARGE[0], 4)
                if set_to != [start, end, 2 * amperes]:
                    raise RuntimeError("applied, and the inverter holds something else")
                requests += sum(one["function"] in WRITES for one in (await bench.journal())[before[0] :])
                commits += entry.runtime_data.storage.commits_today - before[2]
                # The schedule before the round, which the record ends with, and what came after it.
                record = [acting(one["windows"]) for one in await bench.acted()]
                asked_for = record[before[1] - 1] | {(start, end, 2 * amperes, level)}
                between += sum(bool(windows - asked_for) for windows in record[before[1] :])
    head = ("rounds", "commits", "write requests", "schedules acted on that nobody asked for")
    show("Start, end and current of a window, changed on the dashboard", head, [[rounds, commits, requests, between]])
    print(f"{commits / rounds:g} commits for start, end and current")


def main() -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    asyncio.run(run(parser.parse_args().rounds))


if __name__ == "__main__":
    main()
