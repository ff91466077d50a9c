"""Start the demo, take every picture, and end the demo; names on the command line take only these."""

import asyncio
import sys

from scripts.picture_taking.blueprints import take_blueprints
from scripts.picture_taking.day_card import take_card
from scripts.picture_taking.forms import take_forms
from tests.browser.chromium import MISSING, chromium, running
from tests.browser.demo import demo

KINDS = {"card": take_card, "forms": take_forms, "blueprints": take_blueprints}


async def take_all(kinds: list[str]) -> None:
    """Take the pictures of these kinds."""
    async with demo() as house, running() as browser:
        for kind in kinds:
            await KINDS[kind](browser, house)


def main() -> int:
    """Take the pictures, or say what is missing."""
    if chromium() is None:
        print(f"There is {MISSING}.")
        return 1
    asyncio.run(take_all(sys.argv[1:] or list(KINDS)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
