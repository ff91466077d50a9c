"""What each listener of a coordinator needs read, and which of them are told of a change: most values of most polls are as they were."""

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

type Tell = Callable[[], None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Subscription:
    """A listener's context: keys of the map, SCHEDULE, CLOCK."""

    needs: frozenset[str]
    """What has to be read for it."""

    shows: frozenset[str] = frozenset()
    """All that it looks at; empty: there is more, so that it is told after every poll."""


class Subscriptions:
    """Listeners by what they look at."""

    def __init__(self, listeners: Iterable[tuple[Tell, object]]) -> None:
        """Take them with their contexts; one whose context is no Subscription needs nothing and is always told."""
        self._tell: list[Tell] = []
        self._always: list[int] = []
        self._by_key: dict[str, list[int]] = {}
        needs = set[str]()
        for at, (tell, context) in enumerate(listeners):
            self._tell.append(tell)
            subscription = context if isinstance(context, Subscription) else Subscription(needs=frozenset())
            needs |= subscription.needs
            for key in subscription.shows:
                self._by_key.setdefault(key, []).append(at)
            if not subscription.shows:
                self._always.append(at)
        self.needs = frozenset(needs)
        """What has to be read for all of them."""

    def those(self, changed: Collection[str]) -> list[Tell]:
        """The listeners to tell when these keys are not as they were, in the order in which they came."""
        at = {*self._always, *(at for key in changed for at in self._by_key.get(key, ()))}
        return [self._tell[one] for one in sorted(at)]
