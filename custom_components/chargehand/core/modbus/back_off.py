"""How long to wait before the next connection to a gateway that cannot be reached, or that drops its connections."""

import asyncio

from .errors import Lost

FIRST_DELAY = 0.5
"""Seconds from a lost or failed connection to the next attempt; doubled at each failure."""

LONGEST_DELAY = 5.0
"""Longest delay between two attempts in seconds, so that a gateway that returns is connected again within one poll."""

LONGEST_SHARED_DELAY = 60.0
"""The same while another client uses the gateway: if it accepts only one connection, each new one ends the other client's."""


class BackOff:
    """Delays new connections, longer after each failure, until one brings an answer."""

    def __init__(self) -> None:
        """Set up without a delay."""
        self.shared = False
        """Whether another client is known to use this gateway."""

        self.lost = Lost.CANNOT_CONNECT
        """Why there was no connection the last time."""

        self.why = ""
        """The same in the words of the system or the port's driver."""

        self.failure: Exception | None = None
        """The same as the error, when the connection could not be opened."""

        self.delay = FIRST_DELAY
        """Seconds that the next failure will delay the next connection."""

        self._not_before = 0.0

    @property
    def must_wait(self) -> bool:
        """Return whether it is too early for a new connection."""
        return asyncio.get_running_loop().time() < self._not_before

    def record_failure(self, lost: Lost, why: str = "", failure: Exception | None = None) -> None:
        """Delay the next connection, and double the delay for the next failure."""
        self.lost, self.why, self.failure = lost, why, failure
        self._not_before = asyncio.get_running_loop().time() + self.delay
        self.delay = min(self.delay * 2, LONGEST_SHARED_DELAY if self.shared else LONGEST_DELAY)

    def record_answer(self, connection_opened_at: float) -> None:
        """Return to the first delay, because an answer came over a connection that opened at this time on the event loop's clock.

        On a shared gateway the connection must have lasted: another client may have lost its own for it.
        """
        if not self.shared or asyncio.get_running_loop().time() - connection_opened_at > LONGEST_SHARED_DELAY:
            self.delay = FIRST_DELAY
