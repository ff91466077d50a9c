"""Whether a history of concurrent operations on some registers can have happened one after the other.

Each operation takes effect at one moment between its call and its return (linearizability: Herlihy and Wing, ACM TOPLAS 12 (3), 1990; the
search is Wing and Gong's, J. Parallel Distrib. Comput. 17, 1993; both from memory). It shares no code with what it judges.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import inf

type State = tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Operation:
    """A read of all registers (`saw`), or a write of some (`puts`, by place); `called` and `returned` count events."""

    called: int
    returned: int
    saw: State | None = None
    puts: Mapping[int, int] = field(default_factory=dict)
    name: str = ""
    doubtful: bool = False
    """Whether nobody knows if it happened: it may then have, at any moment since its call, or not at all."""

    @property
    def over(self) -> float:
        """When it has happened at the latest."""
        return inf if self.doubtful else self.returned

    def after(self, state: State) -> State:
        """The state after a write."""
        return tuple(self.puts.get(place, value) for place, value in enumerate(state))


def serial_order(history: Sequence[Operation], state: State) -> list[Operation] | None:
    """Return an order in which the history can have happened, from a state on; None if there is none."""
    operations = sorted(history, key=lambda one: one.called)
    tried: set[tuple[frozenset[int], State]] = set()
    stack: list[tuple[frozenset[int], State, list[int]]] = [(frozenset(range(len(operations))), state, [])]
    while stack:
        left, state, order = stack.pop()
        left, order = _reads_first(operations, left, state, order)
        if all(operations[at].doubtful for at in left):
            return [operations[at] for at in order]
        if (left, state) in tried:
            continue
        tried.add((left, state))
        writes = (at for at in _possible(operations, left) if operations[at].saw is None)
        stack.extend((left - {at}, operations[at].after(state), [*order, at]) for at in writes)
    return None


def _possible(operations: Sequence[Operation], left: frozenset[int]) -> list[int]:
    """Return those before which no other one that is left has returned."""
    first_return = min(operations[at].over for at in left)
    return [at for at in left if operations[at].called < first_return]


def _reads_first(
    operations: Sequence[Operation], left: frozenset[int], state: State, order: list[int]
) -> tuple[frozenset[int], list[int]]:
    """Let every read happen that can: it changes nothing for the others."""
    while left:
        reads = [at for at in _possible(operations, left) if operations[at].saw == state]
        if not reads:
            break
        left, order = left.difference(reads), order + reads
    return left, order
