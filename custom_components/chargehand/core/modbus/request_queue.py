"""The order of requests on one gateway: urgent ones first, then the oldest."""

import asyncio
from collections import deque
from types import TracebackType


class RequestQueue:
    """A lock with two queues. A commit's requests are urgent and go ahead of polls; within a queue the oldest is next."""

    def __init__(self) -> None:
        """Set up an unlocked queue."""
        self.locked = False
        self.urgent: deque[asyncio.Future[None]] = deque()
        self.waiting: deque[asyncio.Future[None]] = deque()

    def acquire(self, *, urgent: bool) -> _Acquisition:
        """Return a context manager that waits for the lock and holds it."""
        return _Acquisition(self, self.urgent if urgent else self.waiting)

    def release(self) -> None:
        """Pass the lock to the next request that still waits, or unlock."""
        for queue in (self.urgent, self.waiting):
            while queue:
                waiter = queue.popleft()
                if not waiter.done():
                    # `locked` stays set, so that no other request takes the lock before this one wakes up.
                    waiter.set_result(None)
                    return
        self.locked = False


class _Acquisition:
    """One acquisition. A class, because entering a generator's context manager takes several times as long, at every request."""

    __slots__ = ("_queue", "_requests")

    def __init__(self, requests: RequestQueue, queue: deque[asyncio.Future[None]]) -> None:
        self._requests = requests
        self._queue = queue

    async def __aenter__(self) -> None:
        requests = self._requests
        if requests.locked:
            waiter = asyncio.get_running_loop().create_future()
            self._queue.append(waiter)
            try:
                await waiter
            except asyncio.CancelledError:
                # The lock may have been passed on just before the cancellation: it must not be lost.
                if waiter.done() and not waiter.cancelled():
                    requests.release()
                raise
        requests.locked = True

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._requests.release()
