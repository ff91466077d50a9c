"""The gateways in use: all config entries on one gateway share its connection."""

from .endpoint import Endpoint
from .gateway import Gateway


class Gateways:
    """Gateways by endpoint, each kept open while it has users."""

    def __init__(self) -> None:
        """Set up without gateways."""
        self._in_use: dict[Endpoint, tuple[Gateway, int]] = {}

    def take(self, endpoint: Endpoint) -> Gateway:
        """Return the endpoint's gateway; call `release` once for each call of this."""
        gateway, users = self._in_use.get(endpoint) or (Gateway(endpoint), 0)
        self._in_use[endpoint] = (gateway, users + 1)
        return gateway

    def release(self, gateway: Gateway) -> None:
        """Close the gateway's connection if this was its last user."""
        _, users = self._in_use.pop(gateway.endpoint)
        if users > 1:
            self._in_use[gateway.endpoint] = (gateway, users - 1)
        else:
            gateway.close()
