"""The sections by name. Those that cost little are made at every look; the others only when their inputs have changed."""

from collections.abc import Awaitable, Callable, Hashable, Mapping
from dataclasses import dataclass
from typing import Any

from .day_facts import DayFacts
from .expected import expected, expected_made_of
from .inverter_section import inverter, limits
from .occurrences import acting
from .past_course import past, past_made_of
from .price_steps import prices, prices_made_of
from .schedule_sections import draft, foreign, held, undo
from .state_sections import commit, order, plan, status

type Data = Any
"""JSON data."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Costly:
    """A section that takes a while to make. It is `empty` until it is first made."""

    made_of: Callable[[DayFacts], Hashable]
    make: Callable[[DayFacts], Awaitable[Data]]
    empty: Data = None


QUICK: Mapping[str, Callable[[DayFacts], Data]] = {
    "inverter": inverter,
    "limits": limits,
    "clock": lambda facts: facts.band.clock(),
    "band": lambda facts: facts.band.as_dict(),
    "held": held,
    "draft": draft,
    "acting": acting,
    "status": status,
    "order": order,
    "commit": commit,
    "plan": plan,
    "foreign": foreign,
    "undo": undo,
    "currency": lambda facts: facts.hass.config.currency,
}

COSTLY: Mapping[str, Costly] = {
    "prices": Costly(made_of=prices_made_of, make=prices, empty=[]),
    "past": Costly(made_of=past_made_of, make=past),
    "expected": Costly(made_of=expected_made_of, make=expected),
}
