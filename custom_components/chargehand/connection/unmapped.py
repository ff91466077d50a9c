"""Finding an inverter that has no map yet: whatever it answers, it is there."""

import asyncio
from dataclasses import replace

from ..core.inverter import line_share
from ..core.modbus import Line, LineError, NoAnswer, Refused
from ..core.registers import FIRST_TRIED, Address, RegisterMap
from .found import ROUND_TRIPS, Found, median_and_worst
from .open_inverter import build_inverter


async def find_unmapped(register_map: RegisterMap, line: Line) -> Found:
    """Look for an answer and measure round trips. The map that is found has the register that polls look for. Raises LineError."""
    loop = asyncio.get_running_loop()
    started = loop.time()
    presence = await _answered(register_map, line)
    connect_ms = (loop.time() - started) * 1000
    inverter = build_inverter(replace(register_map, presence=presence), line)
    times: list[float] = []
    for _ in range(ROUND_TRIPS):
        started = loop.time()
        await inverter.reader.reads.look_for(presence)
        times.append(loop.time() - started)
    middle, worst = median_and_worst(times)
    keys = inverter.reader.all_keys()
    return Found(
        register_map=inverter.map,
        unit=line.unit,
        identity={},
        serial=None,
        level=None,
        values={},
        schedule=None,
        clock_offset=None,
        connect_ms=round(connect_ms),
        round_trip_ms=middle,
        worst_round_trip_ms=worst,
        share=line_share(inverter, keys),
    )


async def _answered(register_map: RegisterMap, line: Line) -> Address:
    """Return a register that the inverter has, else one that it says it does not have. Raises LineError where it says nothing."""
    reads = build_inverter(register_map, line).reader.reads
    refused: Address | None = None
    silence: LineError | None = None
    first = register_map.presence or FIRST_TRIED[0]
    for address in dict.fromkeys((first, *FIRST_TRIED)):
        try:
            # Some inverters say nothing of registers that they do not have: one that is silent here may answer the next.
            if await reads.look_for(address, retries=1 if address == first else 0):
                return address
        except LineError as fault:
            if not (isinstance(fault, NoAnswer) or (isinstance(fault, Refused) and fault.unit_silent)):
                raise
            silence = fault
        else:
            refused = refused or address
    if refused is None and silence is not None:
        raise silence
    return refused or first
