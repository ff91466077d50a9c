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


class MapInvalid(Exception):
    """A register map that cannot be used, with everything that is wrong with it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        """Keep all problems, in the order of the file."""
        self.problems = tuple(sorted(problems, key=lambda problem: (problem.line, problem.key)))
        super().__init__("\n".join(str(problem) for problem in self.problems))
