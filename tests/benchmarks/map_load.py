"""How long a register map of 500 points takes to load, and its batches to find, in ms of the processor: the least of several rounds.

And how long the check takes of files that are made to cost time, as long as a file may be.
"""

import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from custom_components.chargehand.core.registers import MapInvalid, batches, load_map
from custom_components.chargehand.core.registers.map_file.document import LARGEST
from tests.benchmarks.table import show
from tests.core.registers.costly_files import FILES

ROUNDS = 7
POINTS = 500
LOAD_TARGET_MS, BATCHES_TARGET_MS, COSTLY_TARGET_MS = 100, 50, 5000
HOLDING_SHARE = 10
"""One point in so many is a holding register."""

_KINDS = (
    "type: s32, unit: W, device_class: power, state_class: measurement",
    "scale: 0.1, unit: V, device_class: voltage, state_class: measurement",
    "type: s16, scale: 0.01, unit: A, device_class: current, state_class: measurement, invalid: [0x8000]",
    "labels: {0: standby, 1: running, 2: fault}",
    "scale: 0.01, unit: kWh, device_class: energy, state_class: total_increasing, poll: slow",
)
_APART = 3
"""Registers from one point to the next: room for a long one and a gap."""


def text() -> str:
    """The map: points of every kind, in both tables."""
    lines = ["chargehand_map: 1", "title: Five hundred points", "maker: Nobody", "model: Nothing", "source: invented"]
    lines += ["line: {longest_read: 100}", "readings:"]
    for number in range(POINTS):
        table = "input" if number % HOLDING_SHARE else "holding"
        kind = _KINDS[number % len(_KINDS)]
        lines.append(f"  point_{number}: {{{table}: {_APART * number}, name: Point {number}, {kind}}}")
    return "\n".join(lines) + "\n"


def least_ms(work: Callable[[], object]) -> float:
    """The least of several rounds: what disturbs a machine only ever adds."""
    found = []
    for _ in range(ROUNDS):
        started = time.process_time()
        work()
        found.append(1000 * (time.process_time() - started))
    return min(found)


def _once_ms(path: Path, text: str) -> float:
    path.write_text(text)
    started = time.process_time()
    with suppress(MapInvalid):
        load_map(path)
    return 1000 * (time.process_time() - started)


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "five_hundred.yaml"
        path.write_text(text())
        loaded = load_map(path)
        groups = [group for reading in loaded.readings.values() for group in reading.point.groups]
        requests = len(batches(groups, loaded.line))
        rows = [
            (f"load {len(loaded.readings)} points", least_ms(lambda: load_map(path)), LOAD_TARGET_MS),
            (f"batch them into {requests} requests", least_ms(lambda: batches(groups, loaded.line)), BATCHES_TARGET_MS),
        ]
        costs = {name: _once_ms(path, costly(LARGEST)) for name, costly in FILES.items()}
    worst = max(costs, key=lambda name: costs[name])
    rows += [
        (
            f"check the worst of {len(FILES)} costly files of {LARGEST // 1024} KiB ({worst})",
            costs[worst],
            COSTLY_TARGET_MS,
        ),
        ("the middle one of them", sorted(costs.values())[len(costs) // 2], COSTLY_TARGET_MS),
    ]
    show("Register map", ("", "ms", "target"), rows)


if __name__ == "__main__":
    main()
