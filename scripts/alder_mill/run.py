"""The demo from start to end."""

import asyncio
import signal
import time
from argparse import Namespace
from contextlib import suppress

from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from .bench import Bench
from .faults import DemoFailed
from .folder import alone, check_port, make_house
from .forms import add_inverter
from .home import start_home_assistant
from .house import bring_up_to_date, charge_tonight, live_on, tell_past
from .nights import live_through
from .receipt import print_receipt, put_schedule
from .tonight import print_nights, print_tonight


async def run(arguments: Namespace) -> None:
    """Run the demo. Raises DemoFailed, or what Home Assistant raises."""
    started = time.monotonic()
    check_port(arguments.port)
    with alone():
        async with Bench.started() as bench:
            hass: HomeAssistant | None = None
            try:
                config = make_house(arguments.port)
                bench.publish()
                print("Starting Home Assistant at Alder Mill ...", flush=True)
                if arguments.once:
                    hass = await start_home_assistant(config)
                    receipt = await put_schedule(hass, await add_inverter(hass, bench.port))
                    print_receipt("Tonight's schedule is on the inverter:", receipt)
                else:
                    lived = await asyncio.to_thread(live_through, dt_util.utcnow())
                    hass = await start_home_assistant(config)
                    samples = await bring_up_to_date(hass, bench, lived)
                    device_id = await add_inverter(hass, bench.port)
                    await tell_past(hass, lived, samples)
                    print_tonight(await charge_tonight(hass, device_id))
                    print_nights(hass)
                    living = asyncio.create_task(live_on(bench))
                    print(
                        f"\nIt took {time.monotonic() - started:.0f} s to get here.\n"
                        f"Dashboard: http://127.0.0.1:{arguments.port} (user demo, password demo); Ctrl-C ends it.",
                        flush=True,
                    )
                    await until_interrupted()
                    living.cancel()
                    with suppress(asyncio.CancelledError):
                        await living
            finally:
                if hass is not None:
                    await hass.async_stop(force=True)
    if arguments.once:
        if receipt["outcome"] not in ("confirmed", "unchanged"):
            raise DemoFailed(f"the receipt says {receipt['outcome']}")
        print(f"{receipt['outcome']} in {receipt['seconds']:.2f} s")


async def until_interrupted() -> None:
    """Wait for Ctrl-C, or for a signal to end."""
    ended = asyncio.Event()
    for signal_ in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(signal_, ended.set)
    await ended.wait()
