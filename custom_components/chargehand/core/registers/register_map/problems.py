"""What is wrong with a register map, said so that its author can mend it."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from ...english import english
from ...reasons import Reason
from .problem_texts import Words, cut, in_words

LONGEST_KEY, LONGEST_REASON, LONGEST_CURE = 120, 300, 1000
"""Characters of a problem that are shown: a key of a file may be of any length."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """One mistake or doubt: where it is, what is wrong, and what would be right."""

    file: str
    line: int
    key: str
    reason: Reason
    cure: Reason
    is_doubt: bool = False
    """Whether the map works, and this is only doubtful."""

    def text(self, words: Words = english) -> str:
        """Return it as it is shown: file:line: key: what is wrong; what would be right."""
        file, line = self.file, self.line
        reason = cut(in_words(self.reason, words), LONGEST_REASON)
        cure = cut(in_words(self.cure, words), LONGEST_CURE)
        if self.is_doubt:
            return words("map_doubt", file=file, line=line, key=cut(self.key, LONGEST_KEY), reason=reason, cure=cure)
        if not self.key:
            return words("map_problem_of_file", file=file, line=line, reason=reason, cure=cure)
        key = cut(self.key, LONGEST_KEY)
        return words("map_problem", file=file, line=line, key=key, reason=reason, cure=cure)

    def __str__(self) -> str:
        """In English, for logs and the command line."""
        return self.text()


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
        """In English, for logs and the command line: a line for each problem that is listed."""
        return "\n".join(self.listed())

    def listed(self, words: Words = english) -> tuple[str, ...]:
        """Return the first problems as they are shown, and how many more there are."""
        return _first(
            self.problems,
            words,
            lambda more: words("map_one_more") if more == 1 else words("map_more", count=f"{more:,}"),
        )


def listed_doubts(doubts: Sequence[Problem], words: Words = english) -> tuple[str, ...]:
    """Return the first doubts as they are shown, and how many more there are."""
    return _first(
        doubts,
        words,
        lambda more: words("map_one_more_doubt") if more == 1 else words("map_more_doubts", count=f"{more:,}"),
    )


def _first(problems: Sequence[Problem], words: Words, told: Callable[[int], str]) -> tuple[str, ...]:
    """Return the texts of the first problems; the last one is what `told` makes of how many more there are."""
    shown = tuple(problem.text(words) for problem in problems[:MOST_LISTED])
    more = len(problems) - len(shown)
    return (*shown, told(more)) if more else shown
