"""A house and its half hours from files of a user: YAML and CSV, with errors that name file, row and key."""

import csv
from datetime import time
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from custom_components.chargehand.core.planning import Band, PlanningFault, Tariff
from tests.benchmarks.houses.calendar import EARLIER, STEPS, Floats
from tests.benchmarks.houses.course import Course, course
from tests.benchmarks.houses.house import HalfHourly, House

NUMBERS = ("load_kwh", "solar_kwp", "capacity_kwh", "power_kw")
KEYS = (*NUMBERS, "bands", "buy", "sell", "half_hourly")
DAY = 48
"""Half hours."""


class BadFile(ValueError):
    """A file that no house can be read from. The text says what to do."""


def read_house(path: Path) -> House:
    """A house from YAML as `reference.yaml` shows it; raises BadFile."""
    try:
        given = yaml.safe_load(_text(path))
    except yaml.YAMLError as error:
        raise BadFile(f"{path.name}: no YAML: {error}") from error
    if not isinstance(given, dict):
        raise BadFile(f"{path.name}: give the keys {', '.join(KEYS)}")
    if unknown := [str(key) for key in given if key not in KEYS]:
        raise BadFile(f"{path.name}: unknown key {unknown[0]}: there are {', '.join(KEYS)}")
    half_hourly = given.get("half_hourly", False)
    if not isinstance(half_hourly, bool):
        raise BadFile(f"{path.name}: half_hourly is {half_hourly!r}: give true or false")
    buy = 0.0 if half_hourly and "buy" not in given else _number(path, given, "buy")
    try:
        bands = tuple(_band(path, row) for row in _list(path, given.get("bands") or []))
        house = House(
            **{key: _number(path, given, key) for key in NUMBERS},
            tariff=Tariff(bands=bands, buy=buy, sell=_number(path, given, "sell")),
            half_hourly=HalfHourly() if half_hourly else None,
        )
        house.check()
    except PlanningFault as error:
        raise BadFile(f"{path.name}: {error}") from error
    return house


def read_course(
    house: House, seed: int, days: int, error: float, load: Path | None = None, solar: Path | None = None
) -> Course:
    """The year of a house, with what files give of it; raises BadFile where they do not reach over the days."""
    return course(
        house,
        seed,
        None if load is None else read_column(load, days),
        None if solar is None else read_column(solar, days),
        error,
    )


def read_column(path: Path, days: int) -> Floats:
    """Half-hourly kWh from a CSV, the last field of each row; a first row without a number there is a heading.

    The first half hour is the one from the midnight before the first evening, and each is 30 minutes of real time. Beyond its end the file
    comes again, since the last horizons reach there; before its beginning its end is taken, for what is known on the first evening. Raises
    BadFile.
    """
    values: list[float] = []
    for number, row in enumerate(csv.reader(_text(path).splitlines()), start=1):
        if not row or not any(field.strip() for field in row):
            continue
        value = _kwh(row[-1])
        if value is None and number == 1:
            continue
        if value is None or not isfinite(value) or value < 0:
            raise BadFile(f"{path.name}, row {number}: {row[-1]!r} is no energy: give 0 or more kWh, as in 0.215")
        values.append(value)
    if not values or len(values) < days * DAY:
        raise BadFile(
            f"{path.name}: {len(values)} half hours, and {days} days have {days * DAY}: give more, or ask for fewer --days"
        )
    return np.array(values)[(np.arange(STEPS) - EARLIER * DAY) % len(values)]


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadFile(f"{path}: cannot be read: {error}") from error


def _kwh(field: str) -> float | None:
    try:
        return float(field)
    except ValueError:
        return None


def _number(path: Path, given: dict[str, Any], key: str) -> float:
    value = given.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise BadFile(f"{path.name}: {key} is {'missing' if value is None else repr(value)}: give a number")
    return float(value)


def _list(path: Path, given: object) -> list[Any]:
    if not isinstance(given, list):
        raise BadFile(f"{path.name}: bands is {given!r}: give a list of start, end and buy")
    return given


def _band(path: Path, row: Any) -> Band:
    if not isinstance(row, dict) or set(row) != {"start", "end", "buy"}:
        raise BadFile(f"{path.name}: band {row!r}: give start, end and buy")
    return Band(start=_clock(path, row["start"]), end=_clock(path, row["end"]), buy=_number(path, row, "buy"))


def _clock(path: Path, given: object) -> time | int:
    # YAML reads 22:40 without quotes as so many minutes, 01:00 as text.
    if isinstance(given, int) and not isinstance(given, bool):
        return given
    try:
        return time.fromisoformat(str(given))
    except ValueError as error:
        raise BadFile(f"{path.name}: {given!r} is no time of day: give one as in 22:40") from error
