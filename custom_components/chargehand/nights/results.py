"""What came of the nights: levels as soon as the windows have ended, forecasts and savings when the meters have counted."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.util import dt as dt_util

from ..core.planning import Charge, MeteredDay, Prices, charge_bill, day_prices, earned, metered_steps, sound_hours
from ..house import KnownFrom, is_dark
from .house_meters import load_hours, solar_hours
from .nights import Figures, Missing, Night, Nights, Outcome
from .past_windows import LEVEL_HOLDS, Charged, PastWindows

HOUR = timedelta(hours=1)

METERED_AFTER = timedelta(minutes=15)
"""The statistics of an hour are there so long after its end."""

GIVEN_UP_AFTER = timedelta(hours=24)
"""A meter that has a gap may still fill it for so long."""

COMPARED_WITH = timedelta(days=60)
"""So much of a meter is looked at to recognise a jump of its counter."""


@callback
def follow_nights(nights: Nights, past: PastWindows, level: float | None) -> None:
    """Keep what a night's windows brought as soon as they have ended; `level` in % was just read."""
    now = dt_util.utcnow()
    acting = bool(past.running)
    for at, night in enumerate(nights.nights):
        figures = night.figures
        if night.final or figures is None or now < (night.until if acting else night.ends):
            continue
        acted = _acted(nights.nights, at, past)
        if night.outcome is None or night.outcome.windows != len(acted):
            seen = level if now - night.ends <= LEVEL_HOLDS else None
            nights.change(night, outcome=_seen(night, figures, acted, seen))


def _acted(nights: Sequence[Night], at: int, past: PastWindows) -> list[Charged]:
    """Windows of the night in this place: those that end in its 24 hours and before the next night's begin."""
    night = nights[at]
    last = min(night.until, nights[at + 1].begins) if at + 1 < len(nights) else night.until
    acted = past.of(night.planned_at, last)
    # One that acted already when the plan was made counts from there.
    return [
        replace(one, start=night.planned_at, begun=night.level) if one.start < night.planned_at else one
        for one in acted
    ]


def _charges(night: Night, figures: Figures, acted: Sequence[Charged]) -> list[Charge] | None:
    """Return what each window stored, at the power that was planned for it; None where a level was not seen."""
    found = []
    for one in acted:
        if one.begun is None or one.reached is None:
            return None
        kwh = max(figures.battery.energy(one.reached - one.begun), 0.0)
        found.append(Charge(start=one.start, end=one.end, kwh=kwh, power_kw=_planned_power(night, one)))
    return found


def _planned_power(night: Night, acted: Charged) -> float | None:
    """Return the power in kW of the planned window that a window overlaps most; None where it overlaps none: it was set by hand."""
    best, power = timedelta(), None
    for window in night.windows:
        start = _next(night.start, window["start"])
        end = _next(start, window["end"])
        together = min(end, acted.end) - max(start, acted.start)
        if together > best:
            best, power = together, window["power"] / 1000
    return power


def _next(moment: datetime, clock: str) -> datetime:
    """Return when the house's clock shows a time next, in UTC."""
    local = moment.astimezone(dt_util.get_default_time_zone())
    at = datetime.combine(local.date(), time.fromisoformat(clock), local.tzinfo)
    if at.astimezone(UTC) < moment:
        at += timedelta(days=1)
    return at.astimezone(UTC)


def _seen(night: Night, figures: Figures, acted: Sequence[Charged], level: float | None) -> Outcome:
    """Return what is known when the windows have ended."""
    charges = _charges(night, figures, acted)
    reached = acted[-1].reached if acted else level
    if charges is None:
        return Outcome(windows=len(acted), level_reached=reached, grid_charge_kwh=None, cost=None)
    taken = charge_bill(figures.battery, _prices(night, figures), charges, figures.limits)
    return Outcome(windows=len(acted), level_reached=reached, grid_charge_kwh=taken.grid_kwh, cost=taken.cost)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Meters:
    """Sound hours in kWh, by start in UTC; None where no meter is named."""

    load: Mapping[datetime, float] | None
    solar: Mapping[datetime, float] | None


async def settle_nights(hass: HomeAssistant, entry: ConfigEntry, nights: Nights, past: PastWindows) -> bool:
    """Compare forecasts with what came, and calculate what charges earned, as far as the meters have values.

    Return whether there was anything to look at.
    """
    async with nights.settling:
        return await _settle(hass, entry, nights, past)


