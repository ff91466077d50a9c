"""Which entities a map's windows have."""

from collections.abc import Callable, Iterable, Iterator

from ..coordinator import ChargehandCoordinator
from ..core.schedule import Side, points_of


def window_entities[Built](
    coordinator: ChargehandCoordinator,
    settings: Iterable[str],
    build: Callable[[ChargehandCoordinator, Side, int, str], Built],
) -> Iterator[Built]:
    """One entity for each of `settings` that each window has on this inverter; any window can be switched off."""
    points = coordinator.inverter.map.schedule
    if points is None:
        return
    for side in Side:
        for number, where in enumerate(points_of(points, side), start=1):
            for setting in settings:
                if setting == "active" or getattr(where, setting) is not None:
                    yield build(coordinator, side, number, setting)
