"""What the owner has settled for the logger port."""

from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address

from ..modbus import Framing

type HostAddress = IPv4Address | IPv6Address


@dataclass(frozen=True, kw_only=True, slots=True)
class PortRules:
    """Where the data logger is served, and what it may do."""

    port: int
    hosts: frozenset[HostAddress]
    """Addresses that may connect; nobody else is served."""

    framing: Framing = Framing.TCP
    refuses_writes: bool = False
    fresh_seconds: float = 0.0
    """Age in seconds up to which registers are answered from memory; 0: never."""

    bind: str | None = None
    """Address to listen on; None: every one of this computer."""
