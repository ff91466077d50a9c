"""A register map of 200 readings on registers that the bench has, as a file; and how to change all their values."""

from collections.abc import Iterable
from pathlib import Path

from tests.bench.remote import Bench

INPUT_FIRST, INPUTS = 400, 190
HOLDING_FIRST, HOLDINGS = 810, 10
BLOCKS = (("input", 400, 125), ("input", 525, 65), ("holding", 810, 10))
"""What a poll of all 200 has to read, in the fewest requests."""

_KINDS = (
    "unit: W, device_class: power, state_class: measurement",
    "unit: V, scale: 0.1, device_class: voltage, state_class: measurement",
    "unit: A, scale: 0.01, device_class: current, state_class: measurement",
    'unit: "°C", scale: 0.1, device_class: temperature, state_class: measurement',
    "state_class: measurement",
)
SCALES = (1, 0.1, 0.01, 0.1, 1)
"""Of the kinds above."""


def write_map(config: Path) -> str:
    """Put the file into a configuration folder and return the map's id."""
    places = [("input", INPUT_FIRST + at) for at in range(INPUTS)]
    places += [("holding", HOLDING_FIRST + at) for at in range(HOLDINGS)]
    lines = [
        "chargehand_map: 1",
        "title: Two hundred readings",
        "maker: Teasel",
        "model: T5",
        "source: tests/bench, invented",
        "readings:",
        *(
            f"  reading_{number}: {{{table}: {at}, name: Reading {number}, {_KINDS[number % len(_KINDS)]}}}"
            for number, (table, at) in enumerate(places)
        ),
    ]
    folder = config / "chargehand"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "two_hundred.yaml").write_text("\n".join(lines) + "\n")
    return "two_hundred"


async def change_values(bench: Bench, turn: int, new: int, units: Iterable[int] = (1,)) -> None:
    """Give the first `new` of the 200 registers a value that they did not have in the turn before."""
    for unit in units:
        if inputs := [1000 + 7 * at + turn for at in range(min(new, INPUTS))]:
            await bench.set(INPUT_FIRST, inputs, table="input", unit=unit)
        if holdings := [2000 + 7 * at + turn for at in range(new - INPUTS)]:
            await bench.set(HOLDING_FIRST, holdings, unit=unit)


async def hold_still(bench: Bench, units: Iterable[int] = (1,)) -> None:
    """Let nothing change by itself: registers show what is set, not what is measured."""
    await change_values(bench, 0, INPUTS + HOLDINGS, units)
