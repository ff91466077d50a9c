"""The action that reports in the morning what the night's charge brought, and why it was short. Nothing is written."""

import asyncio
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import voluptuous as vol
from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.util import dt as dt_util

from ..changes import ScheduleEvent, ScheduleStatus
from ..coordinator import ChargehandCoordinator
from ..core.inverter import Subscription, acting, level_of
from ..core.night_facts import NightCharge, NightFacts, NightPlan
from ..core.schedule import Schedule
from ..core.short_night import short_reason
from ..messages import NightReport, lowest_level_report, night_report
from ..nights import Night
from .failures import translated
from .numbers import number

NIGHT = timedelta(hours=14)
"""How far back a night goes, from the morning."""

NOT_TAKEN_WITHIN = timedelta(hours=18)
"""A change that did not take longer ago was not for this night."""

FOLLOWED_WITHIN = timedelta(minutes=2)
"""A night whose last window has just ended is known at one of the next polls."""

DEFAULT_TOLERANCE = 3

NOTHING_KNOWN = NightFacts(level_now=None, plan=None, charges=(), held=None)

REPORT_FIELDS = {
    vol.Optional("tolerance", default=DEFAULT_TOLERANCE): vol.All(number, vol.Range(0, 100)),
    vol.Optional("lowest_level"): vol.All(number, vol.Range(0, 100)),
}


async def report_night(coordinator: ChargehandCoordinator, data: Mapping[str, Any], _by: str) -> dict[str, Any]:
    """Return what is known of last night's charge, in figures and in words."""
    return _answer(coordinator.hass, await _facts(coordinator, dt_util.now()), data)


@callback
def report_not_running(hass: HomeAssistant, data: Mapping[str, Any], _fault: HomeAssistantError) -> dict[str, Any]:
    """Return the report of an inverter that is not running. That is worth one too: its battery may not be charged."""
    return _answer(hass, NOTHING_KNOWN, data)


def _answer(hass: HomeAssistant, facts: NightFacts, data: Mapping[str, Any]) -> dict[str, Any]:
    currency, plan, held = hass.config.currency, facts.plan, facts.held
    short, report = _judged(facts, data, currency)
    return {
        "short": short,
        "title": report.title,
        "message": report.message,
        "reason": report.reason,
        "level": facts.level_now if "lowest_level" in data else facts.level,
        "reached": facts.reached,
        "planned": facts.planned,
        "grid_charge_kwh": facts.grid_charge_kwh,
        "cost": None if plan is None else plan.cost,
        "saving": None if plan is None else plan.saving,
        "expected_saving": None if plan is None else plan.expected_saving,
        "currency": currency,
        "why": None if plan is None else plan.why,
        "holds": report.holds,
        "set_to_charge": None if held is None else held.armed is not False and any(one.used for one in held.charge),
    }


def _judged(facts: NightFacts, data: Mapping[str, Any], currency: str) -> tuple[bool, NightReport]:
    """Return whether the night was short, and the report that says so or not."""
    lowest: float | None = data.get("lowest_level")
    if lowest is None:
        tolerance: float = data["tolerance"]
        least = None if facts.planned is None else facts.planned - tolerance
        short = facts.level is None or facts.lower(tolerance) or facts.disturbed
        return short, night_report(facts, short_reason(facts, facts.level, least) if short else None, currency)
    level = facts.level_now
    if lowest > 0 and (level is None or level < lowest):
        return True, lowest_level_report(facts, short_reason(facts, level, lowest), lowest)
    return False, night_report(facts, None, currency)


async def _night(coordinator: ChargehandCoordinator, now: datetime) -> Night | None:
    """Return the night that was planned last evening; None without a plan. Wait for one whose windows have just ended."""
    evening = (now - timedelta(days=1)).date()
    known = asyncio.Event()

    @callback
    def look() -> None:
        night = _planned(coordinator, evening)
        if night is None or night.outcome is not None or night.ends > now + FOLLOWED_WITHIN:
            known.set()

    stop = coordinator.async_add_listener(look, Subscription(needs=frozenset()))
    try:
        look()
        async with asyncio.timeout(FOLLOWED_WITHIN.total_seconds()):
            await known.wait()
    except TimeoutError:
        # What is not known is reported as not known.
        pass
    finally:
        stop()
    return _planned(coordinator, evening)


def _planned(coordinator: ChargehandCoordinator, evening: date) -> Night | None:
    return next((one for one in reversed(coordinator.nights.nights) if one.evening == evening), None)


async def _held(coordinator: ChargehandCoordinator) -> Schedule | None:
    """Return the schedule, read from the inverter now; None where it cannot be read."""
    try:
        with translated(coordinator):
            return await coordinator.inverter.read_schedule()
    except HomeAssistantError:
        # The report says it.
        return None


async def _facts(coordinator: ChargehandCoordinator, now: datetime) -> NightFacts:
    # Taken before anything is waited for.
    level_now = level_of(coordinator.data) if coordinator.last_update_success else None
    night = await _night(coordinator, now)
    held = await _held(coordinator)
    data, state = coordinator.data, coordinator.monitor.state
    answers = coordinator.last_update_success
    times = acting(coordinator.inverter, replace(data, schedule=held), now - NIGHT, now)
    flags = coordinator.inverter.map.readings
    values = {key: value for key, value in data.values.items() if key in flags and isinstance(value, tuple)}
    return NightFacts(
        level_now=level_now,
        plan=None if night is None else _plan(night),
        charges=[NightCharge(wanted=one.wanted, reached=one.reached) for one in coordinator.past.of(now - NIGHT, now)],
        held=held,
        ended=[one for one in times if one.end <= now],
        acting=any(one.end > now for one in times),
        unproven=state.status is ScheduleStatus.UNCONFIRMED,
        changed_elsewhere=state.what if state.status is ScheduleStatus.CHANGED_ELSEWHERE else None,
        not_taken=_not_taken(coordinator, now),
        clock_ahead=(data.clock_offset or 0.0) if answers else 0.0,
        alarms=[text for value in values.values() for text in value] if answers else [],
    )


def _plan(night: Night) -> NightPlan:
    outcome = night.outcome
    return NightPlan(
        charges=bool(night.windows),
        target_level=night.target_level,
        expected_saving=night.saving,
        why=night.why,
        level_reached=None if outcome is None else outcome.level_reached,
        grid_charge_kwh=None if outcome is None else outcome.grid_charge_kwh,
        cost=None if outcome is None else outcome.cost,
        saving=None if outcome is None else outcome.saving,
    )


def _not_taken(coordinator: ChargehandCoordinator, now: datetime) -> str | None:
    last = coordinator.activity_log.last
    if last is None or last.event is not ScheduleEvent.RESTORED or now - last.at > NOT_TAKEN_WITHIN:
        return None
    return last.message
