"""Adding an inverter on the page: no register map is picked by itself, and the mistakes of an uploaded one stand there as a list."""

from pathlib import Path

from playwright.async_api import BrowserContext, expect

from custom_components import chargehand
from tests.bench.remote import Bench

TEASEL = (Path(chargehand.__file__).parent / "maps" / "teasel_t5.yaml").read_bytes()
BROKEN = TEASEL.replace(b"max: 100, step", b"max: 70000, step").replace(b"maker: Teasel", b"maker: 5")


async def test_a_map_is_picked_or_uploaded_and_its_mistakes_are_a_list(window: BrowserContext) -> None:
    page = await window.new_page()
    async with await Bench.start() as bench:
        await page.goto("/config/integrations/dashboard/add?domain=chargehand")
        await page.get_by_role("button", name="OK").click()
        await page.get_by_role("textbox", name="Gateway address").fill(bench.host)
        await page.get_by_role("spinbutton", name="Port").fill(str(bench.port))
        await page.get_by_role("button", name="Submit").click()
        await expect(page.get_by_text("Choose a register map, upload one")).to_be_visible()
        file = {"name": "mine.yaml", "mimeType": "application/yaml", "buffer": BROKEN}
        await page.locator("input[type=file]").set_input_files(file)
        await expect(page.get_by_text("mine.yaml")).to_be_visible()
        await page.get_by_role("button", name="Submit").click()
        mistakes = page.locator("dialog-data-entry-flow li")
        await expect(mistakes).to_have_count(2)
        await expect(mistakes.first).to_contain_text("mine.yaml:3: maker: 5 ")
        await expect(page.get_by_role("textbox", name="Gateway address")).to_have_value(bench.host)
    await page.close()
