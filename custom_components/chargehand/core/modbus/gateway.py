"""One connection to one gateway: requests one at a time, in order, over a connection that is opened again when it breaks."""

import asyncio
import secrets
from functools import partial
from typing import NamedTuple

from pymodbus.pdu import ModbusPDU

from .back_off import BackOff
from .connection import Connection
from .endpoint import Endpoint, Framing
from .errors import LineError, Lost, Missing, NoAnswer, NoConnection, Refused
from .frame_decoder import FrameDecoder
from .health import LineHealth
from .passed_request import PassedRequest
from .request_queue import RequestQueue
from .resynchronizer import Resynchronizer
from .rtu_frame_decoder import RtuFrameDecoder
from .tcp_frame_decoder import TcpFrameDecoder

DECODERS: dict[Framing, type[FrameDecoder]] = {
    Framing.TCP: TcpFrameDecoder,
    Framing.RTU_OVER_TCP: RtuFrameDecoder,
    Framing.SERIAL: RtuFrameDecoder,
}


class Answer(NamedTuple):
    """The response to a request, its seconds on the line, how often it was sent again, and when it was first sent (event loop's clock)."""

    response: ModbusPDU
    seconds: float
    retries: int
    sent: float


class _Options(NamedTuple):
    """How to send one request; times in seconds."""

    timeout: float
    retries: int
    pause: float
    urgent: bool


