"""The charge of the coming night: its hours, and its windows with and without a plan."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from ..core.planning import DatedPrice, Horizon, Prices, Tariff, cheapest_time, dated_over_tariff, tariff_prices

LEAST_LEFT = timedelta(minutes=10)
"""A charge that would begin later before the end of its hours is not worth a change of the schedule."""

EARLIER = timedelta(hours=12)
"""How far back to look for the beginning of hours that are cheap now."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Tonight:
    """What a night's charge is made from. Levels are in %."""

    start: str
    end: str
    """The hours to charge in, in the house's time, "HH:MM"."""

    given: bool
    """Whether the user gave these hours. A plan keeps to its own otherwise."""

    limit: Mapping[str, float]
    """The limit of a window that no plan made: `power` in W or `current` in A, or neither."""

    level: float | None = None
    """A fixed level; None: the plan's."""

    lowest_level: float = 0.0
    """The least to charge to, whatever a plan says."""

    fallback_level: float | None = None
    """The level to charge to without a plan."""


def tonight_windows(tonight: Tonight, plan: Mapping[str, Any] | None, lowest_stop: float) -> list[dict[str, Any]]:
    """Return the charge windows of a night as `apply_schedule` takes them; none where nothing is to be charged.

    `plan` is what `plan_charge` answers, None without a plan that knows the house. Below `lowest_stop` no window can stop.
    """
    if tonight.level is not None:
        return _in_hours(tonight, tonight.level, lowest_stop)
    if plan is None:
        return _in_hours(tonight, max(tonight.fallback_level or 0, tonight.lowest_level), lowest_stop)
    windows: Sequence[Mapping[str, Any]] = plan["windows"]
    if not windows:
        return _in_hours(tonight, tonight.lowest_level, lowest_stop)
    if tonight.given and all("stop_level" in window for window in windows):
        return _in_hours(tonight, max(plan["target_level"], tonight.lowest_level), lowest_stop)
    return [_at_least(window, tonight.lowest_level) for window in windows]


def _in_hours(tonight: Tonight, level: float, lowest_stop: float) -> list[dict[str, Any]]:
    if level < lowest_stop:
        return []
    return [{"start": tonight.start, "end": tonight.end, **tonight.limit, "stop_level": round(level)}]


def _at_least(window: Mapping[str, Any], level: float) -> dict[str, Any]:
    if "stop_level" not in window:
        return dict(window)
    return {**window, "stop_level": round(max(window["stop_level"], level))}


def cheap_hours(tariff: Tariff, dated: Sequence[DatedPrice], now: datetime) -> tuple[datetime, datetime]:
    """Return the cheapest hours of the coming day, aware; those of now where enough of them is left.

    A tariff with bands says which; one without goes by the dated prices. Raises BadTariff.
    """

    def prices(start: datetime) -> Prices:
        horizon = Horizon(start=start)
        return tariff_prices(tariff, horizon) if tariff.bands else dated_over_tariff(dated, tariff, horizon)[0]

    return _coming(prices, now)


def _coming(prices: Callable[[datetime], Prices], now: datetime) -> tuple[datetime, datetime]:
    begins, ends = cheapest_time(prices(now - EARLIER))
    if begins <= now and ends - now > LEAST_LEFT:
        return begins, ends
    begins, ends = cheapest_time(prices(now))
    return (begins, ends) if ends - now > LEAST_LEFT else cheapest_time(prices(ends))
