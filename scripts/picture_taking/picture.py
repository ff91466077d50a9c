"""One picture as a small file."""

from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.async_api import Locator

PICTURES = Path(__file__).parents[2] / "docs" / "pictures"

COLOURS = 128
"""A page looks the same in so few, and its file is a third as large."""


async def take(part: Locator, name: str) -> None:
    """Take a part of a page for docs/pictures, once it stands still."""
    # Home Assistant draws icons and fades parts in after they are there, and says nothing when it is done.
    await part.page.wait_for_timeout(1500)
    taken = await part.screenshot(animations="disabled")
    path = PICTURES / f"{name}.png"
    with Image.open(BytesIO(taken)) as whole:
        whole.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)
    print(f"docs/pictures/{path.name}")
