"""One connection to one gateway: requests one at a time, in turn, over a link that is made anew when it breaks."""

import asyncio
from collections.abc import Awaitable, Callable

from pymodbus import FramerType
from pymodbus.client import AsyncModbusTcpClient
from pymodbus.exceptions import ConnectionException, ModbusIOException
from pymodbus.pdu import ModbusPDU

from .endpoint import Endpoint, Framing
from .errors import LineError, Lost, NoAnswer, NoConnection, Refused
from .health import LineHealth
from .quiet import quiet
from .turns import Turns

type Send = Callable[[AsyncModbusTcpClient], Awaitable[ModbusPDU]]

FRAMERS = {Framing.TCP: FramerType.SOCKET, Framing.RTU_OVER_TCP: FramerType.RTU}

FIRST_DELAY = 0.5
"""Seconds from a lost or failed connection to the next try; doubled at each failure."""

LONGEST_DELAY = 5.0
"""Seconds at most between two tries, so that a line that returns is back within one poll."""


class Gateway:
    """The connection that all entries on one gateway share."""

    def __init__(self, endpoint: Endpoint) -> None:
        """Prepare; nothing is sent and no connection made before the first request."""
        self.endpoint = endpoint
        self.health = LineHealth()
        self._turns = Turns()
        self._client: AsyncModbusTcpClient | None = None
        self._closed = False
        self._delay = FIRST_DELAY
        self._not_before = 0.0
        self._last_end = 0.0

    async def request(
        self, send: Send, *, timeout: float, retries: int, pause: float, urgent: bool
    ) -> tuple[ModbusPDU, float]:
        """Carry out one request and answer with the response and its seconds on the line.

        A caller that is cancelled does not cut the request short: an answer nobody waits for would be left in the stream.
        Raises NoConnection, NoAnswer or Refused.
        """
        work = asyncio.ensure_future(self._in_turn(send, timeout, retries, pause, urgent))
        try:
            return await asyncio.shield(work)
        except asyncio.CancelledError:
            # Nobody will ask for this outcome any more; an unread exception would be logged as a fault of ours.
            work.add_done_callback(lambda done: done.cancelled() or done.exception())
            raise

    def close(self) -> None:
        """Close the connection for good."""
        self._closed = True
        self._drop()

    async def _in_turn(
        self, send: Send, timeout: float, retries: int, pause: float, urgent: bool
    ) -> tuple[ModbusPDU, float]:
        loop = asyncio.get_running_loop()
        async with self._turns.take(urgent=urgent):
            with quiet():
                client = await self._connected(timeout)
                quiet_left = self._last_end + pause - loop.time()
                if quiet_left > 0:
                    await asyncio.sleep(quiet_left)
                client.ctx.comm_params.timeout_connect = timeout
                client.ctx.retries = retries
                started = loop.time()
                error: str | None = None
                try:
                    response = await self._answered(client, send)
                except LineError as failure:
                    error = (
                        f"{type(failure).__name__}: {failure}"
                        if isinstance(failure, Refused)
                        else (type(failure).__name__)
                    )
                    raise
                finally:
                    self._last_end = loop.time()
                    seconds = self._last_end - started
                    self.health.record(self._last_end, seconds, error)
                return response, seconds

    async def _answered(self, client: AsyncModbusTcpClient, send: Send) -> ModbusPDU:
        try:
            response = await send(client)
        except (ConnectionException, ConnectionError) as failure:
            self._drop()
            raise NoConnection(str(self.endpoint), Lost.DROPPED) from failure
        except ModbusIOException as failure:
            if not client.connected:
                self._drop()
                raise NoConnection(str(self.endpoint), Lost.DROPPED) from failure
            if self.endpoint.framing is not Framing.TCP:
                # These frames carry no transaction id: only a new connection keeps a late answer from the next request.
                self._drop()
            raise NoAnswer(f"no answer from {self.endpoint}") from failure
        if response.isError():
            raise Refused(response.exception_code)
        return response

    async def _connected(self, timeout: float) -> AsyncModbusTcpClient:
        """Answer with a client whose connection stands; make it when it is time to."""
        if self._client is not None and self._client.connected:
            return self._client
        now = asyncio.get_running_loop().time()
        if self._closed or now < self._not_before:
            raise NoConnection(str(self.endpoint), Lost.CANNOT_CONNECT)
        self._drop()
        client = AsyncModbusTcpClient(
            self.endpoint.host,
            port=self.endpoint.port,
            framer=FRAMERS[self.endpoint.framing],
            name=str(self.endpoint),
            timeout=timeout,
            # The library's own reconnecting would go on in the background after an entry is unloaded.
            reconnect_delay=0,
            trace_connect=self._connection_changed,
        )
        self._client = client
        if not await client.connect():
            self._not_before = asyncio.get_running_loop().time() + self._delay
            self._delay = min(self._delay * 2, LONGEST_DELAY)
            raise NoConnection(str(self.endpoint), Lost.CANNOT_CONNECT)
        self._delay = FIRST_DELAY
        return client

    def _connection_changed(self, connected: bool) -> None:
        """Tell a request that waits for its answer that the connection it would come by is gone."""
        client = self._client
        if connected or client is None:
            return
        answer = client.ctx.response_future
        if not answer.done():
            answer.set_exception(ConnectionResetError(str(self.endpoint)))
            # A future that nobody awaits (no request was out) must not be reported as a forgotten exception.
            answer.exception()

    def _drop(self) -> None:
        client, self._client = self._client, None
        if client is not None:
            client.close()
