"""Opening the line to an inverter from a config entry's data, for the entry and for the forms that test the data first."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from homeassistant.const import CONF_DEVICE, CONF_HOST, CONF_PORT
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
from homeassistant.util.hass_dict import HassKey

from ..const import (
    CONF_BAUD,
    CONF_FRAMING,
    CONF_LINE,
    CONF_LONGEST_READ,
    CONF_NUMBERING,
    CONF_PARITY,
    CONF_PAUSE_MS,
    CONF_REGISTER_MAP,
    CONF_STOP_BITS,
    CONF_TEST_REGISTER,
    CONF_TEST_TABLE,
    CONF_TIMEOUT_MS,
    CONF_UNIT,
    DOMAIN,
)
from ..core.inverter import Inverter
from ..core.modbus import Endpoint, Framing, Gateways, Line, Parity, Refused
from ..core.reasons import Reason
from ..core.registers import (
    FIRST_TRIED,
    NO_MAP,
    SUNSPEC,
    SUNSPEC_UNREAD,
    LineRules,
    MapInvalid,
    NotThere,
    Problem,
    RegisterMap,
    Table,
    cure,
    find_maps,
    load_map,
    mistake,
    no_map,
    read_sunspec_map,
)

GATEWAYS: HassKey[Gateways] = HassKey(DOMAIN)

PARITIES: Mapping[str, Parity] = {"n": "N", "e": "E", "o": "O"}

NO_SUCH_ADDRESS = {1, 2, 3}
"""Exceptions for an address without registers (Modbus Application Protocol V1.1b3, section 7)."""


def own_maps(hass: HomeAssistant) -> Path:
    """Return the folder of the user's own register maps."""
    return Path(hass.config.path(DOMAIN))


def map_paths(hass: HomeAssistant) -> dict[str, Path]:
    """Return the files of all register maps by id; a user's map replaces a bundled one of the same id. Blocks."""
    return find_maps(own_maps(hass), Path(__file__).parents[1] / "maps")


def read_map(hass: HomeAssistant, map_id: str) -> RegisterMap:
    """Load a register map by its id. Blocks. Raises MapInvalid, also if the file no longer exists.

    The SunSpec map is in the inverter itself: `complete_map` reads it.
    """
    path = map_paths(hass).get(map_id)
    if path is None and map_id == SUNSPEC:
        return SUNSPEC_UNREAD
    try:
        if path is not None:
            return load_map(path)
    except OSError as error:
        raise MapInvalid([_problem(map_id, mistake("not_readable", why=error.strerror))]) from error
    raise MapInvalid([_problem(map_id, mistake("no_file"))])


def map_of(hass: HomeAssistant, data: Mapping[str, Any]) -> RegisterMap:
    """Load the register map in an entry's data; one that has none yet has the line's rules in its data. Blocks. Raises MapInvalid."""
    if data[CONF_REGISTER_MAP] != NO_MAP:
        return read_map(hass, data[CONF_REGISTER_MAP])
    line: Mapping[str, Any] = data[CONF_LINE]
    rules = LineRules(
        unit=int(data[CONF_UNIT]),
        **{key: line[key] for key in (CONF_NUMBERING, CONF_LONGEST_READ, CONF_PAUSE_MS, CONF_TIMEOUT_MS)},
    )
    if CONF_TEST_REGISTER not in line:
        return no_map(rules, FIRST_TRIED[0])
    return no_map(rules, (Table(line[CONF_TEST_TABLE]), int(line[CONF_TEST_REGISTER]) - rules.first_number))


def _problem(map_id: str, reason: Reason) -> Problem:
    return Problem(file=f"{map_id}.yaml", line=1, key="", reason=reason, cure=cure("into_folder", folder=DOMAIN))


def endpoint_of(data: Mapping[str, Any]) -> Endpoint:
    """Return the gateway or adapter in an entry's data."""
    if data[CONF_FRAMING] == Framing.SERIAL:
        return Endpoint(
            framing=Framing.SERIAL,
            device=data[CONF_DEVICE],
            baud=int(data[CONF_BAUD]),
            parity=PARITIES[data[CONF_PARITY]],
            stop_bits=int(data[CONF_STOP_BITS]),
        )
    return Endpoint(host=data[CONF_HOST], port=int(data[CONF_PORT]), framing=Framing(data[CONF_FRAMING]))


def open_line(
    hass: HomeAssistant, data: Mapping[str, Any], register_map: RegisterMap, endpoint: Endpoint | None = None
) -> Line:
    """Return the line to an inverter over its gateway's shared connection. Release it with `close_line`."""
    gateways = hass.data.setdefault(GATEWAYS, Gateways())
    rules = register_map.line
    unit = data.get(CONF_UNIT)
    return Line(
        gateways.take(endpoint or endpoint_of(data)),
        unit=rules.unit if unit is None else int(unit),
        timeout_ms=rules.timeout_ms,
        pause_ms=rules.pause_ms,
    )


def build_inverter(register_map: RegisterMap, line: Line) -> Inverter:
    """Return the inverter of a complete register map, in Home Assistant's time zone."""
    return Inverter(register_map, line, dt_util.get_default_time_zone(), dt_util.utcnow)


async def complete_map(register_map: RegisterMap, line: Line) -> RegisterMap:
    """Return the register map, read from the inverter if it is a SunSpec one. Raises MapInvalid, LineError."""
    if register_map is not SUNSPEC_UNREAD:
        return register_map

    async def read(table: Table, first: int, count: int) -> tuple[int, ...]:
        try:
            return await line.read(table, first, count)
        except Refused as refusal:
            if refusal.code in NO_SUCH_ADDRESS:
                raise NotThere from refusal
            raise

    return await read_sunspec_map(read)


def close_line(hass: HomeAssistant, line: Line) -> None:
    """Release the line's gateway, which closes its connection after the last of its users."""
    hass.data[GATEWAYS].release(line.gateway)
