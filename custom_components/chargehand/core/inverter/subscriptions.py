"""The keys that each listener of a coordinator needs, and the listeners to call after a change: most polls change few values."""

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

type Listener = Callable[[], None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Subscription:
    """A listener's context. Its keys are those of the map, SCHEDULE and CLOCK."""

    needs: frozenset[str]
    """The keys to poll for this listener."""

    shows: frozenset[str] = frozenset()
    """The keys that it shows. If empty, it depends on more than keys, and is called after every poll."""


class Subscriptions:
    """Listeners by the keys that they show."""

    def __init__(self, listeners: Iterable[tuple[Listener, object]]) -> None:
        """Set up the listeners with their contexts. One whose context is no Subscription needs no keys and is always called."""
        self._listeners: list[Listener] = []
        self._always: list[int] = []
        self._by_key: dict[str, list[int]] = {}
        needs = set[str]()
        for at, (listener, context) in enumerate(listeners):
            self._listeners.append(listener)
            subscription = context if isinstance(context, Subscription) else Subscription(needs=frozenset())
            needs |= subscription.needs
            for key in subscription.shows:
                self._by_key.setdefault(key, []).append(at)
            if not subscription.shows:
                self._always.append(at)
        self.needs = frozenset(needs)
        """The keys to poll for all of them."""

    def affected_by(self, changed: Collection[str]) -> list[Listener]:
        """Return the listeners to call when these keys have changed, in the order in which they were added."""
        at = {*self._always, *(at for key in changed for at in self._by_key.get(key, ()))}
        return [self._listeners[one] for one in sorted(at)]
