"""Run the demo, or say why it cannot be run."""

import asyncio
import sys

from .arguments import read_arguments


def main() -> int:
    """Parse the command line and run."""
    arguments = read_arguments()
    errors = sys.stderr
    # Home Assistant takes a second to load, which a wrong argument does not wait for.
    from homeassistant.exceptions import HomeAssistantError  # noqa: PLC0415

    from .faults import DemoFailed  # noqa: PLC0415
    from .run import run  # noqa: PLC0415

    try:
        asyncio.run(run(arguments))
    except (DemoFailed, HomeAssistantError) as failure:
        print(f"failed: {failure}", file=errors)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
