"""Numbers whose registers come in several reads: one that carries between two of them is off by all that a register holds.

So a jump that large is believed once the next poll shows it too. The first value of all has nothing to be compared with.
"""

from collections.abc import Mapping

from ..registers import Reading, RegisterMap
from .snapshot import ReadingValue


class WordsApart:
    """Believes the values of one reading, or waits for the next."""

    def __init__(self, carry: float) -> None:
        """Take by how much a value can be off."""
        self._jump = carry / 2
        self._believed: ReadingValue = None
        self._doubted: ReadingValue = None

    def believed(self, value: ReadingValue) -> ReadingValue:
        """Return the value, or the one before it while it is in doubt."""
        if self._jumps(self._believed, value) and self._jumps(self._doubted, value, unknown=True):
            self._doubted = value
            return self._believed
        self._believed, self._doubted = value, None
        return value

    @property
    def in_doubt(self) -> bool:
        """Whether the next poll has to tell."""
        return self._doubted is not None

    def _jumps(self, before: ReadingValue, value: ReadingValue, *, unknown: bool = False) -> bool:
        if isinstance(before, int | float) and isinstance(value, int | float):
            return abs(value - before) >= self._jump
        return unknown


def words_apart(register_map: RegisterMap) -> Mapping[str, WordsApart]:
    """Return what believes the values of each reading whose registers come in several reads, by its key."""
    carries = {key: _carry(reading) for key, reading in register_map.readings.items()}
    return {key: WordsApart(carry) for key, carry in carries.items() if carry is not None}


def _carry(reading: Reading) -> float | None:
    """Return by how much a value is off that carried while it was read; None where its registers come in one read."""
    steps = [abs(part.scale) for part in reading.point.parts if part.words and part.scale_at is None]
    return float(min(steps)) * 0x10000 if steps else None
