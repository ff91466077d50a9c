"""What is expected under the schedule that the inverter holds."""

from collections.abc import Hashable
from typing import Any

from homeassistant.exceptions import HomeAssistantError

from ..core.inverter import clock_ahead, level_of
from ..messages import ended
from .day_facts import DayFacts
from .price_steps import prices_made_of
from .rehearsals import rehearsals_of


def expected_made_of(facts: DayFacts) -> Hashable:
    """Return what the course goes by: the time, schedule, level in whole % and prices."""
    level = level_of(facts.known.snapshot)
    return (
        facts.ticks,
        facts.available,
        facts.held,
        clock_ahead(facts.known.snapshot),
        facts.shift,
        None if level is None else round(level),
        prices_made_of(facts),
    )


async def expected(facts: DayFacts) -> dict[str, Any] | None:
    """Return the expected course, or `why` there is none: too little is known of house, battery or prices.

    None while the inverter does not answer, which the card says anyway.
    """
    if facts.coordinator is None or not facts.available or facts.held is None:
        return None
    try:
        return (await rehearsals_of(facts.coordinator).under(facts.coordinator, facts.held)).as_dict()
    except HomeAssistantError as fault:
        return {"why": ended(str(fault))}
