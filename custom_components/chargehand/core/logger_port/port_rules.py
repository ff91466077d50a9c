"""What the owner has settled for the logger port."""

from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address

from ..modbus import Framing

TAKEN_SHARE = 0.2
"""Part of the time between two polls by which a reading may be older that a poll takes from the logger's reads."""

type HostAddress = IPv4Address | IPv6Address


def host_address(written: str) -> HostAddress:
    """Return an address without its zone, and that of an IPv4 client on an IPv6 socket as IPv4. Raises ValueError for what is none."""
    host = ip_address(written.strip().partition("%")[0])
    return (host.ipv4_mapped or host) if isinstance(host, IPv6Address) else host


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

    poll_seconds: float = 0.0
    """Seconds between two polls; 0: polls read everything themselves."""

    bind: str | None = None
    """Address to listen on; None: every one of this computer."""

    @property
    def taken_seconds(self) -> float:
        """Return up to what age in seconds a poll takes readings from the logger's reads."""
        return min(self.fresh_seconds, TAKEN_SHARE * self.poll_seconds)
