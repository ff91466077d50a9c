"""What the sections are made from at one moment: of an inverter that runs, else of what is kept of it."""

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime

from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.util import dt as dt_util

from ..changes import Drafts, Orders, Storage
from ..connection import map_of
from ..coordinator import ChargehandConfigEntry, ChargehandCoordinator
from ..core.inverter import Snapshot
from ..core.registers import Keeps, MapInvalid, RegisterMap, SchedulePoints
from ..core.schedule import Image, Schedule, known_schedule, shift_minutes
from ..nights import Nights, PastWindows
from ..store import EntryStore
from .band import Band


@dataclass(frozen=True, kw_only=True, slots=True)
class Remembered:
    """What is known of an inverter whether it answers or not. `register_map` is None where it cannot be read."""

    register_map: RegisterMap | None
    points: SchedulePoints | None
    """Where the schedule is kept, with the bounds of its limits as they were read last; None for a map without one."""

    snapshot: Snapshot
    storage: Storage
    drafts: Drafts
    orders: Orders
    nights: Nights
    past: PastWindows

    @property
    def keeps(self) -> Keeps:
        """Which time the inverter's clock keeps."""
        return keeping(self.register_map)


@dataclass(frozen=True, kw_only=True, slots=True)
class DayFacts:
    """One moment. `coordinator` is None while the inverter is not running, `removed`: its entry is gone."""

    hass: HomeAssistant
    entry: ChargehandConfigEntry
    device_id: str
    removed: bool
    coordinator: ChargehandCoordinator | None
    known: Remembered
    now: datetime
    band: Band
    ticks: int
    """How often five minutes have passed since somebody watches."""

    @property
    def available(self) -> bool:
        """Whether the inverter answers."""
        return self.coordinator is not None and self.coordinator.last_update_success

    @property
    def held(self) -> Schedule | None:
        """What the inverter holds, as it was last read or proven."""
        return self.known.snapshot.schedule

    @property
    def drafted(self) -> Schedule | None:
        """What the draft makes of it; None while there is no draft."""
        return None if self.known.drafts.draft is None else self.known.drafts.shown(self.held)

    @property
    def shift(self) -> int:
        """Minutes that the inverter's clock should be ahead of the house's now."""
        return shift_minutes(self.known.keeps, self.now, self.band.zone)

    def schedule_of(self, image: Image | None, shift: int | None = None) -> Schedule | None:
        """Return the schedule of an image by the `shift` of its time (None: today's); None without an image, or where its windows are not the map's."""
        points = self.known.points
        if image is None or points is None:
            return None
        return known_schedule(points, image, self.shift if shift is None else shift)


@callback
def remembered(coordinator: ChargehandCoordinator) -> Remembered:
    """Return what is known of an inverter that runs, or did until just now."""
    return Remembered(
        register_map=coordinator.inverter.map,
        points=coordinator.inverter.points,
        snapshot=coordinator.data,
        storage=coordinator.storage,
        drafts=coordinator.drafts,
        orders=coordinator.orders,
        nights=coordinator.nights,
        past=coordinator.past,
    )


async def remembered_on_disk(hass: HomeAssistant, entry: ChargehandConfigEntry) -> Remembered:
    """Return what is kept of an inverter that has not run since the start."""
    register_map = None
    with suppress(MapInvalid):
        register_map = await hass.async_add_executor_job(map_of, hass, entry.data)
    store = EntryStore(hass, entry.entry_id)
    # A file that cannot be read is reported when the entry is set up.
    with suppress(HomeAssistantError):
        await store.load()
    points = None if register_map is None else register_map.schedule
    storage = Storage(store.section("changes"))
    return Remembered(
        register_map=register_map,
        points=None if points is None else points.known(storage.unproven or storage.confirmed or {}),
        snapshot=Snapshot(schedule=_proven(register_map, storage)),
        storage=storage,
        drafts=Drafts(hass, store.section("draft"), points, _nothing),
        orders=Orders(hass, store.section("order"), _nothing),
        nights=Nights(store.section("nights")),
        past=PastWindows(store.section("windows")),
    )


def _proven(register_map: RegisterMap | None, storage: Storage) -> Schedule | None:
    """Return what the inverter was last known to hold, in the house's time."""
    image = storage.unproven or storage.confirmed
    if register_map is None or register_map.schedule is None or image is None:
        return None
    keeps = keeping(register_map)
    shift = shift_minutes(keeps, dt_util.utcnow(), dt_util.get_default_time_zone())
    return known_schedule(register_map.schedule, image, shift)


def keeping(register_map: RegisterMap | None) -> Keeps:
    """Return which time the inverter's clock keeps; the house's where the map has no clock."""
    clock = None if register_map is None else register_map.clock
    return Keeps.LOCAL if clock is None else clock.keeps


@callback
def _nothing() -> None:
    """Show nothing: nobody edits or orders anything while the inverter does not run."""
