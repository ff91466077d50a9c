"""One connection to one gateway: requests one at a time, in turn, over a connection that is made anew when it breaks."""

import asyncio
import secrets
from functools import partial
from typing import NamedTuple

from pymodbus.pdu import ModbusPDU

from .connection import Connection
from .endpoint import Endpoint, Framing
from .errors import LineError, Lost, NoAnswer, NoConnection, Refused
from .frame_decoder import FrameDecoder, RtuFrameDecoder, TcpFrameDecoder
from .health import LineHealth
from .request_queue import RequestQueue
from .resynchronizer import Resynchronizer

FIRST_DELAY = 0.5
"""Seconds from a lost or failed connection to the next try; doubled at each failure."""

LONGEST_DELAY = 5.0
"""Seconds at most between two tries, so that a line that returns is back within one poll."""

LONGEST_SHARED_DELAY = 60.0
"""The same while somebody else in this house holds the gateway: where it takes one connection only, each new one costs the other theirs."""


DECODERS: dict[Framing, type[FrameDecoder]] = {
    Framing.TCP: TcpFrameDecoder,
    Framing.RTU_OVER_TCP: RtuFrameDecoder,
    Framing.SERIAL: RtuFrameDecoder,
}


class Answer(NamedTuple):
    """The response to a request, its seconds on the line, and how often the request was sent again for it."""

    response: ModbusPDU
    seconds: float
    retries: int


class _Terms(NamedTuple):
    """How one request is to be made; times in s."""

    timeout: float
    retries: int
    pause: float
    urgent: bool


