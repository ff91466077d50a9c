"""Other users of an inverter's gateway in the same Home Assistant.

Home Assistant lends its integrations one shared Modbus connection to each gateway, and each YAML hub has its own. Chargehand opens another
one. That works with a gateway that queues its clients. Other gateways drop one of the two connections, or let their requests collide. So
Chargehand names the other user. If the gateway drops connections, it opens new ones so rarely that the other user can work (`BackOff.shared`).
"""

from collections.abc import Iterator
from urllib.parse import urlsplit

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.translation import async_get_translations

from ..const import DOMAIN
from ..core.modbus import Endpoint, Framing, Gateway
from ..messages import GATEWAY_SHARED, clear_issue, raise_issue

FORM_TEXT = "gateway_shared"

MODBUS = "modbus"
"""Home Assistant's own Modbus integration, which lends the connections."""

type _Place = tuple[str, int] | str
"""Host and port of a gateway, or the device of an adapter."""


@callback
def gateway_users(hass: HomeAssistant, endpoint: Endpoint) -> tuple[str, ...]:
    """Return the titles of the other users of this gateway or adapter, found by host name or device."""
    here = _place_of(endpoint)
    return tuple(sorted({name for place, name in _connections(hass) if place == here}))


@callback
def look_for_users(hass: HomeAssistant, entry_id: str, gateway: Gateway) -> None:
    """Create a repair issue that names the other users of a gateway, or delete it when there are none."""
    users = gateway_users(hass, gateway.endpoint)
    gateway.back_off.shared = bool(users)
    if users:
        raise_issue(hass, entry_id, GATEWAY_SHARED, gateway=str(gateway.endpoint), users=", ".join(users))
    else:
        clear_issue(hass, entry_id, GATEWAY_SHARED)


async def users_text(hass: HomeAssistant, endpoint: Endpoint) -> str:
    """Return a sentence for a form that names the other users of a gateway, or an empty text."""
    users = gateway_users(hass, endpoint)
    if not users:
        return ""
    texts = await async_get_translations(hass, hass.config.language, "exceptions", {DOMAIN})
    return texts[f"component.{DOMAIN}.exceptions.{FORM_TEXT}.message"].format(users=", ".join(users))


def _connections(hass: HomeAssistant) -> Iterator[tuple[_Place, str]]:
    """Yield the place of every Modbus connection of Home Assistant, and the title of its user."""
    if MODBUS not in hass.config.components:
        return
    # Imported only when the integration runs: its requirements may not be installed otherwise.
    from homeassistant.components.modbus.connection import async_get_connection_info  # noqa: PLC0415
    from homeassistant.components.modbus.const import DATA_MODBUS_HUBS  # noqa: PLC0415

    for info in async_get_connection_info(hass):
        for entry_id in info.units:
            entry = hass.config_entries.async_get_entry(entry_id)
            yield _place(*info.endpoint), entry_id if entry is None else entry.title
    for name, hub in hass.data.get(DATA_MODBUS_HUBS, {}).items():
        yield _place(*hub.endpoint), name


def _place(kind: str, where: str, port: int | None = None) -> _Place:
    """Return the place of a Home Assistant endpoint. A serial device may be a port in the network."""
    return _device(where) if port is None else (where.lower(), port)


def _place_of(endpoint: Endpoint) -> _Place:
    if endpoint.framing is Framing.SERIAL:
        return _device(endpoint.device)
    return endpoint.host.lower(), endpoint.port


def _device(device: str) -> _Place:
    url = urlsplit(device)
    return (url.hostname, url.port) if url.hostname and url.port else device
