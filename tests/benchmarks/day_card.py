"""What a change of tonight's schedule costs on the day card, in a real browser on the demo: presses, commits, and time.

`python -m tests.benchmarks.day_card [--commits N] [--draws N]`. Everything is taken by the page itself (day_card.js): presses from its input
events, times from its own clock, rehearsals and receipts from what its websocket carries. What the inverter holds is read from the bench.
"""

import argparse
import asyncio
import gzip
from pathlib import Path
from statistics import median

from playwright.async_api import Browser, BrowserContext, Page, expect

from tests.bench.remote import Orders
from tests.benchmarks.table import show
from tests.browser.accessibility import findings, grave
from tests.browser.card import PATH, Card, make_dashboard
from tests.browser.chromium import running
from tests.browser.demo import Demo, act, demo, device_of, logged_in, opened
from tests.teasel import TONIGHT, WANTED, held

FRONTEND = Path(__file__).parents[2] / "custom_components" / "chargehand" / "frontend"
SCREEN = {"width": 1280, "height": 1000}
HOUR = (40, 0)
"""Pixels of a drag."""

type Times = list[float]
"""In ms."""


async def changed_and_proven(page: Page, bench: Orders) -> tuple[int, int, int]:
    """Return presses, commits, and write requests from the card as it is shown to a dragged window that is confirmed."""
    card = await Card.shown(page)
    before, asked = await held(bench), len(await bench.journal())
    await page.evaluate("meter.presses = 0")
    await card.drag(card.handle("body"), HOUR)
    await card.button("Apply").click()
    await page.evaluate("meter.confirmed()")
    if await held(bench) == before:
        raise RuntimeError("called confirmed, and the inverter holds what it held")
    writes = [one for one in (await bench.journal())[asked:] if one["function"] in {6, 16}]
    return await page.evaluate("meter.presses"), await page.evaluate("meter.receipts.length"), len(writes)


async def confirmations(page: Page, bench: Orders, count: int) -> tuple[Times, Times]:
    """Return for each commit the time from the press to confirmed on the screen, and the receipt's own."""
    card = await Card.shown(page)
    shown: Times = []
    proven: Times = []
    for turn in range(count):
        end = f"0{5 + turn % 2}:{turn % 6}5"
        await card.enter("End", end)
        await expect(card.button("Apply")).to_be_enabled()
        await card.button("Apply").click()
        confirmed = await page.evaluate("meter.confirmed()")
        shown.append(confirmed - await page.evaluate("meter.pressedAt"))
        proven.append(1000 * await page.evaluate("meter.receipts.at(-1).seconds"))
        if (await held(bench))[-1] != int(end.replace(":", "")):
            raise RuntimeError("called confirmed, and the inverter holds something else")
    return shown, proven


async def drawings(page: Page, count: int) -> tuple[Times, Times]:
    """Return for each time that the page is loaded how long until the card stands drawn: from its being put there, and from its data."""
    whole: Times = []
    after_data: Times = []
    for _ in range(count):
        # Home Assistant keeps the cards of a view that is left, so that only a new page draws one from the start.
        await page.goto(f"/{PATH}/day")
        await page.locator("chargehand-day").wait_for()
        drawn = await page.evaluate("meter.drawn()")
        whole.append(drawn - await page.evaluate("meter.connectedAt"))
        after_data.append(drawn - await page.evaluate("meter.dataAt"))
    return whole, after_data


async def rehearsals(page: Page) -> Times:
    """Return how long each rehearsal took to be answered while a window was dragged to and fro."""
    card = await Card.shown(page)
    box = await card.handle("body").bounding_box()
    if box is None:
        raise RuntimeError("the window is not to be seen")
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    await page.evaluate("meter.rehearsals = []")
    await page.mouse.move(x, y)
    await page.mouse.down()
    for step in range(1, 121):
        await page.mouse.move(x + 80 - abs(step % 60 - 30) * 5, y)
        await page.evaluate("new Promise(requestAnimationFrame)")
    await page.mouse.up()
    await card.button("Discard").click()
    return list(await page.evaluate("meter.rehearsals"))


async def found_by_axe(browser: Browser, house: Demo, scheme: str) -> tuple[int, int]:
    """Return what axe-core finds, and how much of it is serious or critical."""
    context = await logged_in(browser, house, viewport=SCREEN, color_scheme=scheme)
    card = await Card.shown(await context.new_page())
    found = await findings(card.all)
    await context.close()
    return len(found), len(grave(found))


def size() -> tuple[int, int]:
    """Return the bytes of the card's code as it is, and compressed file by file as it is sent."""
    files = [path.read_bytes() for path in sorted(FRONTEND.glob("*.js"))]
    return sum(map(len, files)), sum(len(gzip.compress(one)) for one in files)


async def put_tonight(page: Page, bench: Orders) -> None:
    """Let the inverter hold the schedule that each part begins with, and drop what is drafted."""
    device = await device_of(page)
    await act(page, "apply_schedule", answers=True, device_id=device, charge=TONIGHT, discharge=[], armed=True)
    if await held(bench) != WANTED:
        raise RuntimeError("the bench does not hold tonight's schedule")


async def measured_page(context: BrowserContext) -> Page:
    """Return a page that takes its own measure."""
    page = await context.new_page()
    await page.add_init_script(path=Path(__file__).with_suffix(".js"))
    await opened(page, "/alder-mill/battery")
    return page


async def run(commits: int, draws: int) -> None:
    """Measure and print."""
    async with demo() as house, running() as browser:
        context = await logged_in(browser, house, viewport=SCREEN)
        page = await measured_page(context)
        await make_dashboard(page)
        await put_tonight(page, house.bench)
        presses, proven, writes = await changed_and_proven(page, house.bench)
        await put_tonight(page, house.bench)
        shown, receipts = await confirmations(page, house.bench, commits)
        await put_tonight(page, house.bench)
        answers = await rehearsals(page)
        whole, after_data = await drawings(page, draws)
        axe = {scheme: await found_by_axe(browser, house, scheme) for scheme in ("light", "dark")}
    plain, compressed = size()
    later = [one - own for one, own in zip(shown, receipts, strict=True)]
    rows = [
        ["press to confirmed on the screen", len(shown), median(shown), max(shown)],
        ["the receipt's own time", len(receipts), median(receipts), max(receipts)],
        ["screen after receipt", len(later), median(later), max(later)],
        ["rehearsal answered while dragging", len(answers), median(answers), max(answers)],
        ["card on the page to drawn", len(whole), median(whole), max(whole)],
        ["data there to drawn", len(after_data), median(after_data), max(after_data)],
    ]
    show("Times on the day card", ("", "measured", "median ms", "worst ms"), rows)
    show("Its code", ("", "bytes"), [["as it is", plain], ["compressed, file by file", compressed]])
    show("axe-core", ("", "findings", "serious or critical"), [[scheme, *found] for scheme, found in axe.items()])
    print(
        f"\n{presses} presses and {proven} commit ({writes} write request) from the dashboard to a changed and proven schedule; "
        f"confirmed on the screen {median(later):.0f} ms after the receipt's time (worst {max(later):.0f} ms)"
    )


def main() -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--commits", type=int, default=12)
    parser.add_argument("--draws", type=int, default=24)
    arguments = parser.parse_args()
    asyncio.run(run(arguments.commits, arguments.draws))


if __name__ == "__main__":
    main()
