"""The blueprints' forms with their sections as they open."""

from pathlib import Path

from playwright.async_api import Browser

from scripts.picture_taking.picture import take
from tests.browser.demo import Demo, logged_in

BLUEPRINTS = Path(__file__).parents[2] / "blueprints" / "automation" / "chargehand"

VIEW = {"width": 620, "height": 4200}
"""As wide as one column of the page, and as high as the longest form: a page that scrolls could not be taken as a whole."""


async def take_blueprints(browser: Browser, demo: Demo) -> None:
    """Take each form on a page of its own."""
    context = await logged_in(browser, demo, viewport=VIEW, color_scheme="light")
    for blueprint in sorted(BLUEPRINTS.glob("*.yaml")):
        page = await context.new_page()
        await page.goto("/config/blueprint/dashboard")
        await page.get_by_text(name_of(blueprint), exact=True).first.click()
        await take(page.locator("blueprint-automation-editor ha-card").first, blueprint.stem)
        await page.close()
    await context.close()


def name_of(blueprint: Path) -> str:
    """Return the name that a blueprint's list shows for it."""
    lines = blueprint.read_text(encoding="utf-8").splitlines()
    return next(line for line in lines if line.startswith("  name: ")).removeprefix("  name: ")
