"""Where one inverter keeps the points of a table's rows, and the readings that these are."""

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

from ..register_map import (
    KNOWN_READINGS,
    MULTIPLES,
    NUMBERS,
    TEXT,
    Address,
    Point,
    Poll,
    Readable,
    Reading,
    Table,
)
from .chain import Model
from .models import OWN_READINGS, POINT_TYPES, STRING_LENGTHS, Row

NO_TEXTS: Mapping[int, str] = MappingProxyType({})


def row_point(row: Row, model: Model, key: str, *, block: int = 0) -> Point | None:
    """Return where this model keeps a point, in the unit of the reading `key`; None when the model is too short to have it.

    `block` is the offset of the block in which the row's own offset counts, 0 for the model itself.
    """
    kept = POINT_TYPES[row.type]
    length = STRING_LENGTHS[row.key] if kept.type == TEXT else NUMBERS[kept.type].registers
    last = max(block + row.offset + length - 1, 0 if row.scale is None else row.scale[1])
    if last >= 2 + model.length:
        return None
    scale_at: Address | None = None if row.scale is None else (Table.HOLDING, model.first + row.scale[1])
    return Point(
        table=Table.HOLDING,
        first=model.first + block + row.offset,
        type=kept.type,
        length=length,
        scale=Decimal(1).scaleb(_power(row, key)),
        scale_at=scale_at,
        invalid=frozenset(NUMBERS[kept.type].as_read(absent) for absent in kept.absent),
    )


def shown_reading(
    key: str,
    point: Readable,
    *,
    poll: Poll = Poll.FAST,
    labels: Mapping[int, str] = NO_TEXTS,
    flags: Mapping[int, str] = NO_TEXTS,
) -> Reading:
    """Return the reading `key`, which is a known one or one of SunSpec's own."""
    known = KNOWN_READINGS.get(key)
    own = None if known is not None else OWN_READINGS[key]
    shown = known or OWN_READINGS[key]
    return Reading(
        key=key,
        point=point,
        poll=poll,
        name=None if own is None else own.name,
        unit=shown.unit,
        device_class=shown.device_class,
        state_class=shown.state_class,
        positive=None if known is None else known.positive,
        diagnostic=shown.diagnostic,
        labels=labels,
        flags=flags,
    )


def _power(row: Row, key: str) -> int:
    """Return the power of ten from the standard's unit to the one that is shown."""
    known = KNOWN_READINGS.get(key)
    if known is None or known.unit is None or row.unit is None or known.unit == row.unit:
        return 0
    return MULTIPLES[known.unit][row.unit]
