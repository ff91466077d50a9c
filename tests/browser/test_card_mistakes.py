"""What is typed by mistake: the fields show what would be applied, or nothing can be applied."""

from playwright.async_api import Page, expect

from tests.bench.remote import Orders
from tests.browser.card import Card
from tests.browser.demo import act
from tests.teasel import WANTED, held


async def test_a_field_typed_in_and_put_back_goes_on_showing_its_window(
    card: Card, behind: Page, device_id: str
) -> None:
    field = await card.field("Start")
    await field.focus()
    for key in ("End", "1", "Backspace", "Tab"):
        await card.page.keyboard.press(key)
    later = [{"start": "02:30", "end": "05:00", "power": 3000, "stop_level": 95}]
    await act(behind, "apply_schedule", answers=True, device_id=device_id, charge=later, discharge=[], armed=True)
    await expect(card.words()).to_contain_text("02:30–05:00")
    await expect(field).to_have_value("02:30")


async def test_nothing_is_applied_while_a_field_holds_no_time(card: Card, bench: Orders) -> None:
    await card.enter("Power (W)", "2000")
    await expect(card.button("Apply")).to_be_enabled()
    await card.enter("Start", "2x:99")
    await expect(card.button("Apply")).to_be_disabled()
    await expect(card.all).to_contain_text("A field holds no time")
    # A window that is closed forgets what it could not read.
    await card.row().get_by_role("button", expanded=True).click()
    await expect(card.button("Apply")).to_be_enabled()
    await expect(await card.field("Start")).to_have_value("01:00")
    assert await held(bench) == WANTED
