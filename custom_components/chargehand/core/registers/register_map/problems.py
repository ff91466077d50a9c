"""What is wrong with a register map, said so that its author can mend it."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """One mistake: where it is, what is wrong, and what would be right."""

    file: str
    line: int
    key: str
    reason: str
    cure: str

    def __str__(self) -> str:
        """As it is shown: file:line: key: what is wrong; what would be right."""
        return f"{self.file}:{self.line}: {self.key or 'the file'}: {self.reason}; {self.cure}"


MOST_LISTED = 20
"""Problems that are listed one by one: nobody reads more of them at a time."""


class MapInvalid(Exception):
    """A register map that cannot be used, with everything that is wrong with it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        """Keep all problems, in the order of the file."""
        self.problems = tuple(sorted(problems, key=lambda problem: (problem.line, problem.key)))
        # The problems are the arguments, as pickling rebuilds an exception from these.
        super().__init__(self.problems)

    def __str__(self) -> str:
        """As it is shown: a line for each problem that is listed."""
        return "\n".join(self.listed)

    @property
    def listed(self) -> tuple[str, ...]:
        """The first problems as they are shown, and how many more there are."""
        more = len(self.problems) - MOST_LISTED
        rest = f"and {more:,} more mistakes" if more > 1 else "and one more mistake"
        return (*map(str, self.problems[:MOST_LISTED]), *([rest] if more > 0 else ()))
