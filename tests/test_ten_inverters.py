"""Ten inverters behind one gateway: one that is silent does not take the line from the others."""

import asyncio
from collections.abc import Callable
from itertools import pairwise
from statistics import median

from homeassistant.core import HomeAssistant

from custom_components.chargehand.coordinator import ChargehandCoordinator
from tests.bench.remote import Bench
from tests.conftest import AddInverter

INTERVAL = 2.0
"""Seconds between polls."""


def _counted(coordinator: ChargehandCoordinator, times: list[float]) -> Callable[[], None]:
    loop = asyncio.get_running_loop()
    return lambda: times.append(loop.time()) if coordinator.last_update_success else None


async def test_nine_keep_their_interval_while_the_tenth_is_silent(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    units = range(1, 11)
    async with await Bench.start(baud=115200, turnaround_ms=2, units=list(units)) as bench:
        polled: dict[int, list[float]] = {}
        coordinators: dict[int, ChargehandCoordinator] = {}
        for unit in units:
            # Slow polls would only make the figures coarser.
            entry = await add_inverter(
                bench.port, unit=unit, unique_id=f"T5-AM-2611-{41 + unit:04}", fast_seconds=INTERVAL
            )
            coordinators[unit] = entry.runtime_data
            polled[unit] = []
            entry.async_on_unload(entry.runtime_data.async_add_listener(_counted(entry.runtime_data, polled[unit])))
        await bench.inverter(answers=False, unit=10)
        # Until it is known to be silent, each of its requests is repeated.
        for _ in range(200):
            await asyncio.sleep(0.1)
            if not coordinators[10].last_update_success:
                break
        assert not coordinators[10].last_update_success
        for times in polled.values():
            times.clear()
        await asyncio.sleep(6 * INTERVAL)
        for unit in units[:-1]:
            times = polled[unit]
            gaps = [later - earlier for earlier, later in pairwise(times)]
            assert median(gaps) < 2 * INTERVAL, (unit, gaps)
            assert max(gaps) < 3 * INTERVAL, (unit, gaps)
        assert not polled[10]
        await bench.inverter(answers=True, unit=10)
        for _ in range(60):
            await asyncio.sleep(0.1)
            if polled[10]:
                break
        assert polled[10], "back within one poll"
