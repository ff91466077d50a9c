"""The day card on a page: where its parts are, and how a person works them."""

from typing import Any, Self

from playwright.async_api import Locator, Page, expect

from tests.browser.demo import ask

PATH = "card-alone"
"""The address of a dashboard that has the card and nothing else."""

DASHBOARD = {
    "views": [
        {
            "title": "Day",
            "path": "day",
            "type": "sections",
            "max_columns": 2,
            "sections": [{"column_span": 2, "cards": [{"type": "custom:chargehand-day"}]}],
        },
        {"title": "Empty", "path": "empty", "cards": []},
    ]
}


class Card:
    """The day card on a page that shows it."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.all = page.locator("chargehand-day")
        self.status = self.all.locator("[data-note=status]")
        self.outcome = self.all.get_by_role("group", name="Result")
        """The receipt of the last press, or why there is none."""

    @classmethod
    async def shown(cls, page: Page) -> Self:
        """Show a new card on the dashboard that has it alone, and wait until it shows a window."""
        card = cls(page)
        if f"/{PATH}/" in page.url:
            await go(page, "empty")
            await expect(card.all).to_have_count(0)
            await go(page, "day")
        else:
            await page.goto(f"/{PATH}/day")
        await expect(card.handle("body")).to_be_visible()
        # It lies over the page while it fades, and takes what is pressed there.
        await expect(page.locator("#ha-launch-screen")).to_have_count(0)
        return card

    def handle(self, kind: str, number: int = 1, side: str = "charge") -> Locator:
        """A handle of a window: its start, its end, its body, or its lid at the stop level; at the time that the keyboard reaches."""
        named = f"[data-side={side}][data-number='{number}'][data-handle={kind}]"
        return self.all.locator(f"{named}:not([tabindex='-1'])").first

    def row(self, number: int = 1, side: str = "Charge") -> Locator:
        """A window's place in the list: its words, its fields, what is wrong with it."""
        return self.all.get_by_role("group", name=f"{side} window {number}", exact=True)

    def words(self, number: int = 1) -> Locator:
        """A charge window in words, as the list has it."""
        return self.row(number).locator(".words")

    async def field(self, name: str, number: int = 1) -> Locator:
        """A field of a charge window, which is opened where it is not."""
        row = self.row(number)
        head = row.get_by_role("button", expanded=False)
        if await head.count():
            await head.first.click()
        return row.get_by_label(name)

    async def enter(self, name: str, value: str, number: int = 1) -> None:
        """Type into a field of a charge window."""
        field = await self.field(name, number)
        await field.fill(value)
        await field.press("Tab")

    def button(self, name: str) -> Locator:
        """A button by the words on it."""
        return self.all.get_by_role("button", name=name, exact=True)

    async def middle(self, handle: Locator) -> tuple[float, float]:
        """Where a handle is in the page's view, in pixels from the left and the top."""
        await handle.scroll_into_view_if_needed()
        box = await handle.bounding_box()
        assert box is not None
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    async def drag(self, handle: Locator, by: tuple[float, float]) -> None:
        """Drag a handle by so many pixels to the right and down, as a mouse does."""
        # It waits until the handle stands still and takes what is pressed there: a busy page draws itself anew for a while.
        await handle.hover()
        x, y = await self.middle(handle)
        await self.page.mouse.down()
        await self.page.mouse.move(x + by[0], y + by[1], steps=8)
        await self.page.mouse.up()


async def go(page: Page, view: str) -> None:
    """Go to another view of the same dashboard, as a press on its tab does."""
    await page.evaluate(
        "(path) => { history.pushState(null, '', path); window.dispatchEvent(new CustomEvent('location-changed')); }",
        f"/{PATH}/{view}",
    )


async def make_dashboard(page: Page) -> None:
    """Make the dashboard that has the card alone, through the page's own connection."""
    made: list[dict[str, Any]] = await ask(page, "lovelace/dashboards/list")
    if not any(one["url_path"] == PATH for one in made):
        await ask(page, "lovelace/dashboards/create", url_path=PATH, title="Day", mode="storage")
        await ask(page, "lovelace/config/save", url_path=PATH, config=DASHBOARD)
