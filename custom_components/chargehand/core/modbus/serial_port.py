"""Opening a serial port as the platform does: by `serialx`, which knows adapters of this computer and ports in the network alike."""

import asyncio
import errno

import serialx

from .endpoint import Endpoint

IN_USE_SECONDS, IN_USE_PAUSE = 0.5, 0.05
"""How long a port that is in use is tried, and the pause between two tries: one that was just let go is free in a moment."""


async def open_serial_port(at: Endpoint, protocol: asyncio.Protocol) -> asyncio.Transport:
    """Open the port for nobody else. Raises OSError, with what its driver says, when that cannot be done.

    Nothing of it happens in the event loop's thread but what cannot wait: the drivers open and set up their ports in others.
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
            # Drivers of ports in the network raise errors of their own, the platform's among them while a bridge is not there yet.
            raise OSError(str(error)) from error
        else:
            return transport
        await asyncio.sleep(IN_USE_PAUSE)
