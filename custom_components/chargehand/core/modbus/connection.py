"""One connection to an endpoint: send a request, and return the answer that the decoder finds in what comes back.

Frames are the Modbus library's. Chargehand does not use the library's client: it takes the next answer for any request, waits 0.1 s after
connecting, and logs everything it has received whenever an answer does not come.
"""

import asyncio
import logging
from typing import override

from pymodbus.pdu import ModbusPDU

from .endpoint import Endpoint, Framing
from .frame_decoder import MAX_FRAME_LENGTH, FrameDecoder
from .serial_port import open_serial_port

_LOGGER = logging.getLogger(__name__)

MAX_LOGGED_BYTES = 4 * MAX_FRAME_LENGTH
"""Bytes of one received packet that the debug log shows."""


class Connection(asyncio.Protocol):
    """A connection that is opened once. When it breaks, the gateway creates another one."""

    def __init__(self, endpoint: Endpoint, decoder: FrameDecoder) -> None:
        """Set up the connection without opening it."""
        self._endpoint = endpoint
        self._decoder = decoder
        self._connect_timeout: asyncio.Timeout | None = None
        self._transport: asyncio.Transport | None = None
        self._answer: asyncio.Future[ModbusPDU] | None = None
        self._closed_by: Exception | None = None
        self.opened_at = 0.0
        """When the connection opened, on the event loop's clock."""

        self.has_answered = False
        """Whether any answer has come over this connection."""

        self.why = ""
        """Why the connection could not be opened, or why it ended, in the words of the system or the port's driver."""

        self.failure: Exception | None = None
        """The error when the connection could not be opened."""

    @property
    def is_open(self) -> bool:
        """Return whether requests can be sent."""
        return self._transport is not None

    async def connect(self, timeout: float) -> bool:
        """Open the connection within `timeout` seconds, and return whether that succeeded. If not, `why` has the reason."""
        loop = asyncio.get_running_loop()
        at = self._endpoint
        self._decoder.reset()
        try:
            async with asyncio.timeout(timeout) as self._connect_timeout:
                if at.framing is Framing.SERIAL:
                    transport: asyncio.Transport = await open_serial_port(at, self)
                else:
                    transport = await _open_tcp(at, self)
        except (ConnectionResetError, BrokenPipeError) as error:
            # The other end accepted the connection and dropped it at once; a closed port refuses it instead.
            self._closed_by = self._closed_by or error
            return True
        except (OSError, ValueError) as error:
            # ValueError comes from a name that no host can have.
            _LOGGER.debug("%s: no connection: %s", at, error)
            self.why, self.failure = str(error), error
            return False
        finally:
            self._connect_timeout = None
        self.opened_at = loop.time()
        if self._closed_by is None:
            self._transport = transport
        else:
            # Closed from here while it was opening, or dropped by the other end at once.
            transport.abort()
        return True

    async def transact(
        self, request: ModbusPDU, timeout: float, retries: int, *, extra_wait: float = 0.0
    ) -> tuple[ModbusPDU, int]:
        """Send a request, and send it again after every `timeout` seconds without an answer.

        The first wait is `extra_wait` seconds longer. Return the response and how often the request was sent again.
        Raises TimeoutError if no answer comes, ConnectionError if the connection is closed.
        """
        loop = asyncio.get_running_loop()
        self._decoder.assign_id(request)
        retry = 0
        while True:
            if self._transport is None:
                raise self._closed_by or ConnectionResetError(str(self._endpoint))
            frame = self._decoder.expect(request)
            answer: asyncio.Future[ModbusPDU] = loop.create_future()
            self._answer = answer
            if _LOGGER.isEnabledFor(logging.DEBUG):
                _LOGGER.debug("%s < %s", self._endpoint, frame.hex(" "))
            self._transport.write(frame)
            timer = loop.call_later(timeout if retry else timeout + extra_wait, _time_out, answer)
            try:
                return await answer, retry
            except TimeoutError:
                if retry >= retries:
                    raise
            finally:
                timer.cancel()
                self._answer = None
            retry += 1

    def close(self, why: Exception) -> None:
        """Close the connection for good, also while it is opening. A pending request fails with `why`."""
        self._closed_by = why
        if self._connect_timeout is not None and not self._connect_timeout.expired():
            self._connect_timeout.reschedule(asyncio.get_running_loop().time())
        transport, self._transport = self._transport, None
        if transport is not None:
            # Do not wait until everything is sent: the other end may never take it.
            transport.abort()
        _fail(self._answer, why)

    # ---- callbacks of the event loop

    @override
    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Log that the connection is open."""
        _LOGGER.debug("%s: connected", self._endpoint)

    @override
    def connection_lost(self, exc: Exception | None) -> None:
        """Fail the pending request, because the connection has ended."""
        _LOGGER.debug("%s: connection ended: %s", self._endpoint, exc)
        self._transport = None
        self.why = str(exc or "the other end has closed the connection")
        self._closed_by = self._closed_by or ConnectionResetError(self.why)
        _fail(self._answer, self._closed_by)

    @override
    def data_received(self, data: bytes) -> None:
        """Pass received bytes to the decoder, and the answer it finds to the pending request."""
        if _LOGGER.isEnabledFor(logging.DEBUG):
            _LOGGER.debug("%s > %s", self._endpoint, _hex(data))
        answer = self._decoder.feed(data)
        self.has_answered |= answer is not None
        if answer is not None and self._answer is not None and not self._answer.done():
            self._answer.set_result(answer)


async def _open_tcp(at: Endpoint, protocol: asyncio.Protocol) -> asyncio.Transport:
    """Open a TCP connection. Raises OSError; of a host with several addresses, a refusal before what other addresses did."""
    loop = asyncio.get_running_loop()
    try:
        if isinstance(loop, asyncio.BaseEventLoop):
            transport, _ = await loop.create_connection(lambda: protocol, at.host, at.port, all_errors=True)
        else:
            # Other event loops join the errors of all addresses into one text.
            transport, _ = await loop.create_connection(lambda: protocol, at.host, at.port)
    except ExceptionGroup as failed:
        errors = [error for error in failed.exceptions if isinstance(error, OSError)]
        raise min(errors, key=lambda error: not isinstance(error, ConnectionRefusedError)) from failed
    return transport


def _hex(data: bytes) -> str:
    """Return bytes as hexadecimal text, cut to a few frames: a device that never stops sending would fill the log."""
    more = len(data) - MAX_LOGGED_BYTES
    return data[:MAX_LOGGED_BYTES].hex(" ") + (f" and {more} bytes more" if more > 0 else "")


def _time_out(answer: asyncio.Future[ModbusPDU]) -> None:
    _fail(answer, TimeoutError("no answer in time"))


def _fail(answer: asyncio.Future[ModbusPDU] | None, why: Exception) -> None:
    if answer is not None and not answer.done():
        answer.set_exception(why)
