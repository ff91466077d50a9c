"""The house that has lived: its past in the recorder, its last nights, tonight on the inverter, and the automation for the nights to come."""

import asyncio
from collections.abc import Sequence
from typing import Any

from homeassistant.components.recorder import get_instance
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from custom_components.chargehand.actions.plan_charge import plan_inputs

from .automation import put_automation
from .bench import Bench
from .faults import DemoFailed
from .forms import OPTIONS, fill_in_options
from .history import import_past, set_up_energy, show_last_day, states_now
from .house_time import HouseTime
from .nights import LIMITS, Lived, keep_nights
from .past import CHARGE_WINDOWS, Sample
from .receipt import act
from .weather import STEP, powers


async def bring_up_to_date(hass: HomeAssistant, bench: Bench, lived: Lived) -> list[Sample]:
    """Let the bench's inverter be what the past has made of it, and hand its past to the recorder. Return that in samples."""
    await weather(bench)
    past = lived.past
    await hass.async_add_executor_job(past.run_to, dt_util.utcnow())
    totals = await bench.ask("battery", level=past.exact_level)
    await bench.ask("set", first=CHARGE_WINDOWS, values=past.held)
    samples = past.ending_at({name: totals[f"{name}_wh"] for name in past.counters})
    import_past(hass, samples)
    return samples


async def tell_past(hass: HomeAssistant, lived: Lived, samples: Sequence[Sample]) -> None:
    """Fill in the options, and let Chargehand find its nights, and the page the last day."""
    entry: ConfigEntry = hass.config_entries.async_entries("chargehand")[0]
    await fill_in_options(hass, entry)
    inputs = await plan_inputs(entry.runtime_data, {})
    if inputs.limits != LIMITS or not OPTIONS.items() <= entry.options.items():
        raise DemoFailed("the nights were planned with other options than the forms have made")
    states = states_now(hass)
    # Nobody may count or follow while the past is told.
    await hass.config_entries.async_unload(entry.entry_id)
    show_last_day(hass, states, samples)
    await keep_nights(hass, entry.entry_id, lived)
    await get_instance(hass).async_block_till_done()
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await set_up_energy(hass)


async def charge_tonight(hass: HomeAssistant, device_id: str) -> dict[str, Any]:
    """Charge for tonight as the owner asks for it, and let the automation do it from now on. Return the answer with plan and receipt."""
    answer = await act(hass, "charge_tonight", device_id, {"when": "pays"})
    if answer["outcome"] not in ("confirmed", "unchanged"):
        raise DemoFailed(f"tonight's charge is {answer['outcome']}: {answer.get('why')}")
    await put_automation(hass, device_id)
    return answer


async def weather(bench: Bench) -> None:
    """Let the house use and its roof give what the weather has for it now."""
    load, solar = powers(dt_util.utcnow())
    await bench.ask("house", load=load, solar=solar)


async def live_on(bench: Bench, house_time: HouseTime) -> None:
    """Go on with the weather, every five minutes of the house's time. Never ends."""
    while True:
        await weather(bench)
        seconds = STEP.total_seconds()
        await asyncio.sleep((seconds - house_time.timestamp() % seconds) / house_time.speed)
