"""Benches that the tests of a worker share."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from custom_components.chargehand.core.registers import RegisterMap, load_map

from .case_bench import CaseBenches
from .variants import VARIANTS, write_variant

settings.register_profile("schedule", deadline=None, database=None)
settings.load_profile("schedule")

BENCHES = 12
"""Benches a worker: most of a case is waiting, so several go on at a time."""


EVERY_TIME = {
    "test_faults.py": ("armed_four-six_and_arm-once", "bare_long-one_window-once"),
    "test_kill.py": (
        "armed_four-restore]",
        "armed_long-six_and_arm]",
        "bare_single-one_window]",
        "bare_four-charge_windows]",
    ),
}
"""Sweeps that run each time: over real TCP a check of those in simulated time. The others are long: `scripts/test -m long`."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the sweeps that do not run each time."""
    for item in items:
        kept = EVERY_TIME.get(item.path.name)
        if kept is None:
            continue
        # A sweep is hundreds of cases; what hangs in one of them ends by its own time-outs.
        item.add_marker(pytest.mark.timeout(900))
        if not any(part in item.name for part in kept):
            item.add_marker(pytest.mark.long)


@pytest.fixture
def _chargehand_can_be_loaded() -> None:
    """Nothing here needs Home Assistant."""


@pytest.fixture(scope="session")
def benches(tmp_path_factory: pytest.TempPathFactory) -> Iterator[CaseBenches]:
    """Benches, started when the first is taken."""
    running = CaseBenches(tmp_path_factory.mktemp("benches"), BENCHES)
    yield running
    running.close()


@pytest.fixture(scope="session")
def map_paths(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The files of all variants of the Teasel's map, by name."""
    folder = tmp_path_factory.mktemp("maps")
    return {name: str(write_variant(name, folder)) for name in VARIANTS}


@pytest.fixture(scope="session")
def variants(map_paths: dict[str, str]) -> dict[str, RegisterMap]:
    """The same, loaded."""
    return {name: load_map(Path(path)) for name, path in map_paths.items()}
