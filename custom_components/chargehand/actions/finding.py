"""Finding registers that no map describes yet: read a stretch raw, and compare it with an earlier reading. Nothing is written."""

import asyncio
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from typing import Any

import voluptuous as vol
from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.helpers import config_validation as cv
from homeassistant.util.hass_dict import HassKey
from homeassistant.util.json import JsonObjectType

from ..const import DOMAIN
from ..coordinator import ChargehandCoordinator
from ..core.inverter import Inverter
from ..core.modbus import LineError, NoConnection, Refused
from ..core.registers import (
    LAST_ADDRESS,
    MOST_REGISTERS,
    Change,
    LineRules,
    Meaning,
    Search,
    SnapshotWrong,
    Stretch,
    Table,
    changes,
    decodings,
    runs,
    snapshot_values,
)
from .failures import refused, translated
from .numbers import whole_number

SHARE = 0.1
"""Of a line's time that finding registers may take: polls and commits go on meanwhile."""

RETRIES = 1
"""A silent stretch holds up everybody on the line for each try."""

ABOUT_REGISTERS = {2, 3, 4}
"""Exceptions that may be about one register of many (Modbus Application Protocol V1.1b3, section 7; 4: common practice)."""

SILENT_IN_A_ROW = 2
"""Requests in a row without an answer from which the inverter, and not a register, is taken to be silent."""

STRETCH_FIELDS = {
    vol.Required("table"): vol.All(cv.string, vol.In([str(table) for table in Table])),
    vol.Required("first"): vol.All(whole_number, vol.Range(min=0)),
    vol.Required("count"): vol.All(whole_number, vol.Range(min=1)),
}
READ_FIELDS = {**STRETCH_FIELDS, vol.Optional("decode", default=True): cv.boolean}
COMPARE_FIELDS = {**STRETCH_FIELDS, vol.Required("snapshot"): object}


class Pace:
    """Keeps all searches together to a share of the time: after each request comes a rest in proportion to it."""

    def __init__(self) -> None:
        """Start rested."""
        self._turn = asyncio.Lock()
        self._rested_at = 0.0

    @asynccontextmanager
    async def request(self) -> AsyncIterator[None]:
        """Wait until the rest after the request before is over, then time what is done inside."""
        loop = asyncio.get_running_loop()
        async with self._turn:
            await asyncio.sleep(self._rested_at - loop.time())
            started = loop.time()
            try:
                yield
            finally:
                now = loop.time()
                self._rested_at = now + (now - started) * (1 / SHARE - 1)


PACE: HassKey[Pace] = HassKey(f"{DOMAIN}_finding")


async def read_registers(coordinator: ChargehandCoordinator, data: Mapping[str, Any], _by: str) -> JsonObjectType:
    """Return the requested registers, raw and, where wanted, decoded in every way that makes sense."""
    search = await _searched(coordinator, _stretch(coordinator.inverter.map.line, data))
    answer = _answer(search, data)
    if data["decode"]:
        # Two thousand registers in every way take a good part of a second: too long for the event loop.
        answer["decoded"] = await coordinator.hass.async_add_executor_job(_decoded, search)
    return answer


async def compare_registers(coordinator: ChargehandCoordinator, data: Mapping[str, Any], _by: str) -> JsonObjectType:
    """Read again what a snapshot holds. Return what changed since, and what that could mean."""
    rules = coordinator.inverter.map.line
    stretch = _stretch(rules, data)
    snapshot = data["snapshot"]
    try:
        before = snapshot_values(snapshot, stretch, rules)
    except SnapshotWrong as fault:
        raise refused(fault.key, **fault.values_) from fault
    if snapshot.get("device_id") not in {None, data["device_id"]}:
        raise refused("snapshot_other_inverter", inverter=coordinator.config_entry.title)
    search = await _searched(coordinator, stretch)
    answer = _answer(search, data)
    found = await coordinator.hass.async_add_executor_job(changes, before, search.values)
    answer["changes"] = [_change(change, rules) for change in found]
    answer["not_compared"] = [_span(first, last, rules) for first, last in runs(before.keys() ^ search.values.keys())]
    return answer


