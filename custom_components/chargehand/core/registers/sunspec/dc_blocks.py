"""SunSpec models that repeat a block for each DC input: ports (714) and trackers (160). What each input is, is read once.

Port types are PV, ESS and others (714 `PrtTyp`); a tracker does not say what is on it. A port's power is positive when it is
injected, as energies are named `DCWhInj` and `DCWhAbs` and as model 701 counts generation.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from ..register_map import MEASUREMENT, TEXT, TOTAL_INCREASING, Point, Raw, Reading, Sum, Table
from .chain import Model
from .models import Named, Row
from .row_points import row_point, shown_reading

PORTS_MODEL, TRACKERS_MODEL = 714, 160
PV, ESS = 0, 1
"""What is on a port, as `PrtTyp` has it; of all other types it is not certain which reading their power is."""

STORAGE_MODELS = frozenset({124, 713, 802})
"""Where one of these is there, a tracker may be a battery's."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BlockModel:
    """A model that repeats a block. Offsets count registers from the model's id, those of `rows` from the block's first register."""

    model: int
    count_at: int
    first: int
    size: int
    rows: tuple[Row, ...]
    name_at: int
    type_at: int | None = None


PORTS = BlockModel(
    model=PORTS_MODEL,
    count_at=4,
    first=20,
    size=25,
    type_at=0,
    name_at=2,
    rows=(
        Row((PORTS_MODEL,), "DCA", 10, "int16", "current", ("DCA_SF", 15), "A"),
        Row((PORTS_MODEL,), "DCV", 11, "uint16", "voltage", ("DCV_SF", 16), "V"),
        Row((PORTS_MODEL,), "DCW", 12, "int16", "power", ("DCW_SF", 17), "W"),
        Row((PORTS_MODEL,), "DCWhInj", 13, "uint64", "energy", ("DCWH_SF", 18), "Wh"),
        Row((PORTS_MODEL,), "DCWhAbs", 17, "uint64", "energy_absorbed", ("DCWH_SF", 18), "Wh"),
    ),
)
TRACKERS = BlockModel(
    model=TRACKERS_MODEL,
    count_at=8,
    first=10,
    size=20,
    name_at=1,
    rows=(
        Row((TRACKERS_MODEL,), "DCA", 9, "uint16", "current", ("DCA_SF", 2), "A"),
        Row((TRACKERS_MODEL,), "DCV", 10, "uint16", "voltage", ("DCV_SF", 3), "V"),
        Row((TRACKERS_MODEL,), "DCW", 11, "uint16", "power", ("DCW_SF", 4), "W"),
        Row((TRACKERS_MODEL,), "DCWH", 12, "acc32", "energy", ("DCWH_SF", 5), "Wh"),
    ),
)
BLOCK_MODELS = (PORTS, TRACKERS)

NAME_REGISTERS = 8
STRING_READINGS = MappingProxyType(
    {
        "power": Named("power", "W", "power", MEASUREMENT),
        "voltage": Named("voltage", "V", "voltage", MEASUREMENT, diagnostic=True),
        "current": Named("current", "A", "current", MEASUREMENT, diagnostic=True),
        "energy": Named("energy", "Wh", "energy", TOTAL_INCREASING),
    }
)
"""What is shown of one string; the name follows on the string's own."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Block:
    """One input: its number from 1, its type and name as the device has them, and where it stands."""

    layout: BlockModel
    model: Model
    number: int
    type: int | None = None
    name: str = ""

    @property
    def offset(self) -> int:
        """Return its first register, counted from the model's id."""
        return self.layout.first + (self.number - 1) * self.layout.size

    def point(self, what: str, key: str) -> Point | None:
        """Return its point for a reading; None where inputs of this model have none."""
        row = next((row for row in self.layout.rows if row.key == what), None)
        return None if row is None else row_point(row, self.model, key, block=self.offset)

    def measures(self, raw: Raw) -> bool:
        """Return whether it has any value."""
        points = (self.point(what, what) for what in ("power", "voltage", "current"))
        return any(point is not None and point.decode(raw) is not None for point in points)


def dc_readings(chain: Sequence[Model], raw: Raw) -> dict[str, Reading]:
    """Return what the DC inputs tell: solar and battery power and energies, then each string. `raw` is what they held at the start."""
    ports, trackers = _blocks(PORTS, chain, raw), _blocks(TRACKERS, chain, raw)
    strings = [port for port in ports if port.type == PV] or trackers
    battery = [port for port in ports if port.type == ESS]
    # A tracker may be a battery's, and does not say so.
    certain = strings is not trackers or not any(model.id in STORAGE_MODELS for model in chain)
    solar = strings if certain else []
    totals = (
        ("solar_power", solar, "power"),
        ("solar_energy", solar, "energy"),
        ("battery_power", battery, "power"),
        ("battery_energy_discharged", battery, "energy"),
        ("battery_energy_charged", battery, "energy_absorbed"),
    )
    found: dict[str, Reading] = {}
    for key, blocks, what in totals:
        points = tuple(point for block in blocks if (point := block.point(what, key)) is not None)
        if points:
            found[key] = shown_reading(key, points[0] if len(points) == 1 else Sum(parts=points))
    for number, block in enumerate(strings, start=1):
        found |= _string(number, block)
    return found


def _blocks(layout: BlockModel, chain: Iterable[Model], raw: Raw) -> list[Block]:
    model = next((model for model in chain if model.id == layout.model), None)
    if model is None:
        return []
    count = raw.get((Table.HOLDING, model.first + layout.count_at), 0)
    fitting = (2 + model.length - layout.first) // layout.size
    blocks = (_block(layout, model, number, raw) for number in range(1, min(count, fitting) + 1))
    # An input that measures nothing is not there, and would leave the sum of all without a value.
    return [block for block in blocks if block.measures(raw)]


def _block(layout: BlockModel, model: Model, number: int, raw: Raw) -> Block:
    at = model.first + layout.first + (number - 1) * layout.size
    kind = None if layout.type_at is None else raw.get((Table.HOLDING, at + layout.type_at))
    name = Point(table=Table.HOLDING, first=at + layout.name_at, type=TEXT, length=NAME_REGISTERS).decode(raw)
    return Block(layout=layout, model=model, number=number, type=kind, name=str(name or ""))


def _string(number: int, block: Block) -> dict[str, Reading]:
    """Return the readings of one string, named as the device names it."""
    name = f"String {number} ({block.name})" if block.name else f"String {number}"
    found: dict[str, Reading] = {}
    for what, shown in STRING_READINGS.items():
        key = f"string_{number}_{what}"
        point = block.point(what, key)
        if point is not None:
            found[key] = Reading(
                key=key,
                point=point,
                name=f"{name} {shown.name}",
                unit=shown.unit,
                device_class=shown.device_class,
                state_class=shown.state_class,
                diagnostic=shown.diagnostic,
            )
    return found
