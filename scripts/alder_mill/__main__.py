"""Run the demo, or say why it cannot be run."""

import asyncio
import sys

from .arguments import read_arguments
from .faults import DemoFailed
from .house_time import HouseLoop, HouseTime
from .other_hand import change_window, move_gateway


def main() -> int:
    """Parse the command line and run."""
    arguments = read_arguments()
    errors = sys.stderr
    house_time = HouseTime(arguments.begin)
    try:
        if arguments.other_hand or arguments.gateway:
            done = change_window(arguments.other_hand) if arguments.other_hand else move_gateway(arguments.gateway)
            print(done)
            return 0
    except DemoFailed as failure:
        print(f"failed: {failure}", file=errors)
        return 1
    if arguments.speed != 1 or arguments.begin is not None:
        house_time.tell_home_assistant()
    # Home Assistant takes a second to load, which a wrong argument does not wait for.
    from homeassistant.exceptions import HomeAssistantError  # noqa: PLC0415

    from .run import run  # noqa: PLC0415

    try:
        with asyncio.Runner(loop_factory=lambda: HouseLoop(house_time)) as runner:
            runner.run(run(arguments, house_time))
    except (DemoFailed, HomeAssistantError) as failure:
        print(f"failed: {failure}", file=errors)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
