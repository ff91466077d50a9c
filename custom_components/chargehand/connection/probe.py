"""Trying a gateway and a register map before anything is stored: what is found, or what exactly is wrong."""

import asyncio
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from statistics import median
from typing import Any

from homeassistant.core import HomeAssistant

from ..const import CONF_REGISTER_MAP
from ..core.inverter import Inverter, LineShare, Polled, line_share
from ..core.modbus import Endpoint, Framing, LineError, Lost, NoAnswer, NoConnection, Refused
from ..core.registers import MapInvalid, Poll, RegisterMap, Value
from ..messages import load_line_fault_text
from .gateway_users import users_text
from .identity import serial_of
from .open_inverter import close_inverter, complete_map, endpoint_of, open_inverter, read_map

ROUND_TRIPS = 20
NAMED = 8
"""More keys than this are counted, not named."""

OTHER_FRAMING = {Framing.TCP: Framing.RTU_OVER_TCP, Framing.RTU_OVER_TCP: Framing.TCP}
NOT_NOW = {4, 5, 6, 10, 11}
"""Exceptions that say nothing of the map: failing, busy, or a gateway's own (Modbus Application Protocol V1.1b3, section 7)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """An inverter that answered as its map says. Times in ms and s."""

    register_map: RegisterMap
    unit: int
    identity: Mapping[str, Value | None]
    serial: str | None
    level: float | None
    clock_offset: float | None
    connect_ms: float
    """From knowing the gateway's address to the first answer; with SunSpec, until the inverter has told its map."""

    round_trip_ms: float
    """Median of 20 short reads."""

    worst_round_trip_ms: float
    share: LineShare
    """What polling everything takes of the line."""


class NotFound(Exception):
    """Nothing that can be used answered. `key` is the form's error, `detail` what else is known."""

    def __init__(self, key: str, detail: str = "") -> None:
        """Keep both."""
        super().__init__(key)
        self.key = key
        self.detail = detail


async def probe(hass: HomeAssistant, data: Mapping[str, Any]) -> Found:
    """Connect, prove that the map fits, and look around. Only reads. Raises NotFound."""
    try:
        register_map = await hass.async_add_executor_job(read_map, hass, data[CONF_REGISTER_MAP])
    except MapInvalid as fault:
        raise NotFound("map_invalid", _numbered(fault)) from fault
    inverter = open_inverter(hass, data, register_map)
    try:
        return await _look(inverter)
    except MapInvalid as fault:
        raise NotFound("map_invalid", _numbered(fault)) from fault
    except NoConnection as fault:
        if fault.lost is Lost.DROPPED:
            users = await users_text(hass, inverter.line.gateway.endpoint)
            raise NotFound("connection_refused_busy", users or fault.why) from fault
        raise NotFound("cannot_connect", fault.why) from fault
    except NoAnswer as fault:
        other = await _answers_in_other_framing(hass, data, register_map)
        raise NotFound("wrong_framing" if other else "no_answer") from fault
    except Refused as fault:
        raise await _refused(hass, inverter, fault) from fault
    finally:
        close_inverter(hass, inverter)


async def _look(inverter: Inverter) -> Found:
    loop = asyncio.get_running_loop()
    started = loop.time()
    await complete_map(inverter)
    identity = await _identity(inverter)
    connect_ms = (loop.time() - started) * 1000
    if not inverter.fits(identity):
        expected = [
            f"{item.key} {identity.get(item.key)} (the map expects {' or '.join(str(value) for value in item.expect)})"
            for item in inverter.map.identity
            if item.expect and identity.get(item.key) not in item.expect
        ]
        raise NotFound("other_inverter", ", ".join(expected))
    times: list[float] = []
    level: object = None
    for _ in range(ROUND_TRIPS):
        level = await _level(inverter)
        times.append(inverter.line.last_seconds)
    keys = inverter.all_keys()
    await _polled(inverter, keys)
    return Found(
        register_map=inverter.map,
        unit=inverter.line.unit,
        identity=identity,
        serial=serial_of(identity),
        level=float(level) if isinstance(level, int | float) else None,
        clock_offset=await inverter.read_clock() if inverter.map.clock is not None else None,
        connect_ms=round(connect_ms),
        round_trip_ms=round(median(times) * 1000, 1),
        worst_round_trip_ms=round(max(times) * 1000, 1),
        share=line_share(inverter, keys),
    )


async def _level(inverter: Inverter) -> object:
    """Read the battery's level, or whatever the map has first."""
    key = "battery_level" if "battery_level" in inverter.map.readings else next(iter(inverter.map.readings))
    return (await _polled(inverter, frozenset({key}))).values.get("battery_level")


async def _identity(inverter: Inverter) -> dict[str, Value | None]:
    try:
        return await inverter.identify()
    except Refused as fault:
        fault.add_note(f"identity: {_some(item.key for item in inverter.map.identity)}")
        raise


async def _polled(inverter: Inverter, keys: frozenset[str]) -> Polled:
    """Read these keys, all of them. Raises LineError; a refusal carries what was asked for, since its author has to find it."""
    missed = keys
    try:
        polled = await inverter.poll(keys, set(Poll))
        if polled.failure is None:
            return polled
        missed = polled.missed
        raise polled.failure
    except Refused as fault:
        fault.add_note(_some(sorted(missed)))
        raise


def _some(keys: Iterable[str]) -> str:
    """Keys in one line; more than a few of them are counted."""
    named = list(keys)
    more = f" and {len(named) - NAMED} more" if len(named) > NAMED else ""
    return ", ".join(named[:NAMED]) + more


async def _refused(hass: HomeAssistant, inverter: Inverter, fault: Refused) -> NotFound:
    """What a refusal means, and what was asked for."""
    on = "".join(f", on reading {note}" for note in getattr(fault, "__notes__", ()))
    text = await load_line_fault_text(hass, inverter.line, fault)
    return NotFound("no_answer" if fault.code in NOT_NOW else "other_inverter", f"{text}{on}")


def _numbered(fault: MapInvalid) -> str:
    """A map's mistakes in one line: forms show no line breaks."""
    if len(fault.told) == 1:
        return str(fault)
    return " ".join(f"({number}) {problem}" for number, problem in enumerate(fault.told, start=1))


async def _answers_in_other_framing(hass: HomeAssistant, data: Mapping[str, Any], register_map: RegisterMap) -> bool:
    here = endpoint_of(data)
    if here.framing not in OTHER_FRAMING:
        return False
    there = Endpoint(host=here.host, port=here.port, framing=OTHER_FRAMING[here.framing])
    inverter = open_inverter(hass, data, register_map, there)
    try:
        await _level(inverter)
    except Refused as refusal:
        return refusal.code not in NOT_NOW
    except LineError:
        return False
    finally:
        close_inverter(hass, inverter)
    return True


def offset_text(offset: float | None) -> str:
    """A clock's offset as people read it: hours, minutes and seconds, ahead or behind."""
    if offset is None:
        return "–"
    seconds = round(abs(offset))
    if seconds == 0:
        return "0 s"
    return f"{timedelta(seconds=seconds)} {'ahead' if offset > 0 else 'behind'}"
