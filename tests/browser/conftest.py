"""One demo and one browser for all scenes; each has a page of its own, and the demo's schedule of the first evening."""

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
import pytest_asyncio
import pytest_socket
from playwright.async_api import Browser, BrowserContext, Page, ViewportSize, expect

from tests.bench.remote import Orders
from tests.browser import demo as demos
from tests.browser.card import Card, make_dashboard
from tests.browser.chromium import MISSING, chromium, running
from tests.browser.demo import Demo, act, available, device_of, poll_often
from tests.teasel import TONIGHT

HERE = Path(__file__).parent
DESKTOP: ViewportSize = {"width": 1280, "height": 1000}

# How long a page takes says how busy the machine is.
expect.set_options(timeout=20_000)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let all scenes share a loop with demo and browser, and leave them out where there is no browser."""
    for item in items:
        if item.path.is_relative_to(HERE):
            # In front of the mark that every test gets: the first one counts.
            item.add_marker(pytest.mark.asyncio(loop_scope="session"), append=False)
            # The first one starts demo and browser.
            item.add_marker(pytest.mark.timeout(300))
            item.add_marker(pytest.mark.skipif(chromium() is None, reason=MISSING))


@pytest.fixture(autouse=True)
def verify_cleanup() -> None:
    """Home Assistant runs in another process: the test tools have no loop of it to look after here."""


@pytest.fixture(autouse=True)
async def enable_event_loop_debug() -> None:
    """Nothing of Chargehand runs on the loop here."""


@pytest.fixture(autouse=True)
def _sockets(socket_enabled: None) -> None:
    """The browser and the bench are spoken to over loopback."""


@pytest_asyncio.fixture(scope="session", loop_scope="session")
async def demo() -> AsyncIterator[Demo]:
    """The demo, started as its command line does."""
    # The test tools close sockets before every test; this comes before the fixture that opens them again.
    pytest_socket.enable_socket()
    async with demos.demo() as started:
        yield started


@pytest.fixture
def bench(demo: Demo) -> Orders:
    """The demo's own bench: what is on the inverter is read there."""
    return demo.bench


@pytest_asyncio.fixture(scope="session", loop_scope="session")
async def browser() -> AsyncIterator[Browser]:
    async with running() as started:
        yield started


@pytest_asyncio.fixture(scope="session", loop_scope="session")
async def window(browser: Browser, demo: Demo) -> BrowserContext:
    """A window of the browser with the demo's user logged in."""
    return await demos.logged_in(browser, demo, viewport=DESKTOP)


@pytest_asyncio.fixture(scope="session", loop_scope="session")
async def behind(window: BrowserContext) -> Page:
    """A page that stays open beside the scenes', for what somebody else does meanwhile."""
    page = await window.new_page()
    await demos.opened(page, "/alder-mill/battery")
    await make_dashboard(page)
    await poll_often(page)
    return page


@pytest_asyncio.fixture(scope="session", loop_scope="session")
async def device_id(behind: Page) -> str:
    """The demo's inverter."""
    return await device_of(behind)


@pytest_asyncio.fixture(loop_scope="session")
async def tonight(behind: Page, device_id: str, bench: Orders) -> None:
    """The inverter answers, holds tonight's schedule, and there is no draft."""
    await bench.clear_faults()
    await bench.gateway(down=False, answers_after_ms=0)
    await available(behind)
    await act(behind, "apply_schedule", answers=True, device_id=device_id, charge=TONIGHT, discharge=[], armed=True)


@pytest_asyncio.fixture(scope="session", loop_scope="session")
async def shared(window: BrowserContext) -> tuple[Page, list[str]]:
    """The page of all scenes, since one takes seconds to load, and what goes wrong in it."""
    opened = await window.new_page()
    wrong: list[str] = []
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("console", lambda line: wrong.append(line.text) if line.type == "error" else None)
    return opened, wrong


@pytest_asyncio.fixture(loop_scope="session")
async def page(shared: tuple[Page, list[str]]) -> AsyncIterator[Page]:
    """A page on a desktop, in light colours; what goes wrong in it fails the scene."""
    opened, wrong = shared
    # A page behind another one is drawn once a second only.
    await opened.bring_to_front()
    await opened.mouse.up()
    await opened.set_viewport_size(DESKTOP)
    await opened.emulate_media(color_scheme="light")
    wrong.clear()
    yield opened
    assert wrong == []


@pytest_asyncio.fixture(loop_scope="session")
async def card(page: Page, tonight: None) -> Card:
    """The card alone on its page, with tonight's schedule."""
    return await Card.shown(page)
