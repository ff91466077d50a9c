"""Maps are checked from the command line too: every mistake, and an exit code for scripts."""

import subprocess
import sys
from pathlib import Path

from custom_components.chargehand.core.registers.map_file.reference import REFERENCE

from .samples import MAPS, SAMPLE

ROOT = Path(__file__).parents[3]


def run(*files: Path) -> tuple[int, str]:
    """Check these files. Return the exit code and what was printed."""
    command = [sys.executable, "-m", "custom_components.chargehand.core.registers", *map(str, files)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout


def test_each_map_that_is_named_is_checked_and_nothing_is_written(tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text(SAMPLE.replace("maker: Nobody", "maker: 5").replace("max: 100, step", "max: 70000, step"))
    written = REFERENCE.stat().st_mtime_ns
    code, said = run(bad, MAPS / "teasel_t5.yaml", tmp_path / "nowhere.yaml")
    assert code == 1
    assert "bad.yaml:3: maker: 5 is not a text" in said
    assert "bad.yaml:20: controls.reserve_level.max" in said
    assert "teasel_t5.yaml: nothing is wrong" in said
    assert "No such file or directory" in said
    assert "nowhere.yaml" in said
    assert REFERENCE.stat().st_mtime_ns == written
    assert run(MAPS / "burdock_b3.yaml")[0] == 0


def test_what_is_doubtful_is_told_and_the_map_can_be_used(tmp_path: Path) -> None:
    doubtful = tmp_path / "doubtful.yaml"
    doubtful.write_text(SAMPLE.replace(", positive: charging", "").replace("max: 100, step", "step"))
    code, said = run(doubtful)
    assert code == 0
    assert said.splitlines() == [
        (
            "doubtful.yaml:14: readings.battery_power: warning: nothing says which way it counts, and plans depend on it; "
            "give positive: discharging or charging, as the document has it, or direction"
        ),
        (
            "doubtful.yaml:20: controls.reserve_level: warning: it has no max, so all that its register can hold can be set; "
            "give the highest value that the document allows"
        ),
    ]
