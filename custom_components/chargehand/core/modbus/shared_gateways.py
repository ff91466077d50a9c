"""Which gateways are in use: entries on one gateway get the same connection."""

from .endpoint import Endpoint
from .gateway import Gateway


class Gateways:
    """Gateways by endpoint, each kept open while somebody uses it."""

    def __init__(self) -> None:
        """Start with none."""
        self._in_use: dict[Endpoint, tuple[Gateway, int]] = {}

    def take(self, endpoint: Endpoint) -> Gateway:
        """Answer with the endpoint's gateway; `release` it once for each time it was taken."""
        gateway, users = self._in_use.get(endpoint) or (Gateway(endpoint), 0)
        self._in_use[endpoint] = (gateway, users + 1)
        return gateway

    def release(self, gateway: Gateway) -> None:
        """Close the connection when its last user has gone."""
        _, users = self._in_use.pop(gateway.endpoint)
        if users > 1:
            self._in_use[gateway.endpoint] = (gateway, users - 1)
        else:
            gateway.close()
