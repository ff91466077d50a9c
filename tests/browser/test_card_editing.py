"""Windows are changed on the card: by dragging, by keys, in fields; nothing of it is on the inverter before it is applied."""

import re

from playwright.async_api import Page, expect

from tests.bench.remote import Orders
from tests.browser.card import Card
from tests.browser.demo import act
from tests.teasel import WANTED, held


async def shown(card: Card) -> tuple[int, int, int]:
    """Return start and end of the first charge window in minutes of the day, and its stop level in %, as the list's words have them."""
    words = re.fullmatch(
        r".* (\d\d):(\d\d)–(\d\d):(\d\d) at 3,000 W to (\d+) %", (await card.words().inner_text()).strip()
    )
    assert words is not None
    hours, minutes, end_hours, end_minutes, level = map(int, words.groups())
    return 60 * hours + minutes, 60 * end_hours + end_minutes, level


async def hour_of(card: Card) -> float:
    """Return the pixels of an hour, by the window of four hours as it is drawn: its handles stand apart where it is narrow."""
    # The last one is whole at any time of day; what the picture has of an earlier one may begin in its middle.
    box = await card.all.locator(".vessel .fill").last.bounding_box()
    assert box is not None
    return box["width"] / 4


async def test_a_window_is_dragged_to_other_hours(card: Card, bench: Orders) -> None:
    hour = await hour_of(card)
    await card.drag(card.handle("body"), (1.5 * hour, 0))
    await expect(card.words()).not_to_contain_text("01:00")
    start, end, level = await shown(card)
    assert abs(start - 150) <= 2, "an hour and a half later, but for the pixels' own width"
    assert (end - start, level) == (240, 95)
    await expect(card.button("Discard")).to_be_visible()
    assert await held(bench) == WANTED
    await card.button("Discard").click()
    await expect(card.words()).to_contain_text("01:00–05:00")


async def test_an_end_is_dragged_and_the_start_stays(card: Card, bench: Orders) -> None:
    hour = await hour_of(card)
    await card.drag(card.handle("end"), (hour, 0))
    await expect(card.words()).not_to_contain_text("05:00")
    start, end, level = await shown(card)
    assert abs(end - 360) <= 2
    assert (start, level) == (60, 95)
    await card.button("Discard").click()


async def test_a_lid_is_dragged_to_another_level(card: Card, bench: Orders) -> None:
    await card.drag(card.handle("lid"), (0, 30))
    await expect(card.words()).not_to_contain_text("to 95 %")
    start, end, level = await shown(card)
    assert (start, end) == (60, 300)
    assert 50 < level < 95
    assert await held(bench) == WANTED
    await card.button("Discard").click()
    await expect(card.words()).to_contain_text("to 95 %")


async def test_a_window_is_changed_by_the_keyboard_alone(card: Card, bench: Orders) -> None:
    await card.handle("end").focus()
    await card.page.keyboard.press("PageUp")
    await expect(card.words()).to_contain_text("01:00–06:00 at")
    await card.page.keyboard.press("Delete")
    await expect(card.row()).to_have_count(0)
    await card.page.keyboard.press("Enter")
    await expect(card.words()).to_contain_text("01:00–06:00 at")
    assert await held(bench) == WANTED
    await card.button("Discard").click()
    await expect(card.words()).to_contain_text("01:00–05:00 at")


async def test_a_second_page_shows_what_the_first_one_edits(card: Card, behind: Page) -> None:
    other = await Card.shown(await behind.context.new_page())
    await card.enter("Start", "02:10")
    await expect(other.words()).to_contain_text("02:10–05:00 at")
    await other.button("Discard").click()
    await expect(card.words()).to_contain_text("01:00–05:00 at")
    await other.page.close()


async def test_what_the_inverter_cannot_hold_is_told_at_its_window_and_never_written(
    card: Card, behind: Page, device_id: str, bench: Orders
) -> None:
    # Windows that overlap: the card's own handles and fields leave no way to them, another screen's entities do.
    overlapping = [
        {"start": "01:00", "end": "05:00", "power": 3000, "stop_level": 95},
        {"start": "04:00", "end": "06:00", "power": 3000, "stop_level": 95},
    ]
    await act(behind, "draft_schedule", device_id=device_id, charge=overlapping, discharge=[])
    await expect(card.row(2).get_by_role("listitem")).to_contain_text("overlap")
    asked = len(await bench.journal())
    await card.button("Apply").click()
    await expect(card.outcome).to_contain_text("overlap")
    assert not [one for one in (await bench.journal())[asked:] if one["function"] in {6, 16}]
    await card.button("Discard").click()
    await expect(card.row(2)).to_have_count(0)
