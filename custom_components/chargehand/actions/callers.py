"""Who asked for a change, as far as the platform's context says."""

from collections import OrderedDict

from homeassistant.const import ATTR_ENTITY_ID
from homeassistant.core import Context, Event, HomeAssistant, callback
from homeassistant.util.hass_dict import HassKey

from ..messages import text

ASKERS = ("automation", "script")
NOBODY = "by_nobody"
"""The text for an asker that is not known."""

RUNS: HassKey[OrderedDict[str, str]] = HassKey("chargehand_runs")
"""Automations and scripts by the id of a run's context."""

RUN_STARTED = ("automation_triggered", "script_started")
RUNS_KEPT = 200


@callback
def follow_runs(hass: HomeAssistant) -> None:
    """Know from now on which automation or script a run belongs to, also while another run of it has begun since."""
    runs = hass.data.setdefault(RUNS, OrderedDict())

    @callback
    def keep(event: Event) -> None:
        runs[event.context.id] = event.data[ATTR_ENTITY_ID]
        if len(runs) > RUNS_KEPT:
            runs.popitem(last=False)

    for started in RUN_STARTED:
        hass.bus.async_listen(started, keep)


async def caller(hass: HomeAssistant, context: Context | None, via: str) -> str:
    """Return an automation or script, else a user, then what it went through: `automation.winter (action apply_schedule)`."""
    return f"{await _asker(hass, context)} ({via})"


def asker(by: str) -> str | None:
    """Return the automation, script or user of what `caller` has returned; None where none is known."""
    who = by.partition(" (")[0]
    return None if who == text(NOBODY) else who


async def _asker(hass: HomeAssistant, context: Context | None) -> str:
    if context is None:
        return text(NOBODY)
    runs = hass.data.get(RUNS) or OrderedDict[str, str]()
    for context_id in (context.id, context.parent_id):
        if context_id is not None and context_id in runs:
            return runs[context_id]
    for domain in ASKERS:
        for state in hass.states.async_all(domain):
            # A run writes its own context to its entity before it calls anything.
            if state.context.id in (context.id, context.parent_id):
                return state.entity_id
    if context.user_id is not None:
        user = await hass.auth.async_get_user(context.user_id)
        if user is not None and user.name:
            return user.name
    return text(NOBODY)
