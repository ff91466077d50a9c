"""A plan's reason as one English sentence."""

from .reason import Covered, HeldBack, Reason, ReasonKey

_HELD_BACK = {
    HeldBack.CAPACITY: "; more would not fit the battery",
    HeldBack.POWER: "; the inverter's limit on power allows no more",
    HeldBack.WINDOW_TOO_SHORT: "; more would not fit the cheap hours",
    HeldBack.NOT_WORTH_IT: "; more would likely cost more than it saves",
}
_SHOWN = 0.005
"""An amount below it is shown as 0.00, and left out where it is only added."""


def why(reason: Reason, currency: str = "") -> str:
    """Return one sentence; `currency` follows the amounts."""
    needs = f"{_day(reason)} likely needs {reason.need_kwh:.1f} kWh, solar likely gives {reason.solar_kwh:.1f} kWh"
    match reason.key:
        case ReasonKey.CHARGE:
            return f"{needs}; {_charging(reason)} {_saves(reason, currency)}{_held_back(reason)}."
        case ReasonKey.HOLD:
            held = "keeping what is stored for more expensive hours, without charging from the grid,"
            return f"{needs}; {held} {_saves(reason, currency)}."
        case ReasonKey.NOT_WORTH_IT:
            return f"{needs}; {_not_worth_it(reason)}."
        case ReasonKey.NO_NEED:
            return f"{needs}; with {reason.level:.0f} % stored there is no need to charge from the grid."


def _day(reason: Reason) -> str:
    day = "Tomorrow" if reason.tomorrow else "Today"
    match reason.covered:
        case Covered.ALL:
            return day
        case Covered.FROM_NOW:
            return f"The rest of {day.lower()}"
        case Covered.UNTIL:
            return f"{day} until {reason.end:%H:%M}"


def _charging(reason: Reason) -> str:
    at = "" if reason.buy_now is None else f" at {_price(reason.buy_now)}"
    instead = "" if reason.buy_later is None else f" instead of {_price(reason.buy_later)}"
    return f"charging to {reason.stop_level:.0f} %{at}{instead}"


def _saves(reason: Reason, currency: str) -> str:
    verb = "saves" if reason.saving > -_SHOWN else "costs"
    text = f"{verb} about {_amount(abs(reason.saving), currency)}"
    if abs(reason.left_gain) >= _SHOWN:
        more = "more" if reason.left_gain > 0 else "less"
        text += f", with {_amount(abs(reason.left_gain), currency)} {more} left in the battery"
    if abs(reason.wear_cost) >= _SHOWN:
        text += f" and {_amount(reason.wear_cost, currency)} of wear"
    return text


def _not_worth_it(reason: Reason) -> str:
    prices, battery = reason.prices, "the battery's losses and wear" if reason.wears else "the battery's losses"
    against = (
        f"with {_price(prices.buy)} at {prices.at:%H:%M} against {_price(prices.later_buy)} at {prices.later_at:%H:%M}"
    )
    match reason.held_back:
        case HeldBack.PRICES:
            return f"{against} and {battery}, charging from the grid is not worth it"
        case HeldBack.RESERVE:
            lift = "and as a charge must first lift the battery to its reserve"
            return f"{against}, {battery}, {lift}, charging from the grid is not worth it"
        case HeldBack.NO_WINDOW:
            return f"expensive hours likely lack {reason.lack_kwh:.1f} kWh, and the inverter has no window to charge in"
        case _:
            lack = f"expensive hours likely lack {reason.lack_kwh:.1f} kWh"
            return f"{lack}, and charging for that would likely cost more than it saves: it is not worth it"


def _held_back(reason: Reason) -> str:
    if reason.held_back is HeldBack.CAPACITY and reason.stop_level < 100:
        return "; that is the highest level it may be charged to"
    return _HELD_BACK.get(reason.held_back, "")


def _amount(amount: float, currency: str) -> str:
    return f"{amount:.2f}{f' {currency}' if currency else ''}"


def _price(price: float) -> str:
    """Return two decimals, three where there is a third."""
    return f"{price:.3f}".removesuffix("0")
