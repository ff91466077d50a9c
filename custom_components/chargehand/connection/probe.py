"""Testing a connection and a register map before an entry is stored: find the inverter, or the exact mistake."""

import asyncio
import socket
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from homeassistant.core import HomeAssistant

from ..core.inverter import Inverter, Polled, line_share
from ..core.modbus import Endpoint, Framing, Line, LineError, Lost, NoAnswer, NoConnection, Refused
from ..core.registers import NO_MAP, MapInvalid, Poll, RegisterMap, Value
from ..messages import either_text, load_line_fault_text, load_texts, map_mistakes, text
from .fitting_maps import fitting_maps
from .found import ROUND_TRIPS, Found, NotFound, median_and_worst
from .gateway_users import users_text
from .identity import serial_of
from .open_inverter import build_inverter, close_line, complete_map, endpoint_of, map_of, open_line
from .unmapped import find_unmapped

MAX_LISTED_KEYS = 8
"""Keys that an error names; it only counts the others."""

OTHER_FRAMING = {Framing.TCP: Framing.RTU_OVER_TCP, Framing.RTU_OVER_TCP: Framing.TCP}
TEMPORARY = {4, 5, 6, 10, 11}
"""Exceptions that do not mean a wrong map: failing, busy, or from the gateway (Modbus Application Protocol V1.1b3, section 7)."""


async def probe(hass: HomeAssistant, data: Mapping[str, Any], register_map: RegisterMap | None = None) -> Found:
    """Connect, check that the map fits, and measure round trips. Only reads registers. Raises NotFound.

    `register_map` is one that is not in any file yet; else it is that of the data.
    """
    await load_texts(hass)
    if register_map is None:
        try:
            register_map = await hass.async_add_executor_job(map_of, hass, data)
        except MapInvalid as fault:
            raise _invalid(fault) from fault
    line = open_line(hass, data, register_map)
    try:
        found = await _tried(hass, data, register_map, line)
        return replace(found, fits=await fitting_maps(hass, line, register_map))
    except NotFound as fault:
        if fault.key == "other_inverter" and (fits := await fitting_maps(hass, line, register_map)):
            raise NotFound(fault.key, text("probe_fits", detail=fault.detail, maps=", ".join(fits))) from fault
        raise
    finally:
        close_line(hass, line)


async def _tried(hass: HomeAssistant, data: Mapping[str, Any], register_map: RegisterMap, line: Line) -> Found:
    try:
        return await (find_unmapped if register_map.id == NO_MAP else _find)(register_map, line)
    except MapInvalid as fault:
        raise _invalid(fault) from fault
    except NoConnection as fault:
        if fault.lost is Lost.DROPPED:
            users = await users_text(hass, line.gateway.endpoint)
            raise NotFound("connection_refused_busy", users or fault.why) from fault
        raise _not_connected(line.gateway.endpoint, fault) from fault
    except NoAnswer as fault:
        other = await _answers_in_other_framing(hass, data, register_map)
        raise NotFound("wrong_framing" if other else "no_answer") from fault
    except Refused as fault:
        raise await _refused(hass, line, fault) from fault


def _invalid(fault: MapInvalid) -> NotFound:
    return NotFound("map_invalid", lines=map_mistakes(fault))


def _not_connected(endpoint: Endpoint, fault: NoConnection) -> NotFound:
    """Return the error for a connection that could not be made: each cause has its own remedy."""
    if endpoint.framing is Framing.SERIAL:
        return NotFound("cannot_connect", fault.why)
    match fault.__cause__:
        # ValueError comes from a name that no host can have.
        case socket.gaierror() | ValueError():
            return NotFound("host_unknown", endpoint.host)
        case ConnectionRefusedError():
            return NotFound("port_closed", endpoint.host)
        case _:
            return NotFound("cannot_connect", endpoint.host)


