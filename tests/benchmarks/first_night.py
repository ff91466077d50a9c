"""Steps, fields and presses from an empty form to a night's charge on the inverter.

`python -m tests.benchmarks.first_night`. A real Home Assistant goes the three steps of `tests/first_night.py` by the platform's own forms,
and its time is moved into the night. Its house has no history, so the night is charged to the options' fixed level. A press is a field that
is filled in, or a button.
"""

import argparse
import asyncio
import tempfile
from datetime import timedelta
from pathlib import Path

from freezegun import freeze_time
from homeassistant.components import usb  # noqa: F401 - before time is moved: what it imports looks at the types of times
from pytest_homeassistant_custom_component import patch_time  # noqa: F401 - lets Home Assistant see moved time

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.benchmarks.house import home
from tests.benchmarks.rig import QUICK
from tests.benchmarks.table import show
from tests.blueprints.house import MovedHouse, london
from tests.first_night import Step, three_steps
from tests.teasel import UNUSED, held, registers

EVENING, NIGHT = "2026-01-14 20:10", "2026-01-15 01:01"
"""Before the steps, and half an hour before the cheap hours, when the automation plans."""


async def run() -> list[Step]:
    """Go the way. Raises RuntimeError where it does not end with the charge on the inverter."""
    frozen = freeze_time(london(EVENING), tick=True)
    clock = frozen.start()
    try:
        with tempfile.TemporaryDirectory() as folder:
            bench_clock = london(EVENING).replace(tzinfo=None)
            async with await Bench.start(**QUICK, clock=bench_clock) as bench, home(Path(folder)) as hass:
                await hass.config.async_set_time_zone("Europe/London")
                await bench.set(CHARGE[0].start, UNUSED)
                entry, steps = await three_steps(hass, bench.port)
                house = MovedHouse(hass=hass, bench=bench, entry=entry, clock=clock)
                await house.go(london(NIGHT) - timedelta(minutes=2))
                await house.go(london(NIGHT))
                watts = round(1000 * entry.options["battery"]["charge_kw"])
                if await held(bench) != registers("01:30", "04:30", watts, entry.options["battery"]["fallback_level"]):
                    raise RuntimeError("the night's charge is not on the inverter")
                await hass.config_entries.async_unload(entry.entry_id)
                return steps
    finally:
        frozen.stop()


def main() -> None:
    """Run and print."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    steps = asyncio.run(run())
    rows: list[list[object]] = [[one.name, one.shown, one.filled, len(one.buttons), one.presses] for one in steps]
    head = ("step", "fields shown", "filled in", "buttons", "presses")
    show("From an empty form to a planned night", head, rows)
    presses, filled = sum(one.presses for one in steps), sum(one.filled for one in steps)
    print(f"{presses} presses in {len(steps)} steps, {filled} of them fields, from an empty form to a planned night")


if __name__ == "__main__":
    main()
