"""The register maps that fit the inverter which answers, by what they expect of its identity."""

from dataclasses import replace

from homeassistant.core import HomeAssistant

from ..core.modbus import Line, LineError, NoAnswer, Refused
from ..core.registers import LineRules, MapInvalid, RegisterMap
from .open_inverter import build_inverter, map_paths, read_map

LONGEST_WAIT_MS = 1000
"""What is not answered by then is not waited for: the form is open meanwhile."""


async def fitting_maps(hass: HomeAssistant, line: Line, besides: RegisterMap) -> tuple[str, ...]:
    """Return the titles of all other maps whose identity is the inverter's. Only reads, and nothing that `besides` forbids to read."""
    maps = await hass.async_add_executor_job(_telling_maps, hass)
    own = Line(
        line.gateway,
        unit=line.unit,
        timeout_ms=min(besides.line.timeout_ms, LONGEST_WAIT_MS),
        pause_ms=besides.line.pause_ms,
        retries=0,
        busy_ms=0,
    )
    found: list[str] = []
    for other in maps:
        if other.id == besides.id or not _allowed(other, besides.line):
            continue
        rules = replace(
            other.line,
            longest_read=min(other.line.longest_read, besides.line.longest_read),
            no_read=(*other.line.no_read, *besides.line.no_read),
        )
        reader = build_inverter(replace(other, line=rules), own).reader
        try:
            if reader.fits(await reader.identify()):
                found.append(other.title)
        except LineError as fault:
            # One that has no such register has another map. One that is silent costs a time-out each time.
            if isinstance(fault, NoAnswer) or (isinstance(fault, Refused) and fault.unit_silent):
                break
    return tuple(sorted(found, key=str.casefold))


def _telling_maps(hass: HomeAssistant) -> list[RegisterMap]:
    """Return the maps that expect something of an inverter's identity. Blocks."""
    maps: list[RegisterMap] = []
    for map_id in map_paths(hass):
        try:
            register_map = read_map(hass, map_id)
        except MapInvalid:
            # The form lists it with its file name, and says what is wrong once it is picked.
            continue
        if any(item.expect for item in register_map.identity):
            maps.append(register_map)
    return maps


def _allowed(other: RegisterMap, rules: LineRules) -> bool:
    """Return whether a map's identity can be read by the rules of the line."""
    groups = [group for item in other.identity for group in item.point.groups]
    return all(len(group) <= rules.longest_read for group in groups) and not any(
        span.table is table and span.first <= register <= span.last
        for group in groups
        for table, register in group
        for span in rules.no_read
    )
