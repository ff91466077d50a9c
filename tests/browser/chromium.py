"""The operating system's own Chromium, driven by Playwright, which brings none."""

import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from playwright.async_api import Browser, async_playwright

MISSING = "no Chromium from the operating system's packages (on Debian: apt-get install chromium)"


def chromium() -> str | None:
    """Return the path of the browser, None where there is none."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


@asynccontextmanager
async def running() -> AsyncIterator[Browser]:
    """Start the browser without a screen. Raises LookupError where there is none."""
    path = chromium()
    if path is None:
        raise LookupError(MISSING)
    async with async_playwright() as tools:
        browser = await tools.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        try:
            yield browser
        finally:
            await browser.close()
