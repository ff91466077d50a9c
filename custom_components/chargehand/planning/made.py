"""A plan as it was made, and its reason."""

from dataclasses import dataclass, replace

import numpy as np

from .battery import Battery
from .choices import runs
from .forecourse import Ahead, Expected, expected
from .history import main_day
from .outlook import Scenarios
from .reason import HeldBack, Reason, ReasonKey
from .search import best_windows
from .tariff import Prices
from .task import Task
from .windows import Slot, SlotSet

CHARGES_KWH = 0.05
"""A plan whose windows take less from the grid only holds."""
LACKS_SHARE = 0.05
"""Dear hours lack energy when they buy more than this share of the day's load."""
ALL_THE_TIME = 0.98
"""Windows that charge this share of what all worthy hours could use all their time."""
REACHED_PERCENT = 1.5
"""A stop level missed by less counts as reached."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Made:
    """All that a plan is worded from."""

    level: float
    prices: Prices
    scenarios: Scenarios
    task: Task
    ahead: Ahead
    slots: SlotSet
    with_windows: Expected
    without: Expected

    @property
    def battery(self) -> Battery:
        """The battery."""
        return self.task.choice.battery

    @property
    def day_steps(self) -> int:
        """Steps of the coming day."""
        return self.ahead.steps

    @property
    def charge_kwh(self) -> float:
        """Expected in the windows, at the meter."""
        return self.charged(self.with_windows)

    @property
    def target(self) -> float:
        """Highest stop level in %; the level now where there is no window."""
        return float(max((slot.stop for slot in self.slots), default=self.level))

    def charged(self, course: Expected) -> float:
        """What is charged on the coming day, at the meter."""
        return float(course.charge[: self.day_steps].sum())


def reason(made: Made) -> Reason:
    """Why the plan is as it is, in numbers."""
    horizon, buy = made.prices.horizon, made.prices.buy
    day = main_day(horizon)
    there = np.array([start.date() == day for start in horizon.starts])
    need = float((made.scenarios.weights @ made.scenarios.load)[there].sum())
    charge = made.with_windows.charge[: made.day_steps]
    buy_now = float(charge @ buy[: made.day_steps] / charge.sum()) if charge.sum() > CHARGES_KWH else float(buy.min())
    dear = np.array([made.battery.worth_it(buy_now, float(price)) for price in buy[: made.day_steps]])
    # A smaller charge tomorrow night is spared, too, but at tomorrow night's price: the charge does not pay by that.
    spared = np.maximum(made.without.imports - made.with_windows.imports, 0)[: made.day_steps] * dear
    spared_at = spared @ buy[: made.day_steps]
    buy_later = float(spared_at / spared.sum()) if spared.sum() > CHARGES_KWH else float(buy.max())
    # A charge serves the 24 hours from its window on: what is bought before, it could not have spared.
    begin = min((slot.begin for slot in made.slots), default=0)
    served = slice(begin, begin + made.day_steps)
    lacking = np.array([made.battery.worth_it(buy_now, float(price)) for price in buy[served]])
    lack = float(made.with_windows.imports[served][lacking].sum())
    lacks = lack > LACKS_SHARE * max(need, CHARGES_KWH)
    reached = _reached(made)
    if made.slots:
        key = ReasonKey.CHARGE if made.charge_kwh > CHARGES_KWH else ReasonKey.HOLD
        held_back = _held_back(made, reached, buy_later) if lacks else HeldBack.NOTHING
    elif lacks or not dear.any():
        key = ReasonKey.NOT_WORTH_IT
        held_back = HeldBack.RESERVE if _only_lifts(made) else HeldBack.NOT_WORTH_IT
    else:
        key, held_back = ReasonKey.NO_NEED, HeldBack.NOTHING
    return Reason(
        key=key,
        held_back=held_back,
        day=day,
        tomorrow=day != horizon.starts[0].date(),
        need_kwh=need,
        solar_kwh=float((made.scenarios.weights @ made.scenarios.solar)[there].sum()),
        level=made.level,
        stop_level=made.target,
        reached_level=reached,
        grid_charge_kwh=made.charge_kwh,
        buy_now=buy_now,
        buy_later=buy_later,
        saving=made.without.cost - made.with_windows.cost,
    )


def _reached(made: Made) -> float:
    if not made.slots:
        return made.level
    highest = max(made.slots, key=lambda slot: slot.stop)
    return made.battery.level(float(made.with_windows.levels[highest.end - 1]))


def _held_back(made: Made, reached: float, buy_later: float) -> HeldBack:
    """What keeps dear hours from lacking less."""
    if made.target >= made.task.choice.stops[1] and reached >= made.target - REACHED_PERCENT:
        return HeldBack.CAPACITY
    if _all_the_time(made, buy_later):
        slower = made.task.choice.power < made.battery.charge_kw
        return HeldBack.POWER if slower else HeldBack.WINDOW_TOO_SHORT
    return HeldBack.NOT_WORTH_IT


def _all_the_time(made: Made, buy_later: float) -> bool:
    """Whether a charge in all hours that are cheap enough, as far as the battery takes it, would bring no more."""
    choice = made.task.choice
    worthy = np.array([made.battery.worth_it(float(price), buy_later) for price in made.task.over.buy], dtype=np.bool_)
    all_of_them = tuple(
        Slot(begin=begin, end=end, stop=choice.stops[1], power=choice.power) for begin, end in runs(worthy)
    )
    most = made.charged(expected(made.ahead, all_of_them, made.task.stored))
    return made.charge_kwh >= ALL_THE_TIME * most


def _only_lifts(made: Made) -> bool:
    """Whether a charge would be worth it if it need not lift the battery to its reserve first."""
    reserve = made.battery.energy(made.battery.reserve_level)
    return made.task.stored < reserve and bool(best_windows(replace(made.task, stored=reserve)))
