"""Scaling of raw numbers, exact in decimals."""

from decimal import Decimal
from functools import lru_cache
from math import lcm


def scaled(number: float, scale: Decimal, offset: Decimal) -> float:
    """Return raw × scale + offset, with just the digits that these have; a whole number where all of them are."""
    if isinstance(number, int):
        factor, added, divisor = _fraction(scale, offset)
        # One correctly rounded division of whole numbers gives the double nearest to the exact decimal.
        return number * factor + added if divisor == 1 else (number * factor + added) / divisor
    return float(Decimal(str(number)) * scale + offset)


@lru_cache(maxsize=1024)
def _fraction(scale: Decimal, offset: Decimal) -> tuple[int, int, int]:
    """Scale and offset as whole numbers over a common divisor."""
    (factor, one), (added, other) = scale.as_integer_ratio(), offset.as_integer_ratio()
    divisor = lcm(one, other)
    return factor * (divisor // one), added * (divisor // other), divisor
