"""The yearly measurement fed with files: its own house and half hours, and files that are none."""

from pathlib import Path

import pytest

from tests.benchmarks.houses.calendar import EARLIER, STEPS
from tests.benchmarks.houses.files import BadFile, read_column, read_house
from tests.benchmarks.plan_year import main

HOUSE = """
load_kwh: 4380
solar_kwp: 0
capacity_kwh: 9
power_kw: 3
bands:
  - {start: "01:00", end: 05:00, buy: 0.10}
  - {start: "12:00", end: 13:00, buy: 0.20}
buy: 0.30
sell: 0.05
"""
DAYS = 3


def _csv(path: Path, day: list[float], days: int = DAYS, head: str = "start,kWh\n") -> Path:
    """So many like days."""
    rows = [f"{at // 48:02d} {at % 48 / 2:04.1f},{kwh}" for at, kwh in enumerate(day * days)]
    path.write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def _row(printed: str, way: str) -> tuple[float, float]:
    line = next(line for line in printed.splitlines() if line.strip().startswith(way))
    cost, captured = line.split()[-2:]
    return float(cost), float(captured)


def test_house_load_and_solar_from_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A load of 0.25 kWh, and 0.5 kWh from the roof from 10:00 to 14:00: what it costs without a night charge is calculated by hand.

    A day from 20:00: 2 kWh at 0.10, 8 kWh at 0.30; 2 kWh left over by the roof give 2 x 0.94^2 = 1.767 back before 20:00: 2.070. Of
    the 2 kWh above the reserve at first 1.88 are spared at 0.30 before 01:00: 3 x 2.070 - 0.564 = 5.646.
    Without the roof two half hours are at 0.20 and 9.5 kWh at 0.30: 3 x 3.150 - 0.564 = 8.886.
    """
    house = tmp_path / "house.yaml"
    house.write_text(HOUSE, encoding="utf-8")
    load = _csv(tmp_path / "load.csv", [0.25] * 48)
    solar = _csv(tmp_path / "solar.csv", [0.0] * 20 + [0.5] * 8 + [0.0] * 20, head="")
    options = ["--house", str(house), "--load", str(load), "--solar", str(solar), "--days", str(DAYS)]
    main([*options, "--forecast-error", "0", "--seed", "7"])
    printed = capsys.readouterr().out
    assert "3 days from 1 January" in printed
    none, _ = _row(printed, "no night charge")
    ours, captured = _row(printed, "Chargehand")
    best, _ = _row(printed, "perfect foresight")
    assert none == pytest.approx(5.646, abs=0.01)
    assert best < ours < none
    assert captured == pytest.approx((none - ours) / (none - best), abs=0.003)
    main(["--house", str(house), "--load", str(load), "--days", str(DAYS)])
    assert _row(capsys.readouterr().out, "no night charge")[0] == pytest.approx(8.886, abs=0.01)


def test_half_hours_beyond_the_end_come_again(tmp_path: Path) -> None:
    values = read_column(_csv(tmp_path / "a.csv", [at / 100 for at in range(48)]), DAYS)
    assert len(values) == STEPS
    assert values[(EARLIER + 5) * 48 + 7] == values[7] == pytest.approx(0.07)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("kWh\n0.2\nnone\n", r"row 3: 'none' is no energy"),
        ("0.2\n-0.1\n", r"row 2: '-0.1' is no energy"),
        ("0.2\n\nnan\n", r"row 3: 'nan' is no energy"),
        ('"0,2"\n"0,3"\n', r"row 2: '0,3' is no energy: give 0 or more kWh, as in 0.215"),
        ("kWh\n" + "0.2\n" * 100, "100 half hours, and 3 days have 144"),
        ("", "0 half hours"),
    ],
)
def test_half_hours_that_are_none(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "load.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile, match=rf"load\.csv.*{says}"):
        read_column(path, DAYS)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("buy: 0.30", "", "buy is missing: give a number"),
        ("power_kw: 3", "power_kw: fast", "power_kw is 'fast': give a number"),
        ("power_kw: 3", "power_kw: 0", "charge_kw is 0"),
        ("capacity_kwh: 9", "capacity_kwh: -9", "capacity_kwh is -9"),
        ("load_kwh: 4380", "load_kwh: -1", "give 0 or more"),
        ("load_kwh: 4380", "usage: 4380", "unknown key usage: there are load_kwh"),
        ('"12:00"', '"noon"', "'noon' is no time of day"),
        ('"12:00"', '"04:00"', "overlaps another one"),
        ("buy: 0.20", "price: 0.20", "give start, end and buy"),
        ("sell: 0.05", "sell: 0.05\nbands: cheap", "bands is 'cheap': give a list"),
        ("sell: 0.05", "sell: 0.05\nhalf_hourly: 1", "half_hourly is 1: give true or false"),
        ("load_kwh: 4380", "load_kwh: [", "no YAML"),
    ],
)
def test_house_that_is_none(tmp_path: Path, old: str, new: str, says: str) -> None:
    path = tmp_path / "house.yaml"
    assert old in HOUSE
    path.write_text(HOUSE.replace(old, new), encoding="utf-8")
    with pytest.raises(BadFile, match=rf"house\.yaml: .*{says}"):
        read_house(path)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--load", "missing.csv"], "missing.csv: cannot be read"),
        (["--days", "366"], "give 1 to 365"),
        (["--forecast-error", "-0.1"], "give 0 to 2"),
        (["--seed", "-1"], "give 0 or more"),
    ],
)
def test_words_that_are_refused(words: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 2
    assert says in capsys.readouterr().err