async def _find(register_map: RegisterMap, line: Line) -> Found:
    loop = asyncio.get_running_loop()
    started = loop.time()
    inverter = build_inverter(await complete_map(register_map, line), line)
    identity = await _identify(inverter)
    connect_ms = (loop.time() - started) * 1000
    if not inverter.reader.fits(identity):
        others = [
            text("probe_expected", name=item.key, read=identity.get(item.key), expected=either_text(item.expect))
            for item in inverter.map.identity
            if item.expect and identity.get(item.key) not in item.expect
        ]
        raise NotFound("other_inverter", ", ".join(others))
    times: list[float] = []
    level: object = None
    for _ in range(ROUND_TRIPS):
        level = await _read_level(inverter)
        times.append(inverter.line.last_seconds)
    middle, worst = median_and_worst(times)
    keys = inverter.reader.all_keys()
    polled = await _poll(inverter, keys)
    return Found(
        register_map=inverter.map,
        unit=inverter.line.unit,
        identity=identity,
        serial=serial_of(identity),
        level=float(level) if isinstance(level, int | float) else None,
        values=polled.values,
        schedule=polled.schedule,
        clock_offset=await inverter.reader.read_clock() if inverter.map.clock is not None else None,
        connect_ms=round(connect_ms),
        round_trip_ms=middle,
        worst_round_trip_ms=worst,
        share=line_share(inverter, keys),
    )


async def _read_level(inverter: Inverter) -> object:
    """Read the battery's level, or the map's first reading if it has none."""
    key = "battery_level" if "battery_level" in inverter.map.readings else next(iter(inverter.map.readings))
    return (await _poll(inverter, frozenset({key}))).values.get("battery_level")


async def _identify(inverter: Inverter) -> dict[str, Value | None]:
    try:
        return await inverter.reader.identify()
    except Refused as fault:
        fault.add_note(text("probe_identity", keys=_list_keys(item.key for item in inverter.map.identity)))
        raise


async def _poll(inverter: Inverter, keys: frozenset[str]) -> Polled:
    """Read all of these keys. Raises LineError; Refused has a note with the keys, for the author of the map."""
    missed = keys
    try:
        polled = await inverter.reader.poll(keys, set(Poll))
        if polled.failure is None:
            return polled
        missed = polled.missed
        raise polled.failure
    except Refused as fault:
        fault.add_note(_list_keys(sorted(missed)))
        raise


def _list_keys(keys: Iterable[str]) -> str:
    """Return keys in one line; name the first few and count the others."""
    named = list(keys)
    listed = ", ".join(named[:MAX_LISTED_KEYS])
    if len(named) <= MAX_LISTED_KEYS:
        return listed
    return text("probe_more", keys=listed, count=len(named) - MAX_LISTED_KEYS)


async def _refused(hass: HomeAssistant, line: Line, fault: Refused) -> NotFound:
    """Return the error for a refused read, with the keys that were read."""
    detail = await load_line_fault_text(hass, line, fault)
    for note in getattr(fault, "__notes__", ()):
        detail = text("probe_on_reading", fault=detail, keys=note)
    return NotFound("no_answer" if fault.code in TEMPORARY else "other_inverter", detail)


async def _answers_in_other_framing(hass: HomeAssistant, data: Mapping[str, Any], register_map: RegisterMap) -> bool:
    """Return whether the inverter answers in the other TCP framing."""
    here = endpoint_of(data)
    if here.framing not in OTHER_FRAMING:
        return False
    there = Endpoint(host=here.host, port=here.port, framing=OTHER_FRAMING[here.framing])
    line = open_line(hass, data, register_map, there)
    try:
        inverter = build_inverter(register_map, line)
        if register_map.presence is None:
            await _read_level(inverter)
        else:
            await inverter.reader.reads.look_for(register_map.presence)
    except Refused as refusal:
        return refusal.code not in TEMPORARY
    except LineError:
        return False
    finally:
        close_line(hass, line)
    return True
