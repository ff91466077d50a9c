"""Repair issues for causes of a line's failures that only the user can remove."""

from homeassistant.core import HomeAssistant, callback

from ..core.modbus import Line, LineError, Lost, NoConnection, Refused
from ..messages import GATEWAY_TAKEN, TWO_MASTERS, clear_issue, raise_issue
from .gateway_users import look_for_users

POLLS_DROPPED = 3
"""Polls in a row whose connection the gateway dropped, after which an issue names another client as the cause."""

FAILURES_A_MINUTE = 3
"""Failed requests and damaged answers in a minute, after which an issue names two masters on one bus."""


@callback
def name_causes(hass: HomeAssistant, entry_id: str, line: Line, failure: LineError | None, failed_polls: int) -> None:
    """Create or delete the repair issues of a line after a poll that ended with `failure`, or without one."""
    gateway, now = line.gateway, hass.loop.time()
    look_for_users(hass, entry_id, gateway)
    dropped = isinstance(failure, NoConnection) and failure.lost is Lost.DROPPED
    if dropped and failed_polls >= POLLS_DROPPED:
        raise_issue(hass, entry_id, GATEWAY_TAKEN, gateway=str(gateway.endpoint))
    elif failure is None or isinstance(failure, Refused):
        # Who is refused has a connection.
        clear_issue(hass, entry_id, GATEWAY_TAKEN)
    # A queueing gateway sends a client only its own answers, so unsolicited bytes are another master's traffic.
    unsolicited = gateway.health.unsolicited_bytes(now)
    failed = gateway.health.errors(now) + gateway.health.damaged(now)
    if unsolicited and failed >= FAILURES_A_MINUTE:
        raise_issue(
            hass, entry_id, TWO_MASTERS, gateway=str(gateway.endpoint), errors=str(failed), bytes=str(unsolicited)
        )
    elif not unsolicited:
        clear_issue(hass, entry_id, TWO_MASTERS)
