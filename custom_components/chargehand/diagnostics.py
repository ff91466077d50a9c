"""Diagnostics: what helps to find a fault, without what shows whose house it is."""

from dataclasses import asdict
from typing import Any

from homeassistant.components.diagnostics import async_redact_data
from homeassistant.const import CONF_DEVICE, CONF_HOST
from homeassistant.core import HomeAssistant

from .actions import schedule_data
from .connection import missing_registers
from .const import CONF_FAST_SECONDS, CONF_SLOW_SECONDS, DEFAULT_FAST_SECONDS, DEFAULT_SLOW_SECONDS
from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.inverter import line_share
from .core.planning import forecast_error
from .data_logger import CONF_HOSTS

NIGHTS_SHOWN = 14

TO_REDACT = {CONF_DEVICE, CONF_HOST, CONF_HOSTS, "unique_id", "title"}


async def async_get_config_entry_diagnostics(hass: HomeAssistant, entry: ChargehandConfigEntry) -> dict[str, Any]:
    """Return settings, map, line health, and what was read last. The host is left out; serial numbers are no readings."""
    coordinator = entry.runtime_data
    inverter = coordinator.inverter
    now = hass.loop.time()
    health = inverter.line.health
    data = coordinator.data
    unfinished = coordinator.storage.unfinished
    return {
        "entry": async_redact_data(entry.as_dict(), TO_REDACT),
        "map": {
            "id": inverter.map.id,
            "source": inverter.map.source,
            "line": asdict(inverter.map.line),
            "readings": len(inverter.map.readings),
            "controls": len(inverter.map.controls),
            "has_clock": inverter.map.clock is not None,
            "has_schedule": inverter.map.schedule is not None,
            "warnings": [str(doubt) for doubt in inverter.map.doubts],
        },
        "line": {
            "framing": str(inverter.line.gateway.endpoint.framing),
            "unit": inverter.line.unit,
            "round_trip_ms": health.round_trip_ms(now),
            "worst_round_trip_ms": health.worst_round_trip_ms(now),
            "unexpected_bytes": inverter.line.gateway.health.unsolicited_bytes(now),
            "share_of_line": round(
                line_share(inverter, coordinator.wanted_keys()).at(
                    entry.options.get(CONF_FAST_SECONDS, DEFAULT_FAST_SECONDS),
                    entry.options.get(CONF_SLOW_SECONDS, DEFAULT_SLOW_SECONDS),
                ),
                3,
            ),
            "errors_last_minute": health.errors(now),
            "errors_by_kind": dict(health.errors_by_kind),
            "retries": health.retries,
            "repeated_answers": inverter.line.gateway.health.repeated,
            "busy_percent": inverter.line.gateway.health.busy_percent(now),
            "missing_registers": missing_registers(inverter.map, inverter.reader.reads.holes),
        },
        "data_logger": _data_logger(coordinator),
        "nights": _nights(coordinator),
        "schedule": None if data.schedule is None else schedule_data(data.schedule),
        "schedule_status": str(coordinator.monitor.shown.status),
        "schedule_status_reason": coordinator.monitor.shown.what,
        "unfinished_commit": None if unfinished is None else {"saves_owed": [list(write) for write in unfinished.owes]},
        "clock_offset": data.clock_offset,
        "values": dict(data.values),
        "last_poll_succeeded": coordinator.last_update_success,
    }


def _data_logger(coordinator: ChargehandCoordinator) -> dict[str, Any] | None:
    """Return how the data logger is served, without its addresses; None where it is not."""
    data_logger = coordinator.data_logger
    if data_logger.rules is None:
        return None
    return {
        "framing": str(data_logger.rules.framing),
        "refuses_writes": data_logger.rules.refuses_writes,
        "fresh_seconds": data_logger.rules.fresh_seconds,
        "connected": data_logger.connected,
        "requests_per_minute": data_logger.requests_per_minute,
        **data_logger.counts.as_dict(),
    }


def _nights(coordinator: ChargehandCoordinator) -> dict[str, Any]:
    """Return what was learnt and earned, and the last nights; what a night is calculated with stays out."""
    nights = coordinator.nights
    bias, spread = forecast_error(nights.pairs())
    return {
        "earned": nights.earned,
        "calculated": nights.calculated,
        "not_calculated": nights.not_calculated,
        "forecasts_compared": len(nights.pairs()),
        "forecast_bias": bias,
        "forecast_spread": spread,
        "last": [
            {key: value for key, value in night.as_dict().items() if key != "figures"}
            for night in nights.nights[-NIGHTS_SHOWN:]
        ],
    }
