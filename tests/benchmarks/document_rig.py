"""An inverter of one of the four documents on the bench, as its bundled map reads it, and what the checks say when it is not as wanted."""

import re
import tempfile
from collections.abc import AsyncIterator, Collection
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from custom_components.chargehand.core.inverter import Inverter, ReadingValue
from custom_components.chargehand.core.registers import Poll, RegisterMap, load_map
from custom_components.chargehand.core.schedule import ScheduleRequest, WindowRequest
from tests.bench.remote import Bench
from tests.benchmarks.rig import QUICK, inverter_on

_MAPS = Path(__file__).parents[2] / "custom_components/chargehand/maps"
_FILES = {"larkfen": "larkfen_lf5", "pebblemoor": "pebblemoor_pm8", "oxwhistle": "oxwhistle_ow4"}
_FRAME_GAP_MS = {"larkfen": 300}
"""What a document says about the time between frames; the bench does not answer what comes sooner."""

HOUSE = ZoneInfo("Europe/London")
"""The time zone of the bench's house, and of the inverter's."""

CLOCK_WITHIN_S = 2
"""Seconds that a clock may be off right after it was set."""

NIGHT = WindowRequest(start="23:10", end="03:40", power=3000, stop_level=95)
"""A charge window that crosses midnight, for an inverter that keeps powers and levels."""

NOON = WindowRequest(start="12:00", end="14:00", power=3000, stop_level=95)

SLOTS, SLOT_SIZE = 0x300, 6
"""Where the Pebblemoor keeps its slots."""


class Wrong(Exception):
    """It is not as the document says; in a few words what is different."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Rig:
    """The bench and the inverter on it."""

    bench: Bench
    inverter: Inverter

    async def reads(self, *keys: str) -> list[ReadingValue]:
        """Read values by their keys, as a poll does. Raises Wrong for one that the map lacks or that was not read."""
        lacking = [key for key in keys if key not in self.inverter.map.readings]
        if lacking:
            raise Wrong(f"the map has no {lacking[0]}")
        polled = await self.inverter.reader.poll(keys, frozenset(Poll))
        if polled.missed:
            raise Wrong(f"not read: {', '.join(sorted(polled.missed))}")
        return [polled.values[key] for key in keys]

    async def read(self, key: str) -> ReadingValue:
        """Read one value."""
        return (await self.reads(key))[0]

    async def shows(self, first: int, values: list[int], key: str, wanted: object) -> None:
        """Let the inverter measure these raw registers, and compare a reading with what they mean."""
        await self.bench.set(first, values, table="input")
        equal(key, await self.read(key), wanted)

    async def applies(
        self, *charge: WindowRequest, discharge: Collection[WindowRequest] = (), armed: bool = True
    ) -> None:
        """Apply these windows, and no others. Raises Wrong unless they are confirmed, and what `apply` raises."""
        request = ScheduleRequest(charge=list(charge), discharge=list(discharge), armed=armed)
        equal("outcome", (await self.inverter.apply(request)).receipt.outcome, "confirmed")

    async def charges(self, *charge: WindowRequest) -> None:
        """Apply charge windows, and leave the other side as it is."""
        equal("outcome", (await self.inverter.apply(ScheduleRequest(charge=list(charge)))).receipt.outcome, "confirmed")

    async def holds(self, first: int, wanted: list[int]) -> None:
        """Compare holding registers with values worked by hand."""
        equal(f"registers from {first:#x}", await self.bench.registers("holding", first, len(wanted)), wanted)

    async def slots(self) -> list[list[int]]:
        """Return the Pebblemoor's six slots."""
        held = await self.bench.registers("holding", SLOTS, 6 * SLOT_SIZE)
        return [held[first : first + SLOT_SIZE] for first in range(0, len(held), SLOT_SIZE)]

    async def does_at(self, time: str) -> tuple[str, str]:
        """Return what the inverter does when its clock shows a time of 2026-01-10, a Saturday: its task, and the window that asks for it."""
        await self.bench.clock(datetime.fromisoformat(f"2026-01-10T{time}"))
        acting = await self.bench.acting()
        return acting["task"], acting["by"]


def equal(what: str, found: object, wanted: object) -> None:
    """Compare; numbers to their last digit but rounding. Raises Wrong."""
    near = isinstance(found, int | float) and isinstance(wanted, int | float) and abs(found - wanted) < 1e-6
    if found != wanted and not near:
        raise Wrong(f"{what} is {found}, not {wanted}")


def text_of(make: str) -> str:
    """Return a document's map as text."""
    return (_MAPS / f"{_FILES[make]}.yaml").read_text()


def map_of(make: str, text: str | None = None) -> RegisterMap:
    """Load a document's map, or another text in its place. Raises MapInvalid."""
    if text is None:
        return load_map(_MAPS / f"{_FILES[make]}.yaml")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{_FILES[make]}.yaml"
        path.write_text(text)
        return load_map(path)


def changed(text: str, pattern: str, instead: str) -> str:
    """Replace a pattern in a map's text. Raises Wrong where it does not occur, so that no check passes by a change that was none."""
    found, times = re.subn(pattern, instead, text)
    if not times:
        raise Wrong(f"the map has nothing like {pattern}")
    return found


@asynccontextmanager
async def on_bench(make: str, text: str | None = None, **options: str | float | datetime) -> AsyncIterator[Rig]:
    """Run the bench inverter of a document, with its map or another text of it."""
    register_map = map_of(make, text)
    start = QUICK | {"inverter": make, "frame_gap_ms": _FRAME_GAP_MS.get(make, 0)} | options
    async with await Bench.start(**start) as bench, inverter_on(bench, register_map) as inverter:
        yield Rig(bench=bench, inverter=inverter)
