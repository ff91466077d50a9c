"""Take the pictures of the documents: the forms of the blueprints as the demo's Home Assistant shows them, in a real browser."""

import shutil
import subprocess
import sys
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).parents[1]
BLUEPRINTS = ROOT / "blueprints" / "automation" / "chargehand"
PICTURES = ROOT / "docs" / "pictures"
PORT = 8129
ADDRESS = f"http://127.0.0.1:{PORT}"
COLOURS = 64
"""A form looks the same in so few, and its file is half as large."""

VIEW = {"width": 620, "height": 4200}
"""As wide as one column of the page, and as high as the longest form: a page that scrolls could not be taken as a whole."""


def main() -> int:
    """Start the demo, take every picture, and end the demo."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        print(
            "No Chromium was found. Install it from the operating system's packages, on Debian: apt-get install chromium"
        )
        return 1
    demo = subprocess.Popen(
        [sys.executable, "-m", "scripts.alder_mill", "--port", str(PORT)],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        if not any("Dashboard:" in line for line in demo.stdout or ()):
            print("The demo did not start; its log is .work/demo/home-assistant.log")
            return 1
        take_all(chromium)
    finally:
        demo.terminate()
        demo.wait(60)
    return 0


def take_all(chromium: str) -> None:
    """Take each picture on a page of its own."""
    with sync_playwright() as tools:
        browser = tools.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        context = browser.new_context(viewport=VIEW, color_scheme="light", locale="en-GB")
        log_in(context.new_page())
        for blueprint in sorted(BLUEPRINTS.glob("*.yaml")):
            page = context.new_page()
            page.goto(f"{ADDRESS}/config/blueprint/dashboard")
            page.get_by_text(name_of(blueprint), exact=True).first.click()
            take_form(page, PICTURES / f"{blueprint.stem}.png")
            page.close()
            print(f"docs/pictures/{blueprint.stem}.png")
        browser.close()


def name_of(blueprint: Path) -> str:
    """Return the name that a blueprint's list shows for it."""
    lines = blueprint.read_text(encoding="utf-8").splitlines()
    return next(line for line in lines if line.startswith("  name: ")).removeprefix("  name: ")


def log_in(page: Page) -> None:
    """Log in as the demo's user, for all pages of this browser."""
    page.goto(ADDRESS)
    page.locator("input[name=username]").fill("demo")
    page.locator("input[name=password]").fill("demo")
    page.keyboard.press("Enter")
    page.wait_for_url("**/alder-mill/**", wait_until="commit")


def take_form(page: Page, path: Path) -> None:
    """Take a blueprint's form with its sections as they open."""
    form = page.locator("blueprint-automation-editor ha-card").first
    form.wait_for()
    page.wait_for_timeout(2000)
    form.screenshot(path=path, animations="disabled")
    with Image.open(path) as taken:
        smaller = taken.convert("RGB").quantize(COLOURS)
    smaller.save(path, optimize=True)


if __name__ == "__main__":
    sys.exit(main())
