"""The time of the house: real time, or one that begins at another hour and passes faster.

What runs by it: all that Home Assistant and Chargehand take for now, and each timer that Home Assistant sets, and which readings are due. What stays in real time: the
line with its time-outs and pauses, the pauses of asyncio and of the web server, and logins.
Nothing of Home Assistant's logic is replaced; it is told another time, and its timers ring sooner.
"""

import asyncio
import heapq
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, tzinfo
from datetime import time as Hour  # noqa: N812 - beside the module time
from types import SimpleNamespace
from typing import Any

from .weather import ZONE

_real = time.time

HURRIED = "homeassistant."
"""Timers set by modules of this package run by the house's time."""

COUNTS_SECONDS = "custom_components.chargehand.coordinator"
"""The module that counts by the loop's clock which readings are due."""


class HouseTime:
    """Seconds since 1970 as the house has them."""

    def __init__(self, begin: Hour | None = None) -> None:
        """Begin at this hour of today in the house's zone, or now; at the speed of real time."""
        self._anchor = _real()
        today = datetime.now(ZONE).date()
        self._house = self._anchor if begin is None else datetime.combine(today, begin, ZONE).timestamp()
        self.speed = 1.0
        self.is_told = False
        """Whether Home Assistant goes by it."""

    def timestamp(self) -> float:
        """Return the seconds since 1970 in the house's time."""
        return self._house + (_real() - self._anchor) * self.speed

    def now(self, zone: tzinfo = UTC) -> datetime:
        """Return the house's time as an aware moment."""
        return datetime.fromtimestamp(self.timestamp(), zone)

    def set_speed(self, speed: float) -> None:
        """Pass at another speed from now, in seconds of the house per real second."""
        self._house, self._anchor, self.speed = self.timestamp(), _real(), speed

    def tell_home_assistant(self) -> None:
        """Let Home Assistant take this for the time. Call it before anything of Home Assistant is imported."""
        if "homeassistant.core" in sys.modules:
            raise RuntimeError("Home Assistant has taken the real time already")
        self.is_told = True
        time.time = self.timestamp
        from homeassistant.util import dt as dt_util  # noqa: PLC0415 - not before the line above

        dt_util.utcnow = self.now  # type: ignore[assignment]
        dt_util.now = lambda time_zone=None: self.now(time_zone or dt_util.get_default_time_zone())
        from homeassistant import auth  # noqa: PLC0415
        from homeassistant.components.http import auth as page  # noqa: PLC0415

        # The tokens of a login are checked by a library that has the real time, and a browser's login shall last.
        for module in (auth, page):
            module.time = SimpleNamespace(time=_real)  # type: ignore[attr-defined]


class HouseLoop(asyncio.SelectorEventLoop):
    """An event loop in real time on which Home Assistant's own timers ring when the house's time has come."""

    def __init__(self, house_time: HouseTime) -> None:
        """Ring by this time."""
        super().__init__()
        self._house_time = house_time
        self._waiting: list[asyncio.TimerHandle] = []

    def time(self) -> float:
        """Return this loop's clock: in real time, but for the count of which readings are due."""
        if self._house_time.is_told and _asker() == COUNTS_SECONDS:
            return self._house_time.timestamp()
        return super().time()

    def call_later(self, delay: float, callback: Callable[..., Any], *args: Any, context: Any = None) -> Any:
        """Call back after seconds: of the house where Home Assistant asks."""
        if not _asker().startswith(HURRIED):
            return super().call_later(delay, callback, *args, context=context)
        return self._hurry(self.time() + delay, callback, *args, context=context)

    def call_at(self, when: float, callback: Callable[..., Any], *args: Any, context: Any = None) -> Any:
        """Call back at a moment of this loop, from which the time until then is taken: of the house where Home Assistant asks."""
        if not _asker().startswith(HURRIED):
            return super().call_at(when, callback, *args, context=context)
        return self._hurry(when, callback, *args, context=context)

    def _hurry(self, when: float, callback: Callable[..., Any], *args: Any, context: Any) -> asyncio.TimerHandle:
        speed, now = self._house_time.speed, self.time()
        timer = super().call_at(now + (when - now) / speed, callback, *args, context=context)
        if speed == 1:
            self._waiting.append(timer)
        return timer

    def set_speed(self, speed: float) -> None:
        """Let the house's time pass at another speed from now, once. Timers that wait are hurried too."""
        self._house_time.set_speed(speed)
        now = self.time()
        # asyncio has no way to move a timer, and those who set these hold on to them.
        for timer in self._waiting:
            timer._when = now + (timer._when - now) / speed  # type: ignore[attr-defined] # noqa: SLF001
        heapq.heapify(self._scheduled)  # type: ignore[attr-defined]
        self._waiting.clear()


def _asker() -> str:
    """Return the module of the caller's caller; for asyncio's own sleep and time-outs that is asyncio."""
    return str(sys._getframe(2).f_globals.get("__name__"))  # noqa: SLF001
