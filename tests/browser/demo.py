"""The demo in a process of its own, and its user in a browser."""

import asyncio
import json
import os
import socket
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.async_api import Browser, BrowserContext, Page

from scripts.alder_mill.paths import HOUSE as FOLDER
from tests.bench.remote import Orders

ROOT = Path(__file__).parents[2]
HOUSE = FOLDER.with_name(f"{FOLDER.name}-browser")
ENDS_WITHIN_S = 60.0

# Home Assistant's own connection, as its page has it.
ACT = """async ([domain, action, data, answers]) => {
    const { hass } = document.querySelector('home-assistant');
    try {
        const done = await hass.callService(domain, action, data, undefined, false, answers);
        return answers ? done.response : null;
    } catch (fault) {
        throw new Error(fault.message);
    }
}"""
HASS = "document.querySelector('home-assistant').hass"
POST = f"([path, data]) => {HASS}.callApi('POST', path, data)"
ASK = f"(command) => {HASS}.callWS(command)"


@dataclass(frozen=True, kw_only=True, slots=True)
class Demo:
    """A running demo."""

    address: str
    bench: Orders
    """Its bench's control port."""


@asynccontextmanager
async def demo() -> AsyncIterator[Demo]:
    """Start the demo as its command line does, and end it."""
    port = free_port()
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "scripts.alder_mill", "--port", str(port)),
        cwd=ROOT,
        env=os.environ | {"CHARGEHAND_DEMO": str(HOUSE)},
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.STDOUT,
    )
    assert process.stdout is not None
    try:
        said = ""
        while "Dashboard:" not in said:
            line = await process.stdout.readline()
            assert line, f"the demo ended instead of starting:\n{said}"
            said += line.decode()
        ports = json.loads((HOUSE / "bench.json").read_text())
        async with Orders.at(ports["control"]) as bench:
            yield Demo(address=f"http://127.0.0.1:{port}", bench=bench)
    finally:
        if process.returncode is None:
            process.terminate()
        async with asyncio.timeout(ENDS_WITHIN_S):
            await process.wait()


def free_port() -> int:
    """Return a port that nobody has now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


async def logged_in(browser: Browser, demo: Demo, **options: Any) -> BrowserContext:
    """Return a window of the browser in which the demo's user is logged in; options are Playwright's."""
    context = await browser.new_context(base_url=demo.address, locale="en-GB", timezone_id="Europe/London", **options)
    page = await context.new_page()
    await page.goto("/")
    await page.locator("input[name=username]").fill("demo")
    await page.locator("input[name=password]").fill("demo")
    await page.keyboard.press("Enter")
    await page.wait_for_url("**/alder-mill/**", wait_until="commit")
    await page.close()
    return context


async def opened(page: Page, path: str) -> None:
    """Open a page of Home Assistant, and wait until it is connected."""
    await page.goto(path)
    await page.wait_for_function("document.querySelector('home-assistant')?.hass?.connected")


async def act(page: Page, action: str, *, answers: bool = False, **data: Any) -> Any:
    """Call an action of Chargehand's through the page's connection, as its own buttons do. Return its response."""
    return await page.evaluate(ACT, ["chargehand", action, data, answers])


async def ask(page: Page, command: str, **fields: Any) -> Any:
    """Give a websocket command through the page's connection."""
    return await page.evaluate(ASK, {"type": command, **fields})


async def device_of(page: Page) -> str:
    """Return the device id of the demo's inverter."""
    devices = await ask(page, "config/device_registry/list")
    return next(str(one["id"]) for one in devices if one["name"] == "Teasel T5")


async def available(page: Page) -> None:
    """Wait until the inverter answers."""
    await page.wait_for_function(f"Number.isFinite(Number({HASS}.states['sensor.teasel_t5_battery_level']?.state))")


async def poll_often(page: Page) -> None:
    """Have the inverter read as often as its options allow, so that nobody waits for what another hand does on it."""
    entry = (await ask(page, "config_entries/get", domain="chargehand"))[0]["entry_id"]
    flow = "config/config_entries/options/flow"
    menu = await post(page, flow, handler=entry)
    await post(page, f"{flow}/{menu['flow_id']}", next_step_id="polling")
    done = await post(page, f"{flow}/{menu['flow_id']}", fast_seconds=2, slow_seconds=10)
    assert done["type"] == "create_entry", done
    while (await ask(page, "config_entries/get", domain="chargehand"))[0]["state"] != "loaded":
        pass


async def post(page: Page, path: str, **data: Any) -> Any:
    """Post to the REST interface as the page's forms do."""
    return await page.evaluate(POST, [path, data])
