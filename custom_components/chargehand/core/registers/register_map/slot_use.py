"""What a place of a schedule is used for, and on which days."""

from collections.abc import Mapping
from dataclasses import dataclass

from .points import Address, Point, Raw

EVERY_DAY = tuple(range(7))
"""The days of the week, 0 = Monday, as Python counts them."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Mode:
    """Where a place says what it is used for: by one value for windows of its side, by one for none, by others for something else."""

    point: Point
    own: int
    none: int
    names: Mapping[int, str]
    """What each value means."""

    @property
    def addresses(self) -> tuple[Address, ...]:
        """The register that it takes."""
        return self.point.addresses

    def decode(self, raw: Raw) -> bool | None:
        """Return whether the place is used for a window of its side; None where it is used for something else, or not known."""
        value = self.point.decode(raw)
        return True if value == self.own else False if value == self.none else None

    def other_use(self, raw: Raw) -> str | None:
        """Return what else the place is used for: its name, or the value that the map does not name; None where it is not."""
        value = self.point.decode(raw)
        if value is None or value in (self.own, self.none):
            return None
        return self.names.get(int(value), f"{value:g}" if isinstance(value, int | float) else str(value))

    def encode(self, active: bool, raw: Raw) -> dict[Address, int]:
        """Return the register of a place that is used for a window of its side, or for none."""
        return self.point.encode(self.own if active else self.none, raw)


@dataclass(frozen=True, kw_only=True, slots=True)
class Weekdays:
    """Where days of the week are kept, a bit each."""

    point: Point
    first: int = 0
    """The day of the lowest bit, 0 = Monday."""

    def decode(self, raw: Raw) -> tuple[int, ...]:
        """Return the days that are set; none where they are not known."""
        held = self.point.decode(raw)
        bits = int(held) if isinstance(held, int | float) else 0
        return tuple(sorted((bit + self.first) % 7 for bit in EVERY_DAY if bits >> bit & 1))

    def every_day(self, raw: Raw) -> dict[Address, int]:
        """Return the register with all days set."""
        return self.point.encode((1 << len(EVERY_DAY)) - 1, raw)
