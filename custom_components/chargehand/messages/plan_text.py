"""Why a plan is as it is, as one sentence."""

from datetime import datetime

from homeassistant.core import callback

from ..core.planning import Covered, HeldBack, PlanReason, ReasonKey
from .house_time import minute_text
from .texts import text

SHOWN = 0.005
"""An amount below it is shown as 0.00, and left out where it is only added."""

MORE_SAID = {HeldBack.CAPACITY, HeldBack.POWER, HeldBack.WINDOW_TOO_SHORT, HeldBack.NOT_WORTH_IT}
"""What kept a plan from charging more, where that is said of a plan that charges."""


@callback
def plan_text(reason: PlanReason, currency: str = "") -> str:
    """Return the sentence; `currency` follows the amounts."""
    parts = {
        "day": _day(reason),
        "need": f"{reason.need_kwh:.1f}",
        "solar": f"{reason.solar_kwh:.1f}",
    }
    does = [text("plan_needs", **parts), *_does(reason, currency)]
    return f"{'; '.join(does)}."


@callback
def unknown_house_text(level: float | None) -> str:
    """Return why a plan is made without a demand: to a fixed level in %; None: no hour is cheap enough for that."""
    if level is None:
        return f"{text('plan_unknown_house')}."
    return f"{text('plan_unknown_house_fixed', level=f'{level:g}')}."


def _does(reason: PlanReason, currency: str) -> list[str]:
    match reason.key:
        case ReasonKey.CHARGE:
            charges = text("plan_charges", charging=_charging(reason), saves=_saves(reason, currency))
            return [charges, *_held_back(reason)]
        case ReasonKey.HOLD:
            return [text("plan_holds", saves=_saves(reason, currency))]
        case ReasonKey.NOT_WORTH_IT:
            return [_not_worth_it(reason)]
        case ReasonKey.NO_NEED:
            return [text("plan_no_need", level=f"{reason.level:.0f}")]


def _day(reason: PlanReason) -> str:
    day = "tomorrow" if reason.tomorrow else "today"
    match reason.covered:
        case Covered.ALL:
            return text(f"plan_{day}")
        case Covered.FROM_NOW:
            return text(f"plan_rest_of_{day}")
        case Covered.UNTIL:
            return text(f"plan_{day}_until", time=_time(reason.end))


def _charging(reason: PlanReason) -> str:
    level = f"{reason.stop_level:.0f}"
    if reason.buy_now is None:
        return text("plan_charging", level=level)
    if reason.buy_later is None:
        return text("plan_charging_at", level=level, price=_price(reason.buy_now))
    return text("plan_charging_instead", level=level, price=_price(reason.buy_now), later=_price(reason.buy_later))


def _saves(reason: PlanReason, currency: str) -> str:
    key = "plan_saves" if reason.saving > -SHOWN else "plan_costs"
    saves = text(key, amount=_amount(abs(reason.saving), currency))
    if abs(reason.left_gain) >= SHOWN:
        key = "plan_left_more" if reason.left_gain > 0 else "plan_left_less"
        saves = text(key, saves=saves, amount=_amount(abs(reason.left_gain), currency))
    if abs(reason.wear_cost) >= SHOWN:
        saves = text("plan_wear", saves=saves, amount=_amount(reason.wear_cost, currency))
    return saves


def _not_worth_it(reason: PlanReason) -> str:
    lack = f"{reason.lack_kwh:.1f}"
    if reason.held_back is HeldBack.NO_WINDOW:
        return text("plan_no_window", lack=lack)
    if reason.held_back not in {HeldBack.PRICES, HeldBack.RESERVE}:
        return text("plan_not_worth_it", lack=lack)
    prices = reason.prices
    return text(
        f"plan_not_worth_it_{reason.held_back}",
        price=_price(prices.buy),
        time=_time(prices.at),
        later=_price(prices.later_buy),
        later_time=_time(prices.later_at),
        losses=text("plan_losses_and_wear" if reason.wears else "plan_losses"),
    )


def _held_back(reason: PlanReason) -> list[str]:
    if reason.held_back is HeldBack.CAPACITY and reason.stop_level < 100:
        return [text("plan_more_highest_level")]
    return [text(f"plan_more_{reason.held_back}")] if reason.held_back in MORE_SAID else []


def _time(at: datetime) -> str:
    return minute_text(at.hour * 60 + at.minute)


def _amount(amount: float, currency: str) -> str:
    return text("plan_amount", amount=f"{amount:.2f}", currency=currency) if currency else f"{amount:.2f}"


def _price(price: float) -> str:
    """Return two decimals, three where there is a third."""
    return f"{price:.3f}".removesuffix("0")
