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
from .house_time import HouseLoop, HouseTime
from .nights import live_through
from .page_clock import tell_page
from .receipt import print_receipt, put_schedule
from .tonight import print_nights, print_tonight
from .weather import ZONE

WAYS_IN = """
Play with it from another terminal:
  scripts/demo --other-hand "charge 02:00-04:00"    another hand changes the inverter
  scripts/demo --gateway away                       the gateway vanishes
  scripts/demo --gateway back                       and comes back
"""
"""How to do to the running demo what happens to inverters."""


async def run(arguments: Namespace, house_time: HouseTime) -> None:
    """Run the demo. Raises DemoFailed, or what Home Assistant raises."""
    started = time.monotonic()
    check_port(arguments.port)
    with alone():
        async with Bench.started(house_time.now(ZONE)) as bench:
            hass: HomeAssistant | None = None
            try:
                config = make_house(arguments.port)
                # Its process took a moment to start.
                await bench.ask("clock", local=house_time.now(ZONE).replace(tzinfo=None).isoformat())
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
                    await hurry(hass, bench, house_time, arguments.speed)
                    living = asyncio.create_task(live_on(bench, house_time))
                    print(
                        f"\nIt took {time.monotonic() - started:.0f} s to get here.\n{WAYS_IN}\n"
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


async def hurry(hass: HomeAssistant, bench: Bench, house_time: HouseTime, speed: int) -> None:
    """Let the time of the house pass at this speed: on the bench, in Home Assistant, and in pages that are opened from here on."""
    loop = asyncio.get_running_loop()
    assert isinstance(loop, HouseLoop)
    if speed != 1:
        await bench.ask("speed", speed=speed)
        loop.set_speed(speed)
        print(
            f"\nFrom here the house's time passes {speed} times as fast; it is {house_time.now(ZONE):%H:%M:%S} there."
        )
    if house_time.is_told:
        await tell_page(hass, house_time)


async def until_interrupted() -> None:
    """Wait for Ctrl-C, or for a signal to end."""
    ended = asyncio.Event()
    for signal_ in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(signal_, ended.set)
    await ended.wait()
