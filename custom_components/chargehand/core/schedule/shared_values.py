"""What a request says of the limits that all windows of a side have in common."""

from collections.abc import Iterator, Mapping, Sequence

from ..registers import WindowPoints
from .request import WindowRequest
from .slot_image import limit_of, shared_limits

INSTEAD: Mapping[str, str] = {"current": "power", "power": "current"}
"""The limit that may be given instead of one, to be converted."""


class SharedValues:
    """The values that the windows of one side give to their shared limits."""

    def __init__(self, places: Sequence[WindowPoints], wanted: Sequence[WindowRequest]) -> None:
        """Take where the side's windows are, and all that are asked for."""
        self._given: dict[str, dict[float, None]] = {name: {} for name in shared_limits(places)}
        self._units = {name: limit.unit for name in self._given if (limit := limit_of(places[0], name)) is not None}
        self._named = {name for name in self._given for request in wanted if _names(request, name)}

    def left_to_another(self, request: WindowRequest, name: str) -> bool:
        """Return whether a window leaves a shared limit out that another one gives."""
        return name in self._named and not _names(request, name)

    def add(self, request: WindowRequest, limits: Mapping[str, float | None]) -> None:
        """Take what one window gives, as the inverter can hold it."""
        for name, values in self._given.items():
            value = limits.get(name)
            if value is not None and _names(request, name):
                values[value] = None

    def differing(self) -> Iterator[tuple[str, str]]:
        """Yield each limit that was given several values, with them: `2000 W, 3000 W`."""
        for name, values in self._given.items():
            if len(values) > 1:
                yield name, ", ".join(f"{value:g} {self._units[name]}" for value in values)

    def common(self) -> dict[str, float]:
        """Return the value of each limit that was given one."""
        return {name: next(iter(values)) for name, values in self._given.items() if len(values) == 1}


def _names(request: WindowRequest, name: str) -> bool:
    """Return whether a window gives a limit, or the one that it is converted from."""
    return any(getattr(request, one) is not None for one in (name, INSTEAD.get(name, name)))
