"""The inverter's own clock: local time that was set once, drifts, and knows nothing of summer time."""

from datetime import datetime, timedelta

DAY_SECONDS = 86_400.0
_EPOCH = datetime(2000, 1, 1)  # noqa: DTZ001 - the inverter's clock has no time zone


class Clock:
    """Naive local time as a function of simulated seconds."""

    def __init__(self, local: datetime, at: float) -> None:
        """Show `local` at the simulated second `at`."""
        self._seconds = (local - _EPOCH).total_seconds()
        self._at = at
        self.drift = 0.0
        """Seconds gained per day; negative = loses."""

    def _elapsed(self, at: float) -> float:
        return self._seconds + (at - self._at) * (1 + self.drift / DAY_SECONDS)

    def read(self, at: float) -> datetime:
        """Return what the clock shows."""
        return _EPOCH + timedelta(seconds=self._elapsed(at))

    def set(self, local: datetime, at: float) -> None:
        """Show `local` from now on."""
        self._seconds, self._at = (local - _EPOCH).total_seconds(), at

    def set_drift(self, seconds_per_day: float, at: float) -> None:
        """Gain `seconds_per_day` from now on."""
        self._seconds, self._at, self.drift = self._elapsed(at), at, seconds_per_day

    def minute(self, at: float) -> int:
        """Return the minutes since 2000, which change when the clock's minute does."""
        return int(self._elapsed(at) // 60)

    def next_minute(self, at: float) -> float:
        """Return the simulated second at which the clock's minute changes next."""
        left = 60.0 - self._elapsed(at) % 60.0
        return at + max(left / (1 + self.drift / DAY_SECONDS), 1e-3)
