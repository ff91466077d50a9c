"""Finding registers that no map describes yet."""

from .changes import Change, Meaning, changes
from .earlier_reading import SnapshotWrong, snapshot_values
from .interpretations import decodings
from .stretch import LAST_ADDRESS, MOST_REGISTERS, Search, Stretch, runs

__all__ = [
    "LAST_ADDRESS",
    "MOST_REGISTERS",
    "Change",
    "Meaning",
    "Search",
    "SnapshotWrong",
    "Stretch",
    "changes",
    "decodings",
    "runs",
    "snapshot_values",
]
