"""The rates of readings that are due at a poll: fast ones always, slow ones after an interval, others once until they were read."""

from collections.abc import Mapping

from ..registers import Poll, Reading


class PollRates:
    """The due rates of one inverter. Times are seconds on the event loop's clock."""

    def __init__(self, slow_seconds: float, readings: Mapping[str, Reading]) -> None:
        """Set up to read slow readings every `slow_seconds`."""
        self.slow_seconds = slow_seconds
        self._readings = readings
        self._slow_due = 0.0
        self._read_slow: frozenset[str] = frozenset()
        self._once_missed: set[str] = set()

    def due(self, wanted: frozenset[str], now: float) -> set[Poll]:
        """Return the rates to read now for the `wanted` keys."""
        # A newly enabled entity does not wait for the next slow poll.
        slow = now >= self._slow_due or bool(wanted - self._read_slow)
        rates = {Poll.FAST, Poll.SLOW} if slow else {Poll.FAST}
        if not wanted <= self._read_slow or (slow and self._once_missed):
            rates.add(Poll.ONCE)
        return rates

    def record_poll(self, rates: set[Poll], wanted: frozenset[str], missed: frozenset[str], now: float) -> None:
        """Record a poll of these rates that read at least something."""
        if Poll.SLOW in rates:
            self._slow_due = now + self.slow_seconds
            self._read_slow = wanted
        if Poll.ONCE in rates:
            once = {key for key in missed if key in self._readings and self._readings[key].poll is Poll.ONCE}
            self._once_missed = once

    def slow_next(self) -> None:
        """Read the slow readings at the next poll."""
        self._slow_due = 0.0
