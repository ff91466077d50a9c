"""Whose turn it is on the line: urgent ones first, then the oldest."""

import asyncio
from collections import deque
from types import TracebackType


class RequestQueue:
    """A lock with two queues. A commit's requests are urgent and go ahead of polls; within a queue the oldest is next."""

    def __init__(self) -> None:
        """Start with nobody on the line."""
        self.taken = False
        self.urgent: deque[asyncio.Future[None]] = deque()
        self.waiting: deque[asyncio.Future[None]] = deque()

    def take(self, *, urgent: bool) -> _Turn:
        """A turn, to be waited for and held by `async with`."""
        return _Turn(self, self.urgent if urgent else self.waiting)

    def hand_over(self) -> None:
        """Give the line to the next one who still wants it, else leave it free."""
        for queue in (self.urgent, self.waiting):
            while queue:
                turn = queue.popleft()
                if not turn.done():
                    # `taken` stays set: nobody can slip in before the one just called wakes up.
                    turn.set_result(None)
                    return
        self.taken = False


class _Turn:
    """One turn. A class: a generator's context manager takes several times as long to enter, at every request."""

    __slots__ = ("_queue", "_requests")

    def __init__(self, requests: RequestQueue, queue: deque[asyncio.Future[None]]) -> None:
        self._requests = requests
        self._queue = queue

    async def __aenter__(self) -> None:
        requests = self._requests
        if requests.taken:
            turn = asyncio.get_running_loop().create_future()
            self._queue.append(turn)
            try:
                await turn
            except asyncio.CancelledError:
                # The turn may have been handed over in the moment of giving up: it must not be lost.
                if turn.done() and not turn.cancelled():
                    requests.hand_over()
                raise
        requests.taken = True

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._requests.hand_over()
