"""The last nights: planned by Chargehand's own planner from what the house knew then, charged by the bench's battery.

What they saved is not written here: Chargehand calculates it from the meters, as in any house.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Any

from homeassistant.core import HomeAssistant

from custom_components.chargehand.core.order import last_shown, next_shown
from custom_components.chargehand.core.planning import Limits
from custom_components.chargehand.house import KnownFrom, Outdoor
from custom_components.chargehand.nights import Nights, PastWindows, PlanInputs, planned, planned_night
from custom_components.chargehand.nights.past_windows import Charged
from custom_components.chargehand.nights.planned_night import CalculatedPlan
from custom_components.chargehand.store import EntryStore

from .folder import LATITUDE
from .forms import NIGHT, OPTIONS
from .past import Past
from .weather import ZONE

WEEKS = timedelta(weeks=6)

NIGHTS = 4
"""Of the last one, the saving is known when its 24 hours are over; of the others it is."""

LEAD = timedelta(minutes=30)
"""So long before the cheap hours the automation plans."""

LIMITS = Limits(windows=4, step_minutes=1, splits_at_midnight=False, lowest_stop_level=10.0, most_kw=5.0)
"""Of the charge windows of a Teasel T5."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Lived:
    """The inverter as it is now, and the nights that Chargehand has planned: the plans, and what their windows brought."""

    past: Past
    plans: Sequence[CalculatedPlan]
    charged: Sequence[Charged]


def live_through(now: datetime) -> Lived:
    """Return the six weeks before an aware moment; Chargehand was there in the last nights of them. Takes seconds."""
    past = Past((now - WEEKS).replace(minute=0, second=0, microsecond=0))
    plans, charged = list[CalculatedPlan](), list[Charged]()
    for moment in evenings(now):
        past.run_to(moment)
        plans.append(_plan(past))
        charged += _charge(past, plans[-1].answer["windows"])
    past.run_to(now)
    return Lived(past=past, plans=plans, charged=charged)


def evenings(now: datetime) -> list[datetime]:
    """Return when the last nights were planned whose cheap hours are over, oldest first, in UTC."""
    start, end = (time.fromisoformat(NIGHT[edge]) for edge in ("start", "end"))
    found, before = list[datetime](), now
    while len(found) < NIGHTS:
        before = last_shown(start, last_shown(end, before, ZONE), ZONE)
        found.insert(0, before - LEAD)
    return found


def _plan(past: Past) -> CalculatedPlan:
    inputs = PlanInputs(
        options=OPTIONS,
        asked={},
        now=past.now.astimezone(ZONE),
        latitude=LATITUDE,
        level=float(past.level),
        limits=LIMITS,
        prices=(),
        load=past.hourly("load_energy"),
        load_from=KnownFrom.SENSOR,
        outdoor=Outdoor(),
        solar=past.hourly("solar_energy"),
        forecast={},
        pairs=(),
    )
    return planned(inputs)


def _charge(past: Past, windows: Sequence[Mapping[str, Any]]) -> list[Charged]:
    """Let windows act, one after the other, and return what Chargehand sees of it."""
    past.hold(windows)
    charged = []
    for number, window in enumerate(windows, start=1):
        start = next_shown(time.fromisoformat(window["start"]), past.now - timedelta(minutes=1), ZONE)
        end = next_shown(time.fromisoformat(window["end"]), start, ZONE)
        past.run_to(start)
        begun = float(past.level)
        past.run_to(end)
        charged.append(
            Charged(
                number=number,
                scheduled=start.astimezone(ZONE).replace(tzinfo=None),
                start=start.astimezone(UTC),
                end=end.astimezone(UTC),
                wanted=float(window["stop_level"]),
                begun=begun,
                reached=float(past.level),
                confirmed=True,
            )
        )
    return charged


async def keep_nights(hass: HomeAssistant, entry_id: str, lived: Lived) -> None:
    """Write the nights into the file of an entry that is not running, as Chargehand does."""
    store = EntryStore(hass, entry_id)
    await store.load()
    nights, windows = Nights(store.section("nights")), PastWindows(store.section("windows"))
    for made in lived.plans:
        made.explain(hass.config.currency)
        nights.nights.append(planned_night(made))
    windows.past.extend(lived.charged)
    await store.close()
