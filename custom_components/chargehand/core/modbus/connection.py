"""One connection to an endpoint: a request goes out, and the answer that the decoder finds in what comes is handed to whoever asked.

Frames are the Modbus library's. Its client is not used: it takes the next answer for whatever was asked, waits 0.1 s after every connection,
and writes a line to the log, with all it has heard, for every answer that does not come.
"""

import asyncio
import logging
from typing import override

from pymodbus.pdu import ModbusPDU

from .endpoint import Endpoint, Framing
from .frame_decoder import LONGEST_FRAME, FrameDecoder
from .serial_port import open_serial_port

_LOGGER = logging.getLogger(__name__)

MOST_SHOWN = 4 * LONGEST_FRAME
"""Bytes that the log shows of what has come at once."""


class Connection(asyncio.Protocol):
    """A connection that is made once; when it breaks there will be another one."""

    def __init__(self, endpoint: Endpoint, decoder: FrameDecoder) -> None:
        """Prepare; nothing is opened before `connect`."""
        self._endpoint = endpoint
        self._decoder = decoder
        self._patience: asyncio.Timeout | None = None
        self._transport: asyncio.Transport | None = None
        self._answer: asyncio.Future[ModbusPDU] | None = None
        self._gone: Exception | None = None
        self.since = 0.0
        """When it was made, on the event loop's clock."""

        self.answered = False
        """Whether it has brought an answer."""

        self.why = ""
        """Why no connection could be made, or why it ended, as the system or the port's driver says it."""

    @property
    def stands(self) -> bool:
        """Whether requests can go out."""
        return self._transport is not None

    async def connect(self, timeout: float) -> bool:
        """Connect within so many s; answers whether that could be done. `why` says why not."""
        loop = asyncio.get_running_loop()
        at = self._endpoint
        self._decoder.opened()
        try:
            async with asyncio.timeout(timeout) as self._patience:
                if at.framing is Framing.SERIAL:
                    transport: asyncio.Transport = await open_serial_port(at, self)
                else:
                    transport, _ = await loop.create_connection(lambda: self, at.host, at.port)
        except (ConnectionResetError, BrokenPipeError) as error:
            # It stood, and the other end dropped it before that was seen here; a closed port refuses.
            self._gone = self._gone or error
            return True
        except (OSError, ValueError) as error:
            # The latter is of a name that no host can have.
            _LOGGER.debug("%s: no connection: %s", at, error)
            self.why = str(error)
            return False
        finally:
            self._patience = None
        self.since = loop.time()
        if self._gone is None:
            self._transport = transport
        else:
            # Closed from here while it was being made, or dropped by the other end at once.
            transport.abort()
        return True

    async def transact(
        self, request: ModbusPDU, timeout: float, retries: int, *, later: float = 0.0
    ) -> tuple[ModbusPDU, int]:
        """Send a request, and again after every `timeout` s without an answer, `later` s later the first time.

        Answers with the response and how often it was sent again.
        Raises TimeoutError when there is none, ConnectionError when the connection has gone.
        """
        loop = asyncio.get_running_loop()
        self._decoder.number(request)
        for retry in range(retries + 1):
            if self._transport is None:
                raise self._gone or ConnectionResetError(str(self._endpoint))
            frame = self._decoder.expect(request)
            answer: asyncio.Future[ModbusPDU] = loop.create_future()
            self._answer = answer
            if _LOGGER.isEnabledFor(logging.DEBUG):
                _LOGGER.debug("%s < %s", self._endpoint, frame.hex(" "))
            self._transport.write(frame)
            over = loop.call_later(timeout if retry else timeout + later, _time_out, answer)
            try:
                response = await answer
            except TimeoutError:
                if retry == retries:
                    raise
            else:
                return response, retry
            finally:
                over.cancel()
                self._answer = None
        raise AssertionError("the last try answers or raises")

    def close(self, why: Exception) -> None:
        """Close for good; a request that is out ends with `why`, and so does what is still to become a connection."""
        self._gone = why
        if self._patience is not None and not self._patience.expired():
            self._patience.reschedule(asyncio.get_running_loop().time())
        transport, self._transport = self._transport, None
        if transport is not None:
            # Not once all is sent: the other end may never take it.
            transport.abort()
        _end(self._answer, why)

    # ---- what the event loop tells

    @override
    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Said once the connection stands."""
        _LOGGER.debug("%s: connected", self._endpoint)

    @override
    def connection_lost(self, exc: Exception | None) -> None:
        """Said once the connection has gone: whoever waits for an answer by it is told."""
        _LOGGER.debug("%s: connection ended: %s", self._endpoint, exc)
        self._transport = None
        self.why = str(exc or "the other end has closed the connection")
        self._gone = self._gone or ConnectionResetError(self.why)
        _end(self._answer, self._gone)

    @override
    def data_received(self, data: bytes) -> None:
        """Said for whatever comes."""
        if _LOGGER.isEnabledFor(logging.DEBUG):
            _LOGGER.debug("%s > %s", self._endpoint, _shown(data))
        answer = self._decoder.feed(data)
        self.answered |= answer is not None
        if answer is not None and self._answer is not None and not self._answer.done():
            self._answer.set_result(answer)


def _shown(data: bytes) -> str:
    """Bytes for the log: a few frames at most, for one that sends without end would fill it."""
    more = len(data) - MOST_SHOWN
    return data[:MOST_SHOWN].hex(" ") + (f" and {more} bytes more" if more > 0 else "")


def _time_out(waiting: asyncio.Future[ModbusPDU]) -> None:
    _end(waiting, TimeoutError("no answer in time"))


def _end(waiting: asyncio.Future[ModbusPDU] | None, why: Exception) -> None:
    if waiting is not None and not waiting.done():
        waiting.set_exception(why)
