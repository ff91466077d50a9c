"""The address of a gateway or an adapter, and its framing."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

type Parity = Literal["N", "E", "O"]


SHORTEST_SILENCE = 0.00175
"""Seconds of silence between two frames at high baud rates (Modbus over Serial Line V1.02, 2.5.1.1)."""


class Framing(StrEnum):
    """How Modbus frames are sent."""

    TCP = "tcp"
    """Modbus TCP: a header with a transaction id, no checksum."""

    RTU_OVER_TCP = "rtu_over_tcp"
    """The serial line's frames with their CRC, sent through a plain socket."""

    SERIAL = "serial"
    """The same frames through an adapter of this computer."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Endpoint:
    """One gateway's socket, or one adapter's device. Entries with equal endpoints share a connection."""

    framing: Framing
    host: str = ""
    port: int = 0
    device: str = ""
    """The adapter's device file or port; only for `Framing.SERIAL`, as are the three below."""

    baud: int = 9600
    parity: Parity = "N"
    stop_bits: int = 1

    @property
    def silence(self) -> float:
        """Return the seconds of silence between two RTU frames on the bus (Modbus over Serial Line V1.02, 2.5.1.1).

        They are 3.5 characters of 11 bits, or 1.75 ms above 19 200 baud. Behind a gateway the baud rate is unknown; this assumes 9600.
        """
        if self.framing is Framing.TCP:
            return 0.0
        return SHORTEST_SILENCE if self.baud > 19_200 else 3.5 * 11 / self.baud

    @property
    def remote(self) -> bool:
        """Return whether the network is between this computer and the bus."""
        return self.framing is not Framing.SERIAL or not self.device.startswith("/")

    def __str__(self) -> str:
        """Return host and port, or the device."""
        return self.device if self.framing is Framing.SERIAL else f"{self.host}:{self.port}"
