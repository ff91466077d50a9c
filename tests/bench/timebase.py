"""Simulated time: real time at a chosen speed, and moved on to order."""

import time


class Timebase:
    """Seconds of simulated time since the bench started."""

    def __init__(self, speed: float) -> None:
        """Start at zero; `speed` is simulated seconds per real second."""
        self._offset = 0.0
        self._anchor = time.monotonic()
        self._speed = speed

    def now(self) -> float:
        """Return the simulated seconds since the start."""
        return self._offset + (time.monotonic() - self._anchor) * self._speed

    @property
    def speed(self) -> float:
        """Simulated seconds per real second."""
        return self._speed

    def set_speed(self, speed: float) -> None:
        """Run on at another speed from now."""
        self._offset, self._anchor, self._speed = self.now(), time.monotonic(), speed

    def advance(self, seconds: float) -> None:
        """Move simulated time on by `seconds`."""
        self._offset += seconds
