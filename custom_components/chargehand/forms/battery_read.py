"""The options of the battery form that can be read from the inverter, so that nobody has to look them up."""

from collections.abc import Iterable, Mapping, Sequence
from math import floor

from ..core.inverter import ReadingValue
from ..core.registers import RegisterMap, WindowPoints

CAPACITIES = ("rated_capacity", "battery_capacity")
POWERS = ("rated_power", "inverter_rating")
VOLTAGE, LEVEL, RESERVE = "battery_voltage", "battery_level", "reserve_level"
CHARGE_CURRENT, DISCHARGE_CURRENT = "battery_charge_current_limit", "battery_discharge_current_limit"
WANTED = frozenset({*CAPACITIES, *POWERS, VOLTAGE, LEVEL, RESERVE, CHARGE_CURRENT, DISCHARGE_CURRENT})
"""Keys of readings and controls that are looked at, where a map has them."""

IN_KILO = {"kWh": 1.0, "Wh": 0.001, "kW": 1.0, "W": 0.001}

LIMITED_ABOVE, LIMITED_BELOW = 90, 20
"""Levels in % beyond which a battery lowers its current limit (common practice, no source): the limit of such a moment is no lasting one."""


def battery_read(register_map: RegisterMap, values: Mapping[str, ReadingValue]) -> dict[str, float]:
    """Return the battery options that `values` hold, in kWh, kW and %, in the form's steps. What is not known is left out."""
    points = register_map.schedule
    charge, discharge = ((), ()) if points is None else (points.charge, points.discharge)
    level = _number(values.get(LEVEL))
    rated = _in_kilo(register_map, values, POWERS)
    nearly_full = level is not None and level > LIMITED_ABOVE
    nearly_empty = level is not None and level < LIMITED_BELOW
    read = {
        "capacity_kwh": _in_kilo(register_map, values, CAPACITIES),
        "charge_kw": _power(rated, None if nearly_full else _by_current(values, CHARGE_CURRENT), charge),
        "discharge_kw": _power(rated, None if nearly_empty else _by_current(values, DISCHARGE_CURRENT), discharge),
        RESERVE: _reserve(values, (*discharge, *charge)),
    }
    return {key: value for key, value in read.items() if value is not None}


def _power(rated: float | None, by_current: float | None, windows: Sequence[WindowPoints]) -> float | None:
    """Return the least of the powers that bound the battery in kW, rounded down; None where neither inverter nor battery reports one."""
    known = [power for power in (rated, by_current) if power is not None]
    if not known:
        return None
    limits = [
        window.power.maximum / 1000 for window in windows[:1] if window.power is not None and window.power.is_known
    ]
    least = floor(10 * min(known + limits) + 1e-9) / 10
    return least if least > 0 else None


def _by_current(values: Mapping[str, ReadingValue], key: str) -> float | None:
    amperes, volts = _number(values.get(key)), _number(values.get(VOLTAGE))
    return amperes * volts / 1000 if amperes and volts and amperes > 0 else None


def _in_kilo(register_map: RegisterMap, values: Mapping[str, ReadingValue], keys: Iterable[str]) -> float | None:
    """Return the first of these readings in kWh or kW, to one decimal; None where the map has none of them."""
    for key in keys:
        reading, number = register_map.readings.get(key), _number(values.get(key))
        if reading is not None and number is not None and reading.unit in IN_KILO and number > 0:
            return round(number * IN_KILO[reading.unit], 1) or None
    return None


def _reserve(values: Mapping[str, ReadingValue], windows: Sequence[WindowPoints]) -> float | None:
    """Return the reserve that the inverter is set to in %, else the lowest level at which one of its windows can stop."""
    reserve = _number(values.get(RESERVE))
    if reserve is not None and 0 <= reserve < 100:
        return round(reserve)
    return min((round(window.stop_level.minimum) for window in windows if window.stop_level is not None), default=None)


def _number(value: object) -> float | None:
    return None if isinstance(value, bool) or not isinstance(value, int | float) else float(value)
