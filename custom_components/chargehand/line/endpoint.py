"""Where a gateway is and how frames are wrapped on the way to it."""

from dataclasses import dataclass
from enum import StrEnum


class Framing(StrEnum):
    """How a Modbus frame travels over TCP."""

    TCP = "tcp"
    """Modbus TCP: a header with a transaction id, no checksum."""

    RTU_OVER_TCP = "rtu_over_tcp"
    """The serial line's own frames with their CRC, sent through a plain socket."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Endpoint:
    """One gateway's socket. Entries with equal endpoints share a connection."""

    host: str
    port: int
    framing: Framing

    def __str__(self) -> str:
        """Host and port as people write them."""
        return f"{self.host}:{self.port}"
