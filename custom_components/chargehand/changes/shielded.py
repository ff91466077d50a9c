"""What must not be left half done once it was begun, whoever gives up waiting for it."""

import asyncio
from collections.abc import Coroutine
from typing import Any

from homeassistant.core import HomeAssistant


async def shielded[Result](hass: HomeAssistant, work: Coroutine[Any, Any, Result]) -> Result:
    """Do it to its end, then return its result or be cancelled. Raises what it raises.

    A script that is stopped or started again cancels what it asked for, and so does a stop of Home Assistant with polls.
    """
    task = hass.async_create_task(work)
    try:
        await asyncio.wait([task])
    except asyncio.CancelledError:
        await asyncio.wait([task])
        if not task.cancelled():
            # Nobody waits for its result any more; what matters of it is reported where it is done.
            task.exception()
        raise
    return task.result()
