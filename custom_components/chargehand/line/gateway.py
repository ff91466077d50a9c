"""One connection to one gateway: requests one at a time, in turn, over a link that is made anew when it breaks."""

import asyncio

from pymodbus.client import ModbusBaseClient
from pymodbus.exceptions import ConnectionException, ModbusIOException
from pymodbus.pdu import ModbusPDU

from .endpoint import Endpoint
from .errors import LineError, Lost, NoAnswer, NoConnection, Refused
from .health import LineHealth
from .link import client_for, connect, ear_for
from .quiet import quiet
from .step import Send, Step
from .turns import Turns

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
        self._ear = ear_for(endpoint, self.health, self._flooded)
        self._step = Step()
        self._client: ModbusBaseClient | None = None
        self._closed = False
        self._delay = FIRST_DELAY
        self._not_before = 0.0
        self._last_end = 0.0
        self._busy = 0.0

    async def request(
        self, send: Send, *, unit: int, timeout: float, retries: int, pause: float, urgent: bool
    ) -> tuple[ModbusPDU, float]:
        """Carry out one request and answer with the response and its seconds on the line.

        A caller that is cancelled does not cut the request short: an answer nobody waits for would be left in the stream.
        Raises NoConnection, NoAnswer or Refused.
        """
        work = asyncio.ensure_future(self._in_turn(send, unit, timeout, retries, pause, urgent))
        try:
            return await asyncio.shield(work)
        except asyncio.CancelledError:
            # Nobody will ask for this outcome any more; an unread exception would be logged as a fault of ours.
            work.add_done_callback(lambda done: done.cancelled() or done.exception())
            raise

    def close(self) -> None:
        """Close the connection for good; a request that is out ends with NoConnection."""
        self._closed = True
        self._drop(ConnectionResetError(str(self.endpoint)))

    async def _in_turn(
        self, send: Send, unit: int, timeout: float, retries: int, pause: float, urgent: bool
    ) -> tuple[ModbusPDU, float]:
        async with self._turns.take(urgent=urgent):
            self._busy = 0.0
            error: str | None = None
            with quiet():
                try:
                    return await self._tried(send, unit, timeout, retries, pause)
                except LineError as failure:
                    kind = type(failure).__name__
                    error = f"{kind}: {failure}" if isinstance(failure, Refused) else kind
                    raise
                finally:
                    if self._busy:
                        self.health.record(self._last_end, self._busy, error)

    async def _tried(
        self, send: Send, unit: int, timeout: float, retries: int, pause: float
    ) -> tuple[ModbusPDU, float]:
        """Ask until there is an answer, or all retries are used up."""
        for left in range(retries, -1, -1):
            client = await self._connected(timeout)

            async def ask(send: Send, again: int = 0, client: ModbusBaseClient = client) -> tuple[ModbusPDU, float]:
                return await self._exchange(client, send, unit, timeout, again, pause)

            try:
                await self._step.regain(unit, timeout, self._ear, ask)
                # Under the same id the library can ask again by itself: whichever answer comes, it is to this question.
                response, seconds = await ask(send, left if self._ear.by_id else 0)
            except NoAnswer:
                asked_enough = self._ear.by_id or not left
                self._no_answer(client, unit)
                if asked_enough:
                    raise
            else:
                response.retries += retries - left
                return response, seconds
        raise AssertionError("the last try returns or raises")

    async def _exchange(
        self, client: ModbusBaseClient, send: Send, unit: int, timeout: float, retries: int, pause: float
    ) -> tuple[ModbusPDU, float]:
        """Send one request after its pause, and wait for its answer and its seconds."""
        loop = asyncio.get_running_loop()
        await asyncio.sleep(max(0.0, self._last_end + pause - loop.time()))
        client.ctx.comm_params.timeout_connect = timeout
        client.ctx.retries = retries
        started = loop.time()
        try:
            response = await send(client)
        except (ConnectionException, ConnectionError) as failure:
            self._drop(failure)
            raise NoConnection(str(self.endpoint), Lost.DROPPED) from failure
        except ModbusIOException as failure:
            self._ear.gave_up()
            raise NoAnswer(f"no answer from {self.endpoint}") from failure
        finally:
            self._last_end = loop.time()
            seconds = self._last_end - started
            self._busy += seconds
        self._step.answered(unit)
        if response.isError():
            raise Refused(response.exception_code)
        return response, seconds

    def _no_answer(self, client: ModbusBaseClient, unit: int) -> None:
        """See to it that the missing answer is not taken for another one's."""
        if not self._ear.by_id:
            self._step.missing(unit)
        if not self._ear.by_id or self._ear.torn or not client.connected:
            self._drop(ModbusIOException())

    async def _connected(self, timeout: float) -> ModbusBaseClient:
        """Answer with a client whose connection stands; make it when it is time to."""
        if self._client is not None and self._client.connected:
            return self._client
        now = asyncio.get_running_loop().time()
        if self._closed or now < self._not_before:
            raise NoConnection(str(self.endpoint), Lost.CANNOT_CONNECT)
        self._drop(ModbusIOException())
        client = client_for(self.endpoint, self._ear, timeout, self._connection_changed)
        self._client = client
        if not await connect(client, self._ear):
            self._not_before = asyncio.get_running_loop().time() + self._delay
            self._delay = min(self._delay * 2, LONGEST_DELAY)
            raise NoConnection(str(self.endpoint), Lost.CANNOT_CONNECT)
        self._delay = FIRST_DELAY
        return client

    def _connection_changed(self, connected: bool) -> None:
        """Tell a request that waits for its answer that the connection it would come by is gone."""
        if not connected and self._client is not None:
            _end_wait(self._client, ConnectionResetError(str(self.endpoint)))

    def _flooded(self) -> None:
        """The other end sends without end what is no answer: close, or reading it would be all that is done here."""
        self._drop(ModbusIOException())

    def _drop(self, why: Exception) -> None:
        """Close the connection; a request that is out ends with `why`."""
        client, self._client = self._client, None
        if client is not None:
            client.close()
            _end_wait(client, why)


def _end_wait(client: ModbusBaseClient, why: Exception) -> None:
    answer = client.ctx.response_future
    if not answer.done():
        answer.set_exception(why)
        # A future that nobody awaits (no request was out) must not be reported as a forgotten exception.
        answer.exception()
