"""SunSpec, the open standard: an inverter that says itself where it keeps what needs no register map of a file.

Readings only: nothing of the standard's storage control is written, and there is no schedule and no clock.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from types import MappingProxyType

from ..register_map import (
    Address,
    Directed,
    Identity,
    LineRules,
    Point,
    Raw,
    Reading,
    RegisterMap,
    Table,
    cure,
    mistake,
)
from .chain import BASES, Model, NotThere, Read, read_chain, wrong
from .dc_blocks import BLOCK_MODELS, dc_readings
from .models import COMMON, FLAGS, IDENTITY_ROWS, LABELS, METERS, READING_ROWS, Row
from .row_points import row_point, shown_reading

READ_MODELS = frozenset({layout.model for layout in BLOCK_MODELS} | {id_ for row in READING_ROWS for id_ in row.models})
"""Models from which readings are taken."""

LONGEST_READ_OF_MODEL = 1000
"""Registers: a model of repeated blocks has forty of them then. Longer ones are read as far as this."""

SHORTEST_READ = 8
"""Registers: where a read of so few is refused, they count as not there."""

DIRECTED = MappingProxyType({"storage_power": "battery_power", "storage_current": "battery_current"})
"""The battery's readings as counted, and what they are once the charge status tells their direction."""

CHARGE_SIGNS = MappingProxyType({1: 0, 2: 0, 3: 1, 4: -1, 5: 0, 6: 0})
"""The sign of a battery's power by `ChaSt` (124, 802), positive while discharging: off, empty, discharging, charging, full, holding."""

SUNSPEC = "sunspec"
"""The id under which it is picked, beside the maps of files."""

TITLE = "SunSpec (any inverter that speaks the open standard)"

SUNSPEC_UNREAD = RegisterMap(
    id=SUNSPEC,
    title=TITLE,
    maker="SunSpec",
    model="inverter",
    source="SunSpec model definitions",
    line=LineRules(),
    presence=(Table.HOLDING, BASES[0]),
)
"""What is known before the chain is read: how to speak to it, and one thing to ask so that it answers."""


async def read_sunspec_map(read: Read) -> RegisterMap:
    """Walk an inverter's chain of models and make its map. Raises MapInvalid, and what `read` raises."""
    chain = await read_chain(read)
    common = next((model for model in chain if model.id == COMMON), None)
    if common is None:
        raise wrong(BASES[0], mistake("sunspec_no_maker"), cure("write_map"))
    held = await _held(read, chain)
    readings = _readings(chain, held)
    if not readings:
        found = ", ".join(str(model.id) for model in chain)
        raise wrong(common.first, mistake("sunspec_none_known", models=found), cure("write_map_for_it"))
    texts = {row.key: point for row in IDENTITY_ROWS if (point := row_point(row, common, row.key)) is not None}
    raw = await _registers(read, common, texts.values())
    known = {key: str(value) for key, point in texts.items() if (value := point.decode(raw)) is not None}
    return RegisterMap(
        id=SUNSPEC,
        title=TITLE,
        maker=known.get("maker", SUNSPEC_UNREAD.maker),
        model=known.get("model", SUNSPEC_UNREAD.model),
        source=f"SunSpec models {', '.join(f'{model.id} at {model.first}' for model in chain)}",
        line=replace(SUNSPEC_UNREAD.line, block_starts=tuple((Table.HOLDING, model.first) for model in chain)),
        # What it does not say cannot prove which one it is.
        identity=tuple(Identity(key=key, point=texts[key]) for key in ("serial_number", "firmware") if key in known),
        readings=MappingProxyType(readings),
    )


async def _registers(read: Read, model: Model, points: Iterable[Point]) -> Raw:
    """Return the registers from the first to the last of these points."""
    addresses = [address for point in points for address in point.addresses]
    if not addresses:
        return {}
    first = min(register for _, register in addresses)
    count = max(register for _, register in addresses) - first + 1
    try:
        values = await read(Table.HOLDING, first, count)
    except NotThere as fault:
        raise wrong(
            first, mistake("sunspec_unread"), cure("sunspec_firmware"), key=f"SunSpec model {model.id}"
        ) from fault
    return {(Table.HOLDING, first + index): value for index, value in enumerate(values)}


async def _held(read: Read, chain: Iterable[Model]) -> Raw:
    """Return what the models hold from which readings are taken, as far as the inverter lets it be read. Raises what `read` raises."""
    found: dict[Address, int] = {}
    for model in chain:
        if model.id in READ_MODELS:
            await _read_into(found, read, model.first, min(2 + model.length, LONGEST_READ_OF_MODEL))
    return found


async def _read_into(found: dict[Address, int], read: Read, first: int, count: int) -> None:
    for at in range(first, first + count, SUNSPEC_UNREAD.line.longest_read):
        length = min(SUNSPEC_UNREAD.line.longest_read, first + count - at)
        try:
            values = await read(Table.HOLDING, at, length)
        except NotThere:
            if length > SHORTEST_READ:
                await _read_into(found, read, at, length // 2)
                await _read_into(found, read, at + length // 2, length - length // 2)
            continue
        found |= {(Table.HOLDING, at + index): value for index, value in enumerate(values)}


def _readings(chain: Sequence[Model], held: Raw) -> dict[str, Reading]:
    """Return everything that these models hold, each quantity once. `held` is what they held at the start."""
    first: dict[int, Model] = {}
    for model in chain:
        first.setdefault(model.id, model)
    if sum(model.id in METERS for model in chain) > 1:
        # With several meters it is not known which one is between house and grid.
        first = {model_id: model for model_id, model in first.items() if model_id not in METERS}
    offered: dict[str, list[Reading]] = {}
    for row in READING_ROWS:
        for model_id in row.models:
            if model_id in first and (reading := _reading(row, first[model_id])) is not None:
                offered.setdefault(row.key, []).append(reading)
    # What a model does not implement is taken from the next one that does.
    found = {
        key: next((one for one in readings if one.point.decode(held) is not None), readings[0])
        for key, readings in offered.items()
    }
    dc = dc_readings(tuple(first.values()), held)
    for counted, key in DIRECTED.items():
        amount, state = found.get(counted), found.get("battery_state")
        if amount is not None and state is not None and (key not in dc or amount.point.decode(held) is not None):
            dc |= _directed(key, amount, state, held)
        if key in dc:
            found.pop(counted, None)
    return found | dc


def _reading(row: Row, model: Model) -> Reading | None:
    point = row_point(row, model, row.key)
    if point is None:
        return None
    labels, flags = LABELS.get((model.id, row.point), {}), FLAGS.get((model.id, row.point), {})
    return shown_reading(row.key, point, poll=row.poll, labels=labels, flags=flags)


def _directed(key: str, counted: Reading, state: Reading, held: Raw) -> dict[str, Reading]:
    """Return a battery's reading whose direction its charge status tells, by its key; nothing if the battery tells no status."""
    amount, direction = counted.point, state.point
    if not isinstance(amount, Point) or not isinstance(direction, Point) or direction.decode(held) is None:
        return {}
    directed = Directed(amount=amount, direction=direction, signs=CHARGE_SIGNS, unsigned=False)
    return {key: shown_reading(key, directed)}