class Gateway:
    """The connection that all entries on one gateway share."""

    def __init__(self, endpoint: Endpoint) -> None:
        """Prepare; nothing is sent and no connection made before the first request."""
        self.endpoint = endpoint
        self.health = LineHealth()
        self._requests = RequestQueue()
        self._decoder = DECODERS[endpoint.framing](self.health, self._flooded)
        self._resynchronizer = Resynchronizer()
        self._connection: Connection | None = None
        self._at_work: set[asyncio.Task[None]] = set()
        self._closed = False
        self.shared = False
        """Whether somebody else is known to hold this gateway; whoever knows sets it."""

        self._delay = FIRST_DELAY
        self._not_before = 0.0
        self._lost, self._why = Lost.CANNOT_CONNECT, ""
        """Why there was no connection the last time."""

        self._last_end = 0.0
        self._busy = 0.0
        self._unanswered: int | None = None
        """The unit that was asked last, when it did not answer."""

    async def request(self, request: ModbusPDU, *, timeout: float, retries: int, pause: float, urgent: bool) -> Answer:
        """Carry out one request. An urgent read is not answered by an earlier answer that comes again, where that can be told.

        A caller that is cancelled does not cut the request short: an answer nobody waits for would be left in the stream.
        Raises NoConnection, NoAnswer or Refused.
        """
        outcome: asyncio.Future[Answer] = asyncio.get_running_loop().create_future()
        # A task of its own and a plain future: a shield takes two more turns of the event loop for every request.
        carried = self._carried_out(request, _Terms(timeout, retries, pause, urgent), outcome)
        work = asyncio.create_task(carried, eager_start=True)
        if not work.done():
            self._at_work.add(work)
            work.add_done_callback(self._at_work.discard)
        return await outcome

    def close(self) -> None:
        """Close the connection for good; a request that is out ends with NoConnection."""
        self._closed = True
        self._drop(ConnectionResetError(str(self.endpoint)))

    async def _carried_out(self, request: ModbusPDU, terms: _Terms, outcome: asyncio.Future[Answer]) -> None:
        """Make the request and tell whoever still waits for it."""
        try:
            answer = await self._in_turn(request, terms)
        except LineError as failure:
            if not outcome.done():
                outcome.set_exception(failure)
        except asyncio.CancelledError:
            # The event loop is being closed.
            outcome.cancel()
            raise
        except Exception as fault:
            # A fault of ours: whoever waits is told, and it is reported where nobody does.
            if outcome.done():
                raise
            outcome.set_exception(fault)
        else:
            if not outcome.done():
                outcome.set_result(answer)

    async def _in_turn(self, request: ModbusPDU, terms: _Terms) -> Answer:
        async with self._requests.take(urgent=terms.urgent):
            self._busy = 0.0
            error: str | None = None
            try:
                return await self._tried(request, terms)
            except LineError as failure:
                kind = type(failure).__name__
                # A unit that is busy says so by a sound answer: the line did nothing wrong.
                if not isinstance(failure, Refused):
                    error = kind
                elif not failure.busy:
                    error = f"{kind}: {failure}"
                raise
            finally:
                if self._busy:
                    self.health.record(self._last_end, self._busy, error)

    async def _tried(self, request: ModbusPDU, terms: _Terms) -> Answer:
        """Send a request until there is an answer, or all retries are used up."""
        left = terms.retries
        while True:
            connection = await self._connected(terms.timeout)
            try:
                if not self._resynchronizer.keeps(request, self._decoder) or (
                    (terms.urgent or self._decoder.repeats)
                    and self._resynchronizer.may_be_the_last(request, self._decoder)
                ):
                    transact = partial(self._exchange, connection, terms)
                    await self._resynchronizer.resynchronize(request, terms.timeout, self._decoder, transact)
                # Under the same id it can be asked again at once: whichever answer comes, it is to this question.
                answer = await self._exchange(connection, terms, request, left if self._decoder.by_id else 0)
            except NoAnswer:
                asked_enough = self._decoder.by_id or not left
                self._went_unanswered(connection)
                if asked_enough:
                    raise
                left -= 1
                await asyncio.sleep(_drawn_wait(terms.timeout))
            else:
                return answer._replace(retries=answer.retries + terms.retries - left)

    async def _exchange(self, connection: Connection, terms: _Terms, request: ModbusPDU, retries: int = 0) -> Answer:
        """Send one request after its pause; its seconds count from sending it."""
        loop = asyncio.get_running_loop()
        quiet_left = self._last_end + max(terms.pause, self.endpoint.silence) - loop.time()
        if quiet_left > 0 or not self._decoder.by_id:
            # Also without a pause: what has come already, such as an answer that comes again, is heard now and not as the answer to this.
            await asyncio.sleep(max(0.0, quiet_left))
        # A gateway may wait longer for a silent unit than is waited for it here; what comes next stands in its queue meanwhile.
        queued = self._unanswered not in (None, request.dev_id)
        started = loop.time()
        try:
            response, repeats = await connection.transact(
                request, terms.timeout, retries, later=terms.timeout if queued else 0.0
            )
        except TimeoutError as failure:
            self._unanswered = request.dev_id
            self._decoder.gave_up()
            self._resynchronizer.missing(request)
            if self._decoder.flooded:
                raise NoAnswer(f"{self.endpoint} sends without end what is no answer") from failure
            raise NoAnswer(f"no answer from {self.endpoint}") from failure
        except ConnectionError as failure:
            self._resynchronizer.missing(request)
            self._drop(failure)
            if self.shared or not connection.answered:
                self._back_off(Lost.DROPPED, str(failure))
            raise NoConnection(str(self.endpoint), Lost.DROPPED, str(failure)) from failure
        finally:
            self._last_end = loop.time()
            seconds = self._last_end - started
            self._busy += seconds
        self._unanswered = None
        if not self.shared or self._last_end - connection.since > LONGEST_SHARED_DELAY:
            self._delay = FIRST_DELAY
        if response.isError() and not self._decoder.by_id and self._resynchronizer.may_be_older(request):
            self._resynchronizer.missing(request)
            raise NoAnswer(f"an exception from {self.endpoint} that may answer an earlier request")
        self._resynchronizer.answered(request, refused=response.isError())
        if response.isError():
            raise Refused(response.exception_code)
        return Answer(response, seconds, repeats)

    def _went_unanswered(self, connection: Connection) -> None:
        """See to it that an answer that is held up by the gateway ends with the connection.

        In an adapter of this computer nothing is held up, and opening it again may reset what is wired to its handshake lines.
        """
        if not self.endpoint.remote and connection.stands:
            return
        if not self._decoder.by_id or self._decoder.torn or not connection.stands:
            self._drop(_given_up())

    async def _connected(self, timeout: float) -> Connection:
        """Answer with a connection that stands; make it when it is time to."""
        if self._connection is not None and self._connection.stands:
            return self._connection
        if self._connection is not None and self.shared:
            # The other end has ended it while nothing was asked: most likely for the other client.
            self._back_off(Lost.DROPPED, self._connection.why)
        self._drop(_given_up())
        now = asyncio.get_running_loop().time()
        if self._closed or now < self._not_before:
            raise NoConnection(str(self.endpoint), self._lost, self._why)
        self._connection = connection = Connection(self.endpoint, self._decoder)
        if not await connection.connect(timeout):
            self._back_off(Lost.CANNOT_CONNECT, connection.why)
            raise NoConnection(str(self.endpoint), Lost.CANNOT_CONNECT, connection.why)
        if self._connection is not connection:
            # Given up while it was being made.
            raise NoConnection(str(self.endpoint), Lost.CANNOT_CONNECT if self._closed else Lost.DROPPED)
        return connection

    def _back_off(self, lost: Lost, why: str = "") -> None:
        """Make no connection for a while, longer each time until one brings an answer: a gateway that is taken is not stormed."""
        self._lost, self._why = lost, why
        self._not_before = asyncio.get_running_loop().time() + self._delay
        self._delay = min(self._delay * 2, LONGEST_SHARED_DELAY if self.shared else LONGEST_DELAY)

    def _flooded(self) -> None:
        """The other end sends without end what is no answer: close, or reading it would be all that is done here."""
        self._drop(_given_up())

    def _drop(self, why: Exception) -> None:
        """Close the connection; a request that is out ends with `why`."""
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.close(why)


def _drawn_wait(timeout: float) -> float:
    """A wait before asking again, in s, drawn by lot up to half a time-out.

    Two masters that repeat at fixed times collide at every repeat; stations on one wire draw lots (IEEE 802.3, 4.2.3.2.5).
    """
    return timeout / 2 * secrets.randbelow(1000) / 1000


def _given_up() -> Exception:
    return TimeoutError("no answer is waited for any longer")
