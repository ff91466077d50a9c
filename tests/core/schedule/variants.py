"""Teasel maps as other inverters would need them: shorter writes, function 6, nothing to disarm by."""

from collections.abc import Mapping
from pathlib import Path

import yaml

TEASEL = Path(__file__).parents[3] / "custom_components" / "chargehand" / "maps" / "teasel_t5.yaml"

WRITES: Mapping[str, Mapping[str, int]] = {
    "long": {},
    "four": {"longest_write": 4},
    "single": {"write_function": 6},
}
"""What a map's line section adds: how much one write request may carry."""

VARIANTS = tuple(f"{armed}_{writes}" for armed in ("armed", "bare") for writes in WRITES)
"""`armed`: a switch disarms the schedule; `bare`: its windows always act, as far as the map knows."""


def write_variant(name: str, folder: Path, *, least_power: float = 0, **line: int) -> Path:
    """Write one variant's map into a folder: the Teasel's with the shortest waits that a map may ask for."""
    armed, writes = name.split("_")
    data = yaml.safe_load(TEASEL.read_text())
    data["line"] |= {"timeout_ms": 100, "settle_ms": 0} | dict(WRITES[writes]) | line
    if armed == "bare":
        del data["schedule"]["armed_by"]
    for side in ("charge", "discharge"):
        data["schedule"][side]["fields"]["power"]["min"] = least_power
    path = folder / f"{name}.yaml"
    path.write_text(yaml.safe_dump(data, sort_keys=False))
    return path