async def _settle(hass: HomeAssistant, entry: ConfigEntry, nights: Nights, past: PastWindows) -> bool:
    now = dt_util.utcnow()
    compare = [one for one in nights.nights if _to_compare(one, now)]
    calculate = [
        one for one in nights.nights if not one.final and one.outcome is not None and one.until + METERED_AFTER <= now
    ]
    if not compare and not calculate:
        return False
    oldest = min(one.start for one in (*compare, *calculate))
    meters = await _meters(hass, entry, min(oldest, now) - COMPARED_WITH)
    for night in calculate:
        if night not in nights.nights:
            # Something became known of it while the meters were read; the next look takes it.
            continue
        outcome = await _outcome(hass, night, _acted(nights.nights, nights.nights.index(night), past), meters)
        if outcome is not None:
            nights.change(night, outcome=outcome)
    for night in [one for one in nights.nights if _to_compare(one, now)]:
        kwh = _day_energy(hass, night, meters.solar)
        if kwh is not None:
            nights.change(night, actual_kwh=kwh)
        elif now > _day_hours(night)[-1] + HOUR + GIVEN_UP_AFTER:
            nights.change(night, not_compared=True)
    return True


def _to_compare(night: Night, now: datetime) -> bool:
    open_ = night.forecast_kwh is not None and night.actual_kwh is None and not night.not_compared
    return open_ and _day_hours(night)[-1] + HOUR + METERED_AFTER <= now


async def _meters(hass: HomeAssistant, entry: ConfigEntry, first: datetime) -> _Meters:
    load, known = await load_hours(hass, entry, first)
    solar = await solar_hours(hass, entry, first)
    return _Meters(
        load=None if known is KnownFrom.NONE else sound_hours(load), solar=None if solar is None else sound_hours(solar)
    )


async def _outcome(hass: HomeAssistant, night: Night, acted: Sequence[Charged], meters: _Meters) -> Outcome | None:
    """Return what a night earned, or why that cannot be said; None where the meters may still count it."""
    figures, seen = night.figures, night.outcome
    if figures is None or seen is None:
        return None
    charges = _charges(night, figures, acted)
    if charges is None:
        return replace(seen, missing=Missing.LEVEL)
    # What others made the inverter do is not Chargehand's to count; a window in which the battery only rested is.
    counted = [
        (charge, one.begun)
        for charge, one in zip(charges, acted, strict=True)
        if one.confirmed and one.begun is not None
    ]
    if not counted:
        return replace(seen, saving=0.0)
    charges, first_level = [charge for charge, _ in counted], counted[0][1]
    prices = _prices(night, figures)
    load = None if meters.load is None else metered_steps(meters.load, prices.horizon)
    hours = [night.start.replace(minute=0) + at * HOUR for at in range(-1, 25)]
    solar = metered_steps(_lit(hass, hours, _sun(night, meters)), prices.horizon)
    if load is None or solar is None:
        missing = Missing.LOAD if load is None else Missing.SOLAR
        return replace(seen, missing=missing) if dt_util.utcnow() > night.until + GIVEN_UP_AFTER else None
    day = MeteredDay(prices=prices, load=load, solar=solar)
    # Numbers for some hundredths of a second: not on the event loop.
    found = await hass.async_add_executor_job(earned, figures.battery, day, first_level, charges, figures.limits)
    return replace(seen, grid_charge_kwh=found.bill.grid_kwh, cost=found.bill.cost, saving=found.saving)


def _sun(night: Night, meters: _Meters) -> Mapping[datetime, float]:
    """Return the solar energy by the hour; without a meter and with nothing expected there are no panels."""
    if meters.solar is not None:
        return meters.solar
    none = night.solar_kwh == 0
    return {night.start.replace(minute=0) + at * HOUR: 0.0 for at in range(-1, 25)} if none else {}


def _lit(hass: HomeAssistant, hours: Sequence[datetime], known: Mapping[datetime, float]) -> dict[datetime, float]:
    """Return these hours as known, and 0 for those without sun that a meter does not count: many sleep at night."""
    dark = {hour: 0.0 for hour in hours if hour not in known and is_dark(hass, hour)} if known else {}
    return {hour: known[hour] for hour in hours if hour in known} | dark


def _day_hours(night: Night) -> list[datetime]:
    """Return the hours of a night's main day, in UTC."""
    zone = dt_util.get_default_time_zone()
    begun, ended = (
        datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)
        for day in (night.day, night.day + timedelta(days=1))
    )
    begun = begun.replace(minute=0)
    return [begun + at * HOUR for at in range(round((ended - begun) / HOUR))]


def _day_energy(hass: HomeAssistant, night: Night, solar: Mapping[datetime, float] | None) -> float | None:
    """Return the solar energy in kWh of a night's main day; None with a gap."""
    hours = _day_hours(night)
    known = _lit(hass, hours, solar or {})
    return sum(known.values()) if len(known) == len(hours) else None


def _prices(night: Night, figures: Figures) -> Prices:
    return day_prices(
        night.start.astimezone(dt_util.get_default_time_zone()), figures.buy, figures.sell, figures.minutes
    )