class Gateway:
    """The connection that all entries on one gateway share."""

    def __init__(self, endpoint: Endpoint) -> None:
        """Set up the gateway; it connects at the first request."""
        self.endpoint = endpoint
        self.health = LineHealth()
        self._queue = RequestQueue()
        self._decoder = DECODERS[endpoint.framing](self.health, self._close_flooded)
        self._resynchronizer = Resynchronizer()
        self._connection: Connection | None = None
        self._tasks: set[asyncio.Task[None]] = set()
        self._closed = False
        self.back_off = BackOff()
        """When it may connect again; `back_off.shared` says whether another client uses this gateway."""

        self._last_request_ended = 0.0
        self._busy_seconds = 0.0
        """Seconds on the line of the request that is being carried out."""

        self._silent_unit: int | None = None
        """The unit of the last request, if it did not answer."""

    async def request(self, request: ModbusPDU, *, timeout: float, retries: int, pause: float, urgent: bool) -> Answer:
        """Carry out one request and return its answer.

        An urgent read is never answered by an earlier answer that comes again, where the two can be distinguished. Cancelling the caller
        does not interrupt the request: its answer would stay in the stream. Raises NoConnection, NoAnswer or Refused.
        """
        outcome: asyncio.Future[Answer] = asyncio.get_running_loop().create_future()
        # A task of its own and a plain future: a shield costs two more rounds of the event loop for every request.
        work = self._carry_out(request, _Options(timeout, retries, pause, urgent), outcome)
        task = asyncio.create_task(work, eager_start=True)
        if not task.done():
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)
        return await outcome

    def close(self) -> None:
        """Close the connection for good; a pending request fails with NoConnection."""
        self._closed = True
        self._close_connection(ConnectionResetError(str(self.endpoint)))

    async def _carry_out(self, request: ModbusPDU, options: _Options, outcome: asyncio.Future[Answer]) -> None:
        """Carry out a request, and set its outcome for a caller that still waits."""
        try:
            answer = await self._send_in_order(request, options)
        except LineError as failure:
            if not outcome.done():
                outcome.set_exception(failure)
        except asyncio.CancelledError:
            # The event loop is closing.
            outcome.cancel()
            raise
        except Exception as fault:
            # A fault of our own: the caller gets it, or the event loop reports it if no caller waits.
            if outcome.done():
                raise
            outcome.set_exception(fault)
        else:
            if not outcome.done():
                outcome.set_result(answer)

    async def _send_in_order(self, request: ModbusPDU, options: _Options) -> Answer:
        """Wait until the line is free for a request, send it, and record how it ended."""
        async with self._queue.acquire(urgent=options.urgent):
            self._busy_seconds = 0.0
            error: str | None = None
            try:
                return await self._send_until_answered(request, options)
            except LineError as failure:
                kind = type(failure).__name__
                # A unit that answers that it is busy is no fault of the line; nor is what another client asks in vain.
                if isinstance(request, PassedRequest):
                    error = None
                elif not isinstance(failure, Refused):
                    error = kind
                elif not failure.busy:
                    error = f"{kind}: {failure}"
                raise
            finally:
                if self._busy_seconds:
                    self.health.record(self._last_request_ended, self._busy_seconds, error)

    async def _send_until_answered(self, request: ModbusPDU, options: _Options) -> Answer:
        """Send a request until it is answered, or until all retries are used up."""
        left = options.retries
        while True:
            connection = await self._connect(options.timeout)
            try:
                if not self._resynchronizer.can_send(request, self._decoder) or (
                    (options.urgent or self._decoder.repeats_answers)
                    and self._resynchronizer.may_match_last_answer(request, self._decoder)
                ):
                    transact = partial(self._exchange, connection, options)
                    await self._resynchronizer.resynchronize(request, options.timeout, self._decoder, transact)
                # With ids it can be sent again at once under the same id: any answer with that id answers this request.
                retries = left if self._decoder.returns_ids else 0
                answer = await self._exchange(connection, options, request, retries)
            except NoAnswer:
                give_up = self._decoder.returns_ids or not left
                self._close_if_answer_may_follow(connection)
                if give_up:
                    raise
                left -= 1
                await asyncio.sleep(_random_wait(options.timeout))
            else:
                return answer._replace(retries=answer.retries + options.retries - left)

    async def _exchange(
        self, connection: Connection, options: _Options, request: ModbusPDU, retries: int = 0
    ) -> Answer:
        """Wait for the pause between requests, send one, and return its answer. Its seconds count from sending it."""
        loop = asyncio.get_running_loop()
        pause_left = self._last_request_ended + max(options.pause, self.endpoint.silence) - loop.time()
        if pause_left > 0 or not self._decoder.returns_ids:
            # Sleep even for 0 s: bytes that have arrived already, such as a repeated answer, are then not taken for this answer.
            await asyncio.sleep(max(0.0, pause_left))
        # A gateway may wait longer for a silent unit than Chargehand does, and keep this request in its queue meanwhile.
        queued = self._silent_unit not in (None, request.dev_id)
        started = loop.time()
        try:
            response, repeats = await connection.transact(
                request, options.timeout, retries, extra_wait=options.timeout if queued else 0.0
            )
        except TimeoutError as failure:
            self._silent_unit = request.dev_id
            self._decoder.give_up()
            self._resynchronizer.record_missing(request)
            if self._decoder.flooded:
                raise NoAnswer(f"{self.endpoint} sends without end what is no answer", Missing.NOISE) from failure
            raise NoAnswer(f"no answer from {self.endpoint}") from failure
        except ConnectionError as failure:
            self._resynchronizer.record_missing(request)
            self._close_connection(failure)
            if self.back_off.shared or not connection.has_answered:
                self.back_off.record_failure(Lost.DROPPED, str(failure))
            raise NoConnection(str(self.endpoint), Lost.DROPPED, str(failure)) from failure
        finally:
            self._last_request_ended = loop.time()
            seconds = self._last_request_ended - started
            self._busy_seconds += seconds
        self._silent_unit = None
        self.back_off.record_answer(connection.opened_at)
        is_exception = response.isError()
        if is_exception and not self._decoder.returns_ids and self._resynchronizer.may_be_late_exception(request):
            self._resynchronizer.record_missing(request)
            raise NoAnswer(f"an exception from {self.endpoint} that may answer an earlier request", Missing.LATE)
        self._resynchronizer.record_answer(request, is_exception=is_exception)
        if is_exception:
            raise Refused(response.exception_code)
        return Answer(response, seconds, repeats, started)

    def _close_if_answer_may_follow(self, connection: Connection) -> None:
        """Close the connection after a missing answer, so that an answer which the gateway holds up ends with it.

        An adapter of this computer holds nothing up, and opening it again may reset what is wired to its handshake lines.
        """
        if not self.endpoint.remote and connection.is_open:
            return
        if not self._decoder.returns_ids or self._decoder.inside_frame or not connection.is_open:
            self._close_connection(_gave_up())

    async def _connect(self, timeout: float) -> Connection:
        """Return the open connection, or open a new one unless it is too early for that. Raises NoConnection."""
        if self._connection is not None and self._connection.is_open:
            return self._connection
        if self._connection is not None and self.back_off.shared:
            # The other end has closed it between two requests, most likely for the other client.
            self.back_off.record_failure(Lost.DROPPED, self._connection.why)
        self._close_connection(_gave_up())
        if self._closed or self.back_off.must_wait:
            raise NoConnection(str(self.endpoint), self.back_off.lost, self.back_off.why) from self.back_off.failure
        self._connection = connection = Connection(self.endpoint, self._decoder)
        if not await connection.connect(timeout):
            self.back_off.record_failure(Lost.CANNOT_CONNECT, connection.why, connection.failure)
            raise NoConnection(str(self.endpoint), Lost.CANNOT_CONNECT, connection.why) from connection.failure
        if self._connection is not connection:
            # Closed while it was opening.
            raise NoConnection(str(self.endpoint), Lost.CANNOT_CONNECT if self._closed else Lost.DROPPED)
        return connection

    def _close_flooded(self) -> None:
        """Close the connection to a device that never stops sending: reading it would take all processor time."""
        self._close_connection(_gave_up())

    def _close_connection(self, why: Exception) -> None:
        """Close the connection; a pending request fails with `why`."""
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.close(why)


def _random_wait(timeout: float) -> float:
    """Return a random wait before a retry, in seconds, of up to half a time-out.

    Two masters that repeat at fixed times collide at every repeat; stations on one wire draw lots (IEEE 802.3, 4.2.3.2.5).
    """
    return timeout / 2 * secrets.randbelow(1000) / 1000


def _gave_up() -> Exception:
    return TimeoutError("Chargehand no longer waits for an answer")
