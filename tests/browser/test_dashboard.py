"""The demo's dashboard, laid out by Chargehand: the day card, and Home Assistant's own cards."""

from playwright.async_api import Page, expect

from tests.bench.remote import Orders
from tests.browser.card import Card
from tests.teasel import WANTED, held


async def test_the_dashboard_shows_the_schedule_that_is_on_the_inverter(
    page: Page, tonight: None, bench: Orders
) -> None:
    await page.goto("/alder-mill/battery")
    await expect(page.locator("hui-tile-card").filter(has_text="Schedule status")).to_contain_text("Confirmed")
    await expect(Card(page).words()).to_contain_text("01:00–05:00 at 3,000 W to 95 %")
    assert await held(bench) == WANTED
    # What a card shows whose entity or type is not there.
    await expect(page.locator("hui-error-card, hui-warning, hui-warning-element")).to_have_count(0)