def _stretch(rules: LineRules, data: Mapping[str, Any]) -> Stretch:
    """Return what is asked for, on the wire. Raises ServiceValidationError when it is too much, or not there."""
    first, count = int(data["first"]), int(data["count"])
    if count > MOST_REGISTERS:
        raise refused("too_many_registers", count=str(count), most=str(MOST_REGISTERS))
    base = rules.first_number
    if first < base or first - base + count - 1 > LAST_ADDRESS:
        raise refused(
            "no_such_registers",
            first=str(first),
            last=str(first + count - 1),
            lowest=str(base),
            highest=str(LAST_ADDRESS + base),
        )
    return Stretch(table=Table(data["table"]), first=first - base, count=count)


async def _searched(coordinator: ChargehandCoordinator, stretch: Stretch) -> Search:
    search = Search(stretch=stretch, rules=coordinator.inverter.map.line)
    with translated(coordinator):
        await _read_all(search, coordinator.inverter, coordinator.hass.data.setdefault(PACE, Pace()))
    return search


async def _read_all(search: Search, inverter: Inverter, pace: Pace) -> None:
    """Read until nothing is left. Raises LineError when it is the inverter that does not answer, not a register."""
    silent = 0
    while (batch := search.next_batch) is not None:
        try:
            async with pace.request():
                registers = await inverter.line.read(batch.table, batch.first, batch.count, retries=RETRIES)
        except NoConnection:
            raise
        except LineError as failure:
            if isinstance(failure, Refused) and failure.code in ABOUT_REGISTERS:
                silent = 0
                search.refused(str(failure))
                continue
            silent += 1
            search.gone(str(failure))
            if silent >= SILENT_IN_A_ROW or not (search.values or search.next_batch):
                raise
        else:
            silent = 0
            search.came(registers)


def _answer(search: Search, data: Mapping[str, Any]) -> JsonObjectType:
    """Return what both actions answer: as a whole it is a snapshot. Addresses count as the register map's."""
    rules, stretch = search.rules, search.stretch
    return {
        "device_id": str(data[ATTR_DEVICE_ID]),
        "table": str(stretch.table),
        "first": stretch.first + rules.first_number,
        "count": stretch.count,
        "numbering": rules.numbering,
        "registers": {str(address + rules.first_number): value for address, value in sorted(search.values.items())},
        "unreadable": [{**_span(one.first, one.last, rules), "why": one.why} for one in search.unreadable],
        "never_read": [_span(one.first, one.last, rules) for one in search.never_read],
    }


def _decoded(search: Search) -> JsonObjectType:
    base = search.rules.first_number
    return {str(address + base): {**decodings(search.values, address)} for address in sorted(search.values)}


def _change(change: Change, rules: LineRules) -> JsonObjectType:
    return {
        "register": change.register + rules.first_number,
        "was": change.was,
        "now": change.now,
        "flipped_bits": list(change.flipped),
        "could_mean": [_meaning(meaning, rules) for meaning in change.meanings],
    }


def _meaning(meaning: Meaning, rules: LineRules) -> JsonObjectType:
    """Return a meaning in a register map's own words, so that it can be copied into one."""
    row: JsonObjectType = {"register": meaning.first + rules.first_number}
    if meaning.way is None:
        row["bit"] = meaning.bit
    else:
        row[meaning.way.field] = meaning.way.name
        if meaning.way.word_order is not None:
            row["word_order"] = meaning.way.word_order
    return {**row, "was": meaning.was, "now": meaning.now}


def _span(first: int, last: int, rules: LineRules) -> JsonObjectType:
    return {"first": first + rules.first_number, "last": last + rules.first_number}
