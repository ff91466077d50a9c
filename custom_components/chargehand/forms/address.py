"""The address of a gateway, as people type or paste it."""

from contextlib import suppress
from ipaddress import ip_address
from urllib.parse import urlsplit

from homeassistant.const import CONF_HOST

NOT_IN_A_HOST = frozenset("/:@?#[] ")
"""Characters of URLs that are part of no host name."""


def host_errors(host: str) -> tuple[dict[str, str], str]:
    """Return the form's errors for a gateway's address, and what the address would be without what is too much."""
    if not host:
        return {CONF_HOST: "host_missing"}, ""
    try:
        ip_address(host)
    except ValueError:
        if NOT_IN_A_HOST.isdisjoint(host):
            return {}, ""
    else:
        return {}, ""
    with suppress(ValueError):
        bare = urlsplit(host if "://" in host else f"//{host}").hostname
        if bare:
            return {CONF_HOST: "host_not_bare"}, bare
    return {CONF_HOST: "host_unknown"}, host
