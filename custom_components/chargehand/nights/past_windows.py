"""Charge windows that have acted: when, and what level they brought. Kept over restarts."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from homeassistant.core import callback
from homeassistant.util import dt as dt_util

from ..core.inverter import Inverter, Snapshot, acting, level_of
from ..core.schedule import Acting
from ..store import Section

WRITE_DELAY = 1
"""Seconds until a window that began or ended is written to disk."""

KEPT = timedelta(days=400)

LEVEL_HOLDS = timedelta(minutes=5)
"""A level read later than this after the end of a window says nothing about it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Charged:
    """A window that acted from `start` to `end`, in UTC. Levels in %; None: it has no stop level, or nobody saw the level.

    `number` and `scheduled`, its start by the inverter's clock, say which it was: how far that clock is off is read a little different each
    time, and `start` and `end` with it.
    """

    number: int
    scheduled: datetime
    start: datetime
    end: datetime
    wanted: float | None
    begun: float | None = None
    """The level when it started."""
    reached: float | None = None
    confirmed: bool = False
    """Whether it was one of a schedule that was confirmed, at some time while it acted."""
    cut: bool = False
    """Whether the schedule was changed or disarmed while it acted: what acts later is another one."""

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Charged:
        """From what was kept. Raises KeyError, TypeError, ValueError."""
        return cls(
            number=data["number"],
            scheduled=datetime.fromisoformat(data["scheduled"]),
            start=datetime.fromisoformat(data["start"]),
            end=datetime.fromisoformat(data["end"]),
            wanted=data["wanted"],
            begun=data.get("begun"),
            reached=data["reached"],
            confirmed=data.get("confirmed", False),
            cut=data.get("cut", False),
        )

    def as_dict(self) -> dict[str, Any]:
        """For keeping."""
        return asdict(self) | {name: getattr(self, name).isoformat() for name in ("scheduled", "start", "end")}

    def was(self, one: Acting) -> bool:
        """Return whether it is the one that acts."""
        return self.number == one.number and self.scheduled == one.scheduled


class PastWindows:
    """One inverter's past windows and those under way."""

    def __init__(self, section: Section) -> None:
        """Read what was kept. What cannot be understood any more is left behind."""
        self._section = section
        self.looked: datetime | None = None
        """When the windows were followed last."""

        self.past: list[Charged] = []
        self.running: dict[int, Charged] = {}
        """Under way, by the window's number."""

        self.unseen: list[Charged] = []
        """Began and ended by the schedule while nobody looked."""

        self._read(section.found)
        section.keep(self._data)

    def _read(self, data: Mapping[str, Any]) -> None:
        try:
            self.past = [Charged.from_dict(one) for one in data.get("past", ())]
            self.running = {one["number"]: Charged.from_dict(one) for one in data.get("running", ())}
            self.unseen = [Charged.from_dict(one) for one in data.get("unseen", ())]
            looked = data.get("looked")
            self.looked = None if looked is None else datetime.fromisoformat(looked)
        except KeyError, TypeError, ValueError:
            self.past, self.running, self.unseen, self.looked = [], {}, [], None

    def follow(
        self, acting: Iterable[Acting], armed: Collection[int], now: datetime, level: float | None, *, confirmed: bool
    ) -> None:
        """Take note of the windows that act now, of the level (%) read now, and whether the schedule is a confirmed one.

        `armed` are the numbers of those that act when their time comes.
        """
        before = dict(self.running)
        acts = {one.number: one for one in acting}
        for number, begun in before.items():
            one = acts.get(number)
            if one is not None and begun.was(one):
                self.running[number] = replace(
                    begun, end=one.end, wanted=one.window.stop_level, confirmed=begun.confirmed or confirmed
                )
            else:
                del self.running[number]
                end = min(begun.end, now)
                # The house's own time may have jumped back.
                if end > begun.start:
                    reached = level if now - end <= LEVEL_HOLDS else None
                    self._add(replace(begun, end=end, reached=reached, cut=number not in armed), now)
        for number, one in acts.items():
            if number not in self.running:
                self.running[number] = self._begun(one, now, level, confirmed=confirmed)
        self.looked = now
        if self.running != before:
            self._section.write_soon(WRITE_DELAY)

    def missed(self, acted: Iterable[Acting]) -> None:
        """Take note of windows that must have acted while nobody looked. What they brought is not known."""
        for one in acted:
            self.unseen.append(
                Charged(
                    number=one.number,
                    scheduled=one.scheduled,
                    start=one.start,
                    end=one.end,
                    wanted=one.window.stop_level,
                )
            )
            self._section.write_soon(WRITE_DELAY)

    def of(self, first: datetime, last: datetime) -> list[Charged]:
        """Return what ended after a moment and not after another, in order, also what was not seen."""
        found = [one for one in (*self.past, *self.unseen) if first < one.end <= last]
        return sorted(found, key=lambda one: one.start)

    def _begun(self, one: Acting, now: datetime, level: float | None, *, confirmed: bool) -> Charged:
        """Return the window that begins to act, or that goes on: a clock that wavers made it look ended."""
        last = next((past for past in reversed(self.past) if past.was(one) and not past.cut), None)
        if last is not None:
            self.past.remove(last)
            return replace(
                last,
                start=max(last.start, one.start),
                end=one.end,
                wanted=one.window.stop_level,
                reached=None,
                confirmed=last.confirmed or confirmed,
            )
        # One that was not acting at the last look, though its time had come, was armed or set since.
        start = one.start if self.looked is None or one.start > self.looked else now
        return Charged(
            number=one.number,
            scheduled=one.scheduled,
            start=start,
            end=one.end,
            wanted=one.window.stop_level,
            begun=level if now - start <= LEVEL_HOLDS else None,
            confirmed=confirmed,
        )

    def _add(self, ended: Charged, now: datetime) -> None:
        self.past = [one for one in self.past if one.end > now - KEPT]
        self.unseen = [one for one in self.unseen if one.end > now - KEPT]
        self.past.append(ended)

    def _data(self) -> dict[str, Any]:
        return {
            "past": [one.as_dict() for one in self.past],
            "running": [one.as_dict() for one in self.running.values()],
            "unseen": [one.as_dict() for one in self.unseen],
            "looked": None if self.looked is None else self.looked.isoformat(),
        }


@callback
def follow_windows(past: PastWindows, inverter: Inverter, snapshot: Snapshot, *, confirmed: bool) -> None:
    """Keep what begins and ends by what was just read, and what must have acted while nothing could be read."""
    if snapshot.schedule is None or snapshot.read_at is None:
        return
    now, looked = dt_util.utcnow(), past.looked
    acts = acting(inverter, snapshot, now, now + timedelta(microseconds=1))
    schedule = snapshot.schedule
    armed = [] if schedule.armed is False else [at for at, one in enumerate(schedule.charge, start=1) if one.used]
    past.follow(acts, armed, now, level_of(snapshot), confirmed=confirmed)
    if looked is not None and now - looked > LEVEL_HOLDS:
        past.missed([one for one in acting(inverter, snapshot, looked, now) if one.start > looked and one.end <= now])
