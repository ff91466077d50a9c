"""Controls: values that can also be set."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import TypeIs

from .command_writes import WritesAround
from .points import Address, Point, Raw, Value
from .poll_rate import Poll
from .value_refused import ValueRefused


class ControlKind(StrEnum):
    """What a control looks like to a user."""

    SWITCH = "switch"
    NUMBER = "number"
    SELECT = "select"


@dataclass(frozen=True, kw_only=True, slots=True)
class Control:
    """A value that can also be set."""

    key: str
    point: Point
    kind: ControlKind
    poll: Poll = Poll.SLOW
    name: str | None = None
    unit: str | None = None
    minimum: float = 0
    maximum: float = 65535
    step: float | None = None
    """The map's own, counted from the minimum; None: as fine as the register holds."""

    labels: Mapping[int, str] = field(default_factory=dict)
    around: WritesAround = field(default_factory=WritesAround)

    @property
    def least_step(self) -> float:
        """Return the least difference that can be set."""
        return abs(float(self.point.scale)) if self.step is None else self.step

    def decode(self, raw: Raw) -> Value | None:
        """Return the value, or its label; None when there is none."""
        value = self.point.decode(raw)
        if self.labels and value is not None:
            return self.labels.get(int(value))
        return value

    def encode(self, value: Value, raw: Raw) -> dict[Address, int]:
        """Return the registers that hold `value`. Raises ValueRefused when it may not be set to that, ValueError as `Point.encode`."""
        if self.labels:
            for number, label in self.labels.items():
                if label == value:
                    return self.point.encode(number, raw)
            offered = ", ".join(self.labels.values())
            raise ValueRefused("not_offered", value=str(value), offered=offered)
        if self.kind is ControlKind.NUMBER:
            value = self._bounded(value, raw)
        return self.point.encode(value, raw)

    def _bounded(self, value: Value, raw: Raw) -> float:
        """Return the nearest number that can be set, within the bounds. Raises ValueRefused when there is none."""
        if _is_number(value):
            near = self.point.nearest(self._on_step(value), self.minimum, self.maximum, raw)
            if near is not None:
                return near
        least, most, asked = f"{self.minimum:g}", f"{self.maximum:g}", f"{value!r:.40}"
        raise ValueRefused("not_in_range", value=asked, minimum=least, maximum=most)

    def _on_step(self, value: float) -> float:
        """Return the value on the map's own steps, where it is within the bounds."""
        if self.step is None or not self.minimum <= value <= self.maximum:
            return value
        first, step = Decimal(str(self.minimum)), Decimal(str(self.step))
        steps = ((Decimal(str(value)) - first) / step).to_integral_value()
        last = (Decimal(str(self.maximum)) - first) // step
        return float(first + min(steps, last) * step)


def _is_number(value: Value) -> TypeIs[float | int]:
    return isinstance(value, int | float) and not isinstance(value, bool)
