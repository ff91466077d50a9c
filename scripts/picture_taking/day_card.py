"""The day card: in light and dark, on a desktop and a phone, with a draft, with its receipt, and with the plan's reason."""

from playwright.async_api import Browser, expect

from scripts.picture_taking.picture import take
from tests.browser.card import Card, make_dashboard
from tests.browser.demo import Demo, logged_in, opened

DESKTOP = {"width": 1200, "height": 1600}
PHONE = {"width": 390, "height": 2600}


async def take_card(browser: Browser, demo: Demo) -> None:
    """Take the card as the demo shows it after its start, then what is done with it."""
    for scheme in ("light", "dark"):
        for name, view in (("", DESKTOP), ("_phone", PHONE)):
            context = await logged_in(browser, demo, viewport=view, color_scheme=scheme)
            page = await context.new_page()
            await opened(page, "/alder-mill/battery")
            await make_dashboard(page)
            card = await Card.shown(page)
            await take(card.all.locator("ha-card").first, f"day_card{name}{'_dark' if scheme == 'dark' else ''}")
            await context.close()
    context = await logged_in(browser, demo, viewport=DESKTOP, color_scheme="light")
    card = await Card.shown(await context.new_page())
    whole = card.all.locator("ha-card").first
    await card.drag(card.handle("end"), (-24, 0))
    await card.drag(card.handle("lid"), (0, 24))
    await expect(card.button("Apply")).to_be_enabled()
    await take(whole, "day_card_draft")
    await card.button("Apply").click()
    await expect(card.outcome).to_contain_text("Confirmed")
    await take(whole, "day_card_receipt")
    await card.button("Plan tonight").click()
    await expect(card.outcome).to_contain_text("plan")
    await take(whole, "day_card_plan")
    # The demo's inverter goes on with what was planned for it.
    await card.button("Apply").click()
    await expect(card.outcome).to_contain_text("Confirmed")
    await context.close()
