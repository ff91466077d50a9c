"""A plan's reason as one English sentence."""

from .reason import HeldBack, Reason, ReasonKey

_HELD_BACK = {
    HeldBack.NOTHING: "",
    HeldBack.RESERVE: "",
    HeldBack.CAPACITY: "; more would not fit the battery",
    HeldBack.POWER: "; the inverter's limit on power allows no more",
    HeldBack.WINDOW_TOO_SHORT: "; more would not fit the cheap hours",
    HeldBack.NOT_WORTH_IT: "; more would likely cost more than it saves",
}


def why(reason: Reason, currency: str = "") -> str:
    """One sentence; `currency` follows the amount saved."""
    day = "Tomorrow" if reason.tomorrow else "Today"
    needs = f"{day} likely needs {reason.need_kwh:.1f} kWh, the roof likely gives {reason.solar_kwh:.1f} kWh"
    saves = f"saves about {reason.saving:.2f}{f' {currency}' if currency else ''}"
    match reason.key:
        case ReasonKey.CHARGE:
            prices = f"{_price(reason.buy_now)} instead of {_price(reason.buy_later)}"
            return f"{needs}; charging to {reason.stop_level:.0f} % at {prices} {saves}{_held_back(reason)}."
        case ReasonKey.HOLD:
            return f"{needs}; keeping what is stored for dearer hours, without charging from the grid, {saves}."
        case ReasonKey.NOT_WORTH_IT:
            prices = f"{_price(reason.buy_now)} now against {_price(reason.buy_later)} later"
            lift = ", and as a charge must first lift the battery to its reserve"
            also = lift if reason.held_back is HeldBack.RESERVE else ""
            return f"{needs}; with prices of {prices} and the battery's losses{also}, charging from the grid is not worth it."
        case ReasonKey.NO_NEED:
            return f"{needs}; with {reason.level:.0f} % stored there is no need to charge from the grid."


def _held_back(reason: Reason) -> str:
    if reason.held_back is HeldBack.CAPACITY and reason.stop_level < 100:
        return "; that is the highest level it may be charged to"
    return _HELD_BACK[reason.held_back]


def _price(price: float) -> str:
    """Two decimals, three where there is a third."""
    return f"{price:.3f}".removesuffix("0")
