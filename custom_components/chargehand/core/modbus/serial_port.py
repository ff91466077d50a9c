"""Opening a serial port as Home Assistant does: with `serialx`, which supports local adapters and ports in the network."""

import asyncio
import errno

import serialx

from .endpoint import Endpoint

IN_USE_SECONDS, IN_USE_PAUSE = 0.5, 0.05
"""How long to retry a port that is in use, and the pause between attempts: a port that was just closed is free in a moment."""


async def open_serial_port(at: Endpoint, protocol: asyncio.Protocol) -> asyncio.Transport:
    """Open the port for exclusive use. Raises OSError with the driver's message if that fails.

    The drivers open and configure their ports in threads of their own, not in the event loop.
    """
    loop = asyncio.get_running_loop()
    until = loop.time() + IN_USE_SECONDS
    while True:
        try:
            transport, _ = await serialx.create_serial_connection(
                loop,
                lambda: protocol,
                url=at.device,
                baudrate=at.baud,
                parity=serialx.Parity(at.parity),
                stopbits=serialx.StopBits(at.stop_bits),
            )
        except OSError as error:
            if error.errno != errno.EBUSY or loop.time() >= until:
                raise
        except Exception as error:
            # Drivers of ports in the network raise errors of their own, Home Assistant's among them while a bridge is not set up yet.
            raise OSError(str(error)) from error
        else:
            return transport
        await asyncio.sleep(IN_USE_PAUSE)
