"""SunSpec, the open standard: an inverter that says itself where it keeps what needs no register map of a file.

Readings only: nothing of the standard's storage control is written, and there is no schedule and no clock.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from types import MappingProxyType

from ..register_map import (
    KNOWN_READINGS,
    MULTIPLES,
    NUMBERS,
    TEXT,
    Address,
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
from .models import (
    COMMON,
    FLAGS,
    IDENTITY_ROWS,
    LABELS,
    METERS,
    OWN_READINGS,
    POINT_TYPES,
    READING_ROWS,
    STRING_LENGTHS,
    Row,
)

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
    readings = _readings(chain)
    if not readings:
        found = ", ".join(str(model.id) for model in chain)
        raise wrong(common.first, mistake("sunspec_none_known", models=found), cure("write_map_for_it"))
    texts = {row.key: point for row in IDENTITY_ROWS if (point := _point(row, common)) is not None}
    raw = await _registers(read, common, texts.values())
    known = {key: str(value) for key, point in texts.items() if (value := point.decode(raw)) is not None}
    return RegisterMap(
        id=SUNSPEC,
        title=TITLE,
        maker=known.get("maker", SUNSPEC_UNREAD.maker),
        model=known.get("model", SUNSPEC_UNREAD.model),
        source=f"SunSpec models {', '.join(f'{model.id} at {model.first}' for model in chain)}",
        line=SUNSPEC_UNREAD.line,
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


def _readings(chain: Iterable[Model]) -> dict[str, Reading]:
    """Everything that these models hold, each quantity once."""
    first: dict[int, Model] = {}
    for model in chain:
        first.setdefault(model.id, model)
    if sum(model.id in METERS for model in chain) > 1:
        # With several meters it is not known which one is between house and grid.
        first = {model_id: model for model_id, model in first.items() if model_id not in METERS}
    found: dict[str, Reading] = {}
    for row in READING_ROWS:
        for model_id in row.models:
            if row.key not in found and model_id in first:
                reading = _reading(row, first[model_id])
                if reading is not None:
                    found[row.key] = reading
    return found


def _reading(row: Row, model: Model) -> Reading | None:
    point = _point(row, model)
    if point is None:
        return None
    texts: dict[str, Mapping[int, str]] = {
        "labels": LABELS.get((model.id, row.point), {}),
        "flags": FLAGS.get((model.id, row.point), {}),
    }
    known = KNOWN_READINGS.get(row.key)
    own = None if known is not None else OWN_READINGS[row.key]
    shown = known or OWN_READINGS[row.key]
    return Reading(
        key=row.key,
        point=point,
        poll=row.poll,
        name=None if own is None else own.name,
        unit=shown.unit,
        device_class=shown.device_class,
        state_class=shown.state_class,
        positive=None if known is None else known.positive,
        diagnostic=shown.diagnostic,
        **texts,
    )


def _point(row: Row, model: Model) -> Point | None:
    """Where this model of this inverter keeps a point; None when the model is too short to have it."""
    kept = POINT_TYPES[row.type]
    length = STRING_LENGTHS[row.key] if kept.type == TEXT else NUMBERS[kept.type].registers
    last = max(row.offset + length - 1, 0 if row.scale is None else row.scale[1])
    if last >= 2 + model.length:
        return None
    scale_at: Address | None = None if row.scale is None else (Table.HOLDING, model.first + row.scale[1])
    return Point(
        table=Table.HOLDING,
        first=model.first + row.offset,
        type=kept.type,
        length=length,
        scale=Decimal(1).scaleb(_power(row)),
        scale_at=scale_at,
        invalid=frozenset(NUMBERS[kept.type].as_read(absent) for absent in kept.absent),
    )


def _power(row: Row) -> int:
    """Return the power of ten from the standard's unit to the one that is shown."""
    known = KNOWN_READINGS.get(row.key)
    if known is None or known.unit is None or row.unit is None or known.unit == row.unit:
        return 0
    return MULTIPLES[known.unit][row.unit]
