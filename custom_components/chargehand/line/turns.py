"""Whose turn it is on the line: urgent ones first, then the oldest."""

import asyncio
from collections import deque
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager


class Turns:
    """A lock with two queues. A commit's requests are urgent and go ahead of polls; within a queue the oldest is next."""

    def __init__(self) -> None:
        """Start with nobody on the line."""
        self._taken = False
        self._urgent: deque[asyncio.Future[None]] = deque()
        self._waiting: deque[asyncio.Future[None]] = deque()

    @asynccontextmanager
    async def take(self, *, urgent: bool) -> AsyncIterator[None]:
        """Wait for a turn and hold it."""
        if self._taken:
            turn = asyncio.get_running_loop().create_future()
            (self._urgent if urgent else self._waiting).append(turn)
            try:
                await turn
            except asyncio.CancelledError:
                # The turn may have been handed over in the moment of giving up: it must not be lost.
                if turn.done() and not turn.cancelled():
                    self._hand_over()
                raise
        self._taken = True
        try:
            yield
        finally:
            self._hand_over()

    def _hand_over(self) -> None:
        """Give the line to the next one who still wants it, else leave it free."""
        for queue in (self._urgent, self._waiting):
            while queue:
                turn = queue.popleft()
                if not turn.done():
                    # `_taken` stays set: nobody can slip in before the one just called wakes up.
                    turn.set_result(None)
                    return
        self._taken = False
