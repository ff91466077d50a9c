"""What the day card shows of the night's job, on any screen and for any eyes."""

import pytest
from playwright.async_api import Page, expect

from tests.browser.accessibility import findings, grave
from tests.browser.card import Card


async def test_the_card_shows_tonight(card: Card) -> None:
    await expect(card.status).to_contain_text("Confirmed")
    await expect(card.words()).to_contain_text("01:00–05:00 at 3,000 W to 95 %")
    await expect(card.button("Apply")).to_be_disabled()


async def test_a_phone_s_page_does_not_scroll_sideways(page: Page, tonight: None) -> None:
    await page.set_viewport_size({"width": 360, "height": 780})
    card = await Card.shown(page)
    wide = await page.evaluate("document.scrollingElement.scrollWidth")
    assert wide <= 360
    for part in (card.all, card.row(), card.button("Plan tonight")):
        box = await part.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 360


@pytest.mark.parametrize("scheme", ["light", "dark"])
async def test_nothing_serious_stands_in_the_way_of_those_who_see_or_hear_it(
    page: Page, tonight: None, scheme: str
) -> None:
    await page.emulate_media(color_scheme=scheme)
    card = await Card.shown(page)
    # Home Assistant follows the system's choice by itself; the card's own ground tells whether it came through.
    ground = await card.all.locator("ha-card").evaluate("(card) => getComputedStyle(card).backgroundColor")
    assert sum(map(int, ground.removeprefix("rgb(").removesuffix(")").split(","))) > 384 or scheme == "dark"
    assert scheme == "light" or sum(map(int, ground.removeprefix("rgb(").removesuffix(")").split(","))) < 384
    await card.enter("End", "04:30")
    await expect(card.button("Discard")).to_be_visible()
    assert grave(await findings(card.all)) == []
    await card.button("Discard").click()
