"""The forms by which an inverter is added, filled in as for a second inverter of the demo's house."""

from playwright.async_api import Browser, Page

from scripts.picture_taking.picture import take
from tests.bench.remote import Bench
from tests.browser.demo import HOUSE, Demo, logged_in

VIEW = {"width": 760, "height": 1750}
"""A form is shown as a whole."""

GATEWAY = "192.0.2.10"
"""An address of a document (RFC 5737)."""

USERS_FOLDER = "/config"
"""Where Home Assistant keeps its configuration for most users."""

REPLACE = """([dialog, from, to]) => {
    const walk = (node) => {
        if (node.nodeType === Node.TEXT_NODE) node.nodeValue = node.nodeValue.replace(from, to);
        else [...node.childNodes, node.shadowRoot].forEach((one) => one && walk(one));
    };
    walk(dialog);
}"""


async def take_forms(browser: Browser, demo: Demo) -> None:
    """Take the form for a gateway, the one for an adapter, and the page that says what was found."""
    context = await logged_in(browser, demo, viewport=VIEW, color_scheme="light")
    page = await context.new_page()
    async with await Bench.start(inverter="burdock", time_zone="Europe/London") as second:
        await begin(page)
        await page.get_by_role("textbox", name="Gateway address").fill(GATEWAY)
        await pick(page, "Burdock B3")
        await take_dialog(page, "form_gateway")
        await page.get_by_role("textbox", name="Gateway address").fill(second.host)
        await page.get_by_role("spinbutton", name="Port").fill(str(second.port))
        await page.get_by_role("button", name="Submit").click()
        await page.get_by_text("Allow control").wait_for()
        await take_dialog(page, "form_found")
    await begin(page)
    await pick(page, "Burdock B3")
    await page.get_by_role("radio", name="adapter").click()
    await page.get_by_role("button", name="Submit").click()
    await page.get_by_text("Baud rate").first.wait_for()
    await take_dialog(page, "form_adapter")
    await context.close()


async def begin(page: Page) -> None:
    """Begin to add an inverter."""
    await page.goto("/config/integrations/dashboard/add?domain=chargehand")
    await page.get_by_role("button", name="OK").click()
    await page.get_by_role("textbox", name="Gateway address").wait_for()


async def pick(page: Page, title: str) -> None:
    """Choose a register map."""
    await page.locator("ha-selector-select ha-select").last.click()
    await page.locator("ha-dropdown-item, ha-list-item").get_by_text(title).last.click()


async def take_dialog(page: Page, name: str) -> None:
    """Take the open form, with the folder that users have in place of the demo's."""
    await page.locator("dialog-data-entry-flow").evaluate(
        f"(dialog) => ({REPLACE})([dialog, {str(HOUSE / 'config')!r}, {USERS_FOLDER!r}])"
    )
    await take(page.locator("dialog-data-entry-flow ha-dialog dialog"), name)
