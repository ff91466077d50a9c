"""Who else in this Home Assistant holds an inverter's gateway.

The platform lends its integrations one shared Modbus connection to each gateway, and its YAML hubs have one each. Chargehand has its own
beside those. That works with a gateway that queues its clients; others drop one of the two, or let their requests collide. So the other user is
named, and where the gateway drops connections, Chargehand makes new ones so rarely that the other one can work (`BackOff.shared`).
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
"""The platform's own Modbus integration, through which its connections are lent."""

type _Place = tuple[str, int] | str
"""Host and port of a gateway, or the device of an adapter."""


@callback
def gateway_users(hass: HomeAssistant, endpoint: Endpoint) -> tuple[str, ...]:
    """Return the titles of what else holds this gateway or adapter, by the same host name or device."""
    here = _place_of(endpoint)
    return tuple(sorted({name for place, name in _held(hass) if place == here}))


@callback
def look_for_users(hass: HomeAssistant, entry_id: str, gateway: Gateway) -> None:
    """Let an issue name who else holds a gateway, and take it away when nobody does any more."""
    users = gateway_users(hass, gateway.endpoint)
    gateway.back_off.shared = bool(users)
    if users:
        raise_issue(hass, entry_id, GATEWAY_SHARED, gateway=str(gateway.endpoint), users=", ".join(users))
    else:
        clear_issue(hass, entry_id, GATEWAY_SHARED)


async def users_text(hass: HomeAssistant, endpoint: Endpoint) -> str:
    """Return the sentence that names them in a form; empty when there are none."""
    users = gateway_users(hass, endpoint)
    if not users:
        return ""
    texts = await async_get_translations(hass, hass.config.language, "exceptions", {DOMAIN})
    return texts[f"component.{DOMAIN}.exceptions.{FORM_TEXT}.message"].format(users=", ".join(users))


def _held(hass: HomeAssistant) -> Iterator[tuple[_Place, str]]:
    """Every place that a Modbus connection of the platform leads to, and by whom it is held."""
    if MODBUS not in hass.config.components:
        return
    # Only once it runs: what it needs may not be installed before.
    from homeassistant.components.modbus.connection import async_get_connection_info  # noqa: PLC0415
    from homeassistant.components.modbus.const import DATA_MODBUS_HUBS  # noqa: PLC0415

    for info in async_get_connection_info(hass):
        for entry_id in info.units:
            entry = hass.config_entries.async_get_entry(entry_id)
            yield _place(*info.endpoint), entry_id if entry is None else entry.title
    for name, hub in hass.data.get(DATA_MODBUS_HUBS, {}).items():
        yield _place(*hub.endpoint), name


def _place(kind: str, where: str, port: int | None = None) -> _Place:
    """The platform's endpoint as a place: a serial device may be a port in the network."""
    return _device(where) if port is None else (where.lower(), port)


def _place_of(endpoint: Endpoint) -> _Place:
    if endpoint.framing is Framing.SERIAL:
        return _device(endpoint.device)
    return endpoint.host.lower(), endpoint.port


def _device(device: str) -> _Place:
    url = urlsplit(device)
    return (url.hostname, url.port) if url.hostname and url.port else device
