"""From a config entry's data to an inverter on a line, for the entry itself and for the forms that try it first."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from homeassistant.const import CONF_DEVICE, CONF_HOST, CONF_PORT
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
from homeassistant.util.hass_dict import HassKey

from ..const import CONF_BAUD, CONF_FRAMING, CONF_PARITY, CONF_STOP_BITS, CONF_UNIT, DOMAIN
from ..core.inverter import Inverter
from ..core.modbus import Endpoint, Framing, Gateways, Line, Parity, Refused
from ..core.registers import (
    SUNSPEC,
    SUNSPEC_UNREAD,
    MapInvalid,
    NotThere,
    Problem,
    RegisterMap,
    Table,
    find_maps,
    load_map,
    read_sunspec_map,
)

GATEWAYS: HassKey[Gateways] = HassKey(DOMAIN)

PARITIES: Mapping[str, Parity] = {"n": "N", "e": "E", "o": "O"}

SAY_NOT_THERE = {1, 2, 3}
"""Exceptions that say that there is nothing at an address (Modbus Application Protocol V1.1b3, section 7)."""


def map_paths(hass: HomeAssistant) -> dict[str, Path]:
    """Register maps by id: the user's, then the bundled ones that they do not hide. Blocks."""
    return find_maps(Path(hass.config.path(DOMAIN)), Path(__file__).parents[1] / "maps")


def read_map(hass: HomeAssistant, map_id: str) -> RegisterMap:
    """Load a register map by its id. Blocks. Raises MapInvalid, also when there is no such map any more.

    That of SunSpec is in the inverter itself: `complete_map` reads it.
    """
    path = map_paths(hass).get(map_id)
    if path is None and map_id == SUNSPEC:
        return SUNSPEC_UNREAD
    try:
        if path is not None:
            return load_map(path)
    except OSError as error:
        raise MapInvalid([_problem(map_id, f"it cannot be read ({error.strerror})")]) from error
    raise MapInvalid([_problem(map_id, "there is no such file")])


def _problem(map_id: str, reason: str) -> Problem:
    return Problem(
        file=f"{map_id}.yaml",
        line=1,
        key="",
        reason=reason,
        cure=f"put it into the folder {DOMAIN} beside your configuration",
    )


def endpoint_of(data: Mapping[str, Any]) -> Endpoint:
    """The gateway or adapter that an entry's data name."""
    if data[CONF_FRAMING] == Framing.SERIAL:
        return Endpoint(
            framing=Framing.SERIAL,
            device=data[CONF_DEVICE],
            baud=int(data[CONF_BAUD]),
            parity=PARITIES[data[CONF_PARITY]],
            stop_bits=int(data[CONF_STOP_BITS]),
        )
    return Endpoint(host=data[CONF_HOST], port=int(data[CONF_PORT]), framing=Framing(data[CONF_FRAMING]))


def open_inverter(
    hass: HomeAssistant, data: Mapping[str, Any], register_map: RegisterMap, endpoint: Endpoint | None = None
) -> Inverter:
    """An inverter on its gateway's shared connection; give it back with `close_inverter`."""
    gateways = hass.data.setdefault(GATEWAYS, Gateways())
    rules = register_map.line
    unit = data.get(CONF_UNIT)
    line = Line(
        gateways.take(endpoint or endpoint_of(data)),
        unit=rules.unit if unit is None else int(unit),
        timeout_ms=rules.timeout_ms,
        pause_ms=rules.pause_ms,
    )
    return Inverter(register_map, line, dt_util.get_default_time_zone(), dt_util.utcnow)


async def complete_map(inverter: Inverter) -> None:
    """Read what the inverter itself says of its registers, where the map leaves it to it. Raises MapInvalid, LineError."""
    if inverter.map is not SUNSPEC_UNREAD:
        return

    async def read(table: Table, first: int, count: int) -> tuple[int, ...]:
        try:
            return await inverter.line.read(table, first, count)
        except Refused as refusal:
            if refusal.code in SAY_NOT_THERE:
                raise NotThere from refusal
            raise

    inverter.map = await read_sunspec_map(read)


def close_inverter(hass: HomeAssistant, inverter: Inverter) -> None:
    """Leave the gateway; the last one to leave closes the connection."""
    hass.data[GATEWAYS].release(inverter.line.gateway)
