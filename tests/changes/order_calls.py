"""What tests of orders ask of a house again and again."""

from contextlib import suppress
from datetime import timedelta
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.attempt_spacing import AttemptSpacing
from custom_components.chargehand.core.modbus import LineError
from tests.bench.remote import Bench
from tests.calls import state
from tests.changes.test_schedule_monitor import poll
from tests.waiting import until


def hence(**time: float) -> str:
    """A moment from now, as a user writes it."""
    return (dt_util.now() + timedelta(**time)).isoformat(timespec="seconds")


def order(hass: HomeAssistant) -> dict[str, Any]:
    """The order's state and attributes."""
    shown = state(hass, "sensor", "order")
    return {"state": shown.state, **shown.attributes}


async def poll_later(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    """Poll when attempts have rested long enough."""
    entry.runtime_data.orders._spacing = AttemptSpacing()
    await poll(hass, entry)


async def answers_again(entry: MockConfigEntry, bench: Bench) -> None:
    """The gateway is there again, and answers; no poll has found out yet."""

    async def answers() -> bool:
        with suppress(LineError):
            await entry.runtime_data.inverter.read_schedule()
            return True
        return False

    await bench.gateway(down=False)
    await until(answers)
