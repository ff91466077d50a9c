"""System health: each inverter's line at a glance."""

from collections.abc import Iterable
from itertools import count
from typing import Any

from homeassistant.components.system_health import SystemHealthRegistration
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant, callback

from .const import CONF_FAST_SECONDS, CONF_SLOW_SECONDS, DEFAULT_FAST_SECONDS, DEFAULT_SLOW_SECONDS, DOMAIN
from .coordinator import ChargehandConfigEntry
from .core.inverter import line_share, percent
from .messages import text


@callback
def async_register(hass: HomeAssistant, register: SystemHealthRegistration) -> None:
    """Offer the report."""
    register.async_register_info(report)


async def report(hass: HomeAssistant) -> dict[str, Any]:
    """One line for each inverter."""
    entries: list[ChargehandConfigEntry] = hass.config_entries.async_entries(DOMAIN)
    running = [entry for entry in entries if entry.state is ConfigEntryState.LOADED]
    return {
        "inverters": len(entries),
        "running": len(running),
        **{name: line_text(hass, entry) for name, entry in _by_name(running).items()},
    }


def _by_name(entries: Iterable[ChargehandConfigEntry]) -> dict[str, ChargehandConfigEntry]:
    """Entries by their titles, counted where several have the same one: two inverters of one model have at first."""
    named: dict[str, ChargehandConfigEntry] = {}
    for entry in entries:
        name = entry.title
        if name in named:
            name = next(other for number in count(2) if (other := f"{entry.title} ({number})") not in named)
        named[name] = entry
    return named


def line_text(hass: HomeAssistant, entry: ChargehandConfigEntry) -> str:
    """Framing, round trips, errors, share of the line, and the clock, in one line."""
    coordinator = entry.runtime_data
    now = hass.loop.time()
    line = coordinator.inverter.line
    fast = entry.options.get(CONF_FAST_SECONDS, DEFAULT_FAST_SECONDS)
    slow = entry.options.get(CONF_SLOW_SECONDS, DEFAULT_SLOW_SECONDS)
    share = line_share(coordinator.inverter, coordinator.wanted_keys()).at(fast, slow)
    values = {
        "framing": line.gateway.endpoint.framing,
        "round_trip": line.health.round_trip_ms(now),
        "worst": line.health.worst_round_trip_ms(now),
        "errors": line.health.errors(now),
        "share": percent(share),
    }
    offset = coordinator.data.clock_offset
    if offset is None:
        return text("line_health", **values)
    return text("line_health_clock", **values, clock=f"{offset:+.0f}")
