"""Why a plan is as it is."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from .battery import Battery
from .candidates import Slot, SlotSet
from .expected_course import Ahead, ExpectedCourse, expected_course
from .feasible import runs
from .history import main_day
from .horizon import Horizon
from .local_search import best_windows
from .objective import Objective
from .reason import Covered, HeldBack, PlanReason, PricePair, ReasonKey
from .scenarios import Scenarios
from .tariff import Floats, Prices

CHARGES_KWH = 0.05
"""A plan whose windows take less from the grid only holds."""
LACKS_SHARE = 0.05
"""Expensive hours lack energy when they buy more than this share of the day's load."""
ALL_THE_TIME = 0.98
"""Windows that charge this share of what all worthy hours could use all their time."""
REACHED_PERCENT = 1.5
"""A stop level missed by less counts as reached."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class PlanResult:
    """All that a plan is explained by."""

    level: float
    prices: Prices
    scenarios: Scenarios
    objective: Objective
    ahead: Ahead
    slots: SlotSet
    with_windows: ExpectedCourse
    without: ExpectedCourse

    @property
    def battery(self) -> Battery:
        """The battery."""
        return self.objective.feasible.battery

    @property
    def charge(self) -> Floats:
        """What the windows charge in each step of the coming day, at the meter."""
        return self.with_windows.charge[: self.ahead.steps]

    @property
    def charge_kwh(self) -> float:
        """The same in all."""
        return float(self.charge.sum())

    @property
    def target(self) -> float:
        """Highest stop level in %; the level now where there is no window."""
        return float(max((slot.stop for slot in self.slots), default=self.level))

    @property
    def saving(self) -> float:
        """What the windows save on the bill."""
        return self.without.paid - self.with_windows.paid

    @property
    def left_gain(self) -> float:
        """What is left at the end is worth so much more than without the windows."""
        return self.with_windows.left - self.without.left

    @property
    def wear_cost(self) -> float:
        """Wear that the windows add."""
        return self.with_windows.wear - self.without.wear


def reason(result: PlanResult) -> PlanReason:
    """Return why the plan is as it is, in numbers."""
    horizon = result.prices.horizon
    day = main_day(horizon)
    there = np.array([start.date() == day for start in horizon.starts])
    need = float((result.scenarios.weights @ result.scenarios.load)[there].sum())
    charges = result.charge_kwh > CHARGES_KWH
    buy_now = float(result.charge @ result.prices.buy[: result.ahead.steps]) / result.charge_kwh if charges else None
    pair = _best_pair(result)
    lack = _lack(result, pair, buy_now)
    lacks = lack > LACKS_SHARE * max(need, CHARGES_KWH)
    buy_later = _spared_price(result, buy_now)
    if result.slots:
        key = ReasonKey.CHARGE if charges else ReasonKey.HOLD
        held_back = _held_back(result, buy_later) if lacks else HeldBack.NOTHING
    elif not result.battery.worth_it(pair.buy, pair.later_buy):
        key, held_back = ReasonKey.NOT_WORTH_IT, HeldBack.PRICES
    elif lacks:
        key, held_back = ReasonKey.NOT_WORTH_IT, _kept_from_any(result)
    else:
        key, held_back = ReasonKey.NO_NEED, HeldBack.NOTHING
    return PlanReason(
        key=key,
        held_back=held_back,
        day=day,
        tomorrow=day != horizon.starts[0].date(),
        covered=_covered(horizon),
        end=horizon.end,
        need_kwh=need,
        solar_kwh=float((result.scenarios.weights @ result.scenarios.solar)[there].sum()),
        level=result.level,
        stop_level=result.target,
        reached_level=_reached(result),
        grid_charge_kwh=result.charge_kwh,
        lack_kwh=lack,
        buy_now=buy_now,
        buy_later=buy_later,
        prices=pair,
        saving=result.saving,
        left_gain=result.left_gain,
        wear_cost=result.wear_cost,
        wears=result.battery.wear > 0,
    )


def _covered(horizon: Horizon) -> Covered:
    """Return how much of the main day is in the horizon."""
    day, zone = main_day(horizon), horizon.start.tzinfo
    midnights = [
        datetime.combine(day + timedelta(days=ahead), datetime.min.time(), zone).astimezone(UTC) for ahead in (0, 1)
    ]
    if horizon.starts[0].astimezone(UTC) > midnights[0]:
        return Covered.FROM_NOW
    return Covered.ALL if horizon.end.astimezone(UTC) >= midnights[1] else Covered.UNTIL


def _best_pair(result: PlanResult) -> PricePair:
    """Return a step of the coming day and a later one, within a day of it, between which a charge would bring the most."""
    battery, buy, day = result.battery, result.prices.buy, result.ahead.steps
    efficiency = battery.charge_efficiency * battery.discharge_efficiency
    best = (-np.inf, 0, 1)
    for step in range(min(day, len(buy) - 1)):
        later = step + 1 + int(np.argmax(buy[step + 1 : step + 1 + day]))
        best = max(best, (float(buy[later] - buy[step] / efficiency), step, later), key=lambda one: one[0])
    _, step, later = best
    horizon = result.prices.horizon
    return PricePair(buy=float(buy[step]), at=horizon.at(step), later_buy=float(buy[later]), later_at=horizon.at(later))


def _lack(result: PlanResult, pair: PricePair, buy_now: float | None) -> float:
    """Return what is expected to be bought in hours for which a charge would pay by their prices.

    A charge serves the 24 hours from its window on: what is bought before, it could not have spared.
    """
    buy, day = result.prices.buy, result.ahead.steps
    cheap = pair.buy if buy_now is None else buy_now
    first = min((slot.begin for slot in result.slots), default=int(np.argmax(buy[:day] <= cheap)))
    served = slice(first, first + day)
    pays = np.array([result.battery.worth_it(cheap, float(price)) for price in buy[served]])
    return float(result.with_windows.imports[served][pays].sum())


def _spared_price(result: PlanResult, buy_now: float | None) -> float | None:
    """Return the mean price of what need not be bought for the charge in hours that are more expensive than it and its losses."""
    if buy_now is None:
        return None
    buy = result.prices.buy
    pays = np.array([result.battery.worth_it(buy_now, float(price)) for price in buy])
    spared = np.maximum(result.without.imports - result.with_windows.imports, 0) * pays
    return float(spared @ buy / spared.sum()) if spared.sum() > CHARGES_KWH else None


def _reached(result: PlanResult) -> float:
    if not result.slots:
        return result.level
    highest = max(result.slots, key=lambda slot: slot.stop)
    return result.battery.level(float(result.with_windows.levels[highest.end - 1]))


def _held_back(result: PlanResult, buy_later: float | None) -> HeldBack:
    """Return what keeps expensive hours from lacking less."""
    if result.target >= result.objective.feasible.stops[1] and _reached(result) >= result.target - REACHED_PERCENT:
        return HeldBack.CAPACITY
    if buy_later is not None and _all_the_time(result, buy_later):
        slower = result.objective.feasible.power < result.battery.charge_kw
        return HeldBack.POWER if slower else HeldBack.WINDOW_TOO_SHORT
    return HeldBack.NOT_WORTH_IT


def _all_the_time(result: PlanResult, buy_later: float) -> bool:
    """Return whether a charge in all hours that are cheap enough, as far as the battery takes it, would bring no more."""
    feasible, buy = result.objective.feasible, result.objective.over.buy
    worthy = np.array([result.battery.worth_it(float(price), buy_later) for price in buy], dtype=np.bool_)
    all_of_them = tuple(
        Slot(begin=begin, end=end, stop=feasible.stops[1], power=feasible.power) for begin, end in runs(worthy)
    )
    most = expected_course(result.ahead, all_of_them, result.objective.stored).charge[: result.ahead.steps].sum()
    return result.charge_kwh >= ALL_THE_TIME * float(most)


def _kept_from_any(result: PlanResult) -> HeldBack:
    """Return what keeps a plan from any charge though prices would pay for one."""
    if result.objective.feasible.limits.windows == 0:
        return HeldBack.NO_WINDOW
    reserve = result.battery.energy(result.battery.reserve_level)
    if result.objective.stored < reserve and best_windows(replace(result.objective, stored=reserve)):
        return HeldBack.RESERVE
    return HeldBack.NOT_WORTH_IT
