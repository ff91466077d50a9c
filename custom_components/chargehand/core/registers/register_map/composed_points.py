"""Values that are made of several points: sums, and amounts whose direction another register tells."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from .points import Group, Point, Raw


@dataclass(frozen=True, kw_only=True, slots=True)
class Sum:
    """The sum of several numbers; none where one of them is none."""

    parts: tuple[Point, ...]

    @property
    def groups(self) -> tuple[Group, ...]:
        """All registers needed, by what comes in one read."""
        return tuple(dict.fromkeys(group for part in self.parts for group in part.groups))

    def decode(self, raw: Raw) -> float | None:
        """Return the sum with just the digits that its parts have; None when one of them has no value. Never raises."""
        numbers = [part.decode(raw) for part in self.parts]
        whole = [number for number in numbers if isinstance(number, int)]
        if len(whole) == len(numbers):
            return sum(whole)
        total = Decimal(0)
        for number in numbers:
            if number is None or isinstance(number, str):
                return None
            # Each comes with the digits that a person would write: 0.1 and 0.2 make 0.3.
            total += Decimal(str(number))
        return float(total)


@dataclass(frozen=True, kw_only=True, slots=True)
class Directed:
    """A number without a sign, and the register that tells its direction."""

    amount: Point | Sum
    direction: Point
    signs: Mapping[int, int]
    """1, -1 or 0 by the raw value of `direction`."""

    unsigned: bool = True
    """Whether the number has no sign of its own; of one that has, only its size counts."""

    @property
    def parts(self) -> tuple[Point, ...]:
        """The points that it is made of."""
        return (*self.amount.parts, self.direction)

    @property
    def groups(self) -> tuple[Group, ...]:
        """All registers needed. Amount and direction come in one read where they stand side by side: apart, they could disagree."""
        own, *others = self.amount.groups
        return ((*own, *self.direction.addresses), *others)

    def decode(self, raw: Raw) -> float | None:
        """Return the number with its sign; None when there is none, or the direction is not one of those known. Never raises."""
        number, direction = self.amount.decode(raw), self.direction.decode(raw)
        sign = self.signs.get(direction) if isinstance(direction, int) else None
        if sign is None or number is None or isinstance(number, str):
            return None
        if not self.unsigned:
            number = abs(number)
        # An amount below 0 has a sign of its own, and nobody knows which of the two is right.
        if number < 0:
            return None
        # A float of 0 times -1 would be shown as -0.0.
        return number * sign if number else number


type Readable = Point | Sum | Directed
"""What a reading can be."""
