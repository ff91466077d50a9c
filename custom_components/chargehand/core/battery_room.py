"""What the sensors of a battery's room say of danger: smoke at once, heat and cold when they last, and until when that holds."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

LOOK_AGAIN = timedelta(minutes=1)
"""While there is danger: how often to look whether the charge is armed."""

STILL_ARMED = timedelta(minutes=15)
"""A charge that is armed for so long after it was to be stopped is reported again."""


class RoomEvent(StrEnum):
    """What happens in a battery's room."""

    DANGER = "danger"
    WORSE = "worse"
    """A sensor shows danger that was not among those reported before."""

    ARMED = "armed"
    """The charge is armed while there is danger."""

    NORMAL = "normal"
    SILENT = "silent"
    """A sensor has given no value for long."""


class Cause(StrEnum):
    """What the danger is."""

    SMOKE = "smoke"
    HOT = "hot"
    COLD = "cold"


@dataclass(frozen=True, kw_only=True, slots=True)
class RoomLimits:
    """When a room is dangerous: temperatures in the unit of its sensors."""

    low: float
    high: float
    hysteresis: float
    """How far inside the limits a value has to be to count as normal again."""

    lasting: timedelta
    """How long heat or cold has to last, and how long the room has to be normal."""

    lost: timedelta | None
    """After how long a sensor without a value is reported; None: never."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RoomReading:
    """What the sensors say, each by its name; None: no value."""

    smoke: Mapping[str, bool | None]
    temperatures: Mapping[str, float | None]
    charges: bool | None = None
    """Whether the charge is armed; None: not known, or about to be stopped."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RoomNews:
    """Something to report, and the sensors that it is about."""

    event: RoomEvent
    sensors: tuple[str, ...] = ()
    cause: Cause | None = None
    again: bool = False
    """Of an armed charge: whether it was not armed before, in the same danger."""


@dataclass(kw_only=True, slots=True)
class _Danger:
    """One incident, from the first sign of danger that counts until the room is normal."""

    asked_at: datetime
    """When the charge was last to be stopped."""

    charges: bool | None
    reported: list[str] = field(default_factory=list)
    disarmed: bool = False
    """Whether the charge was seen not to be armed since."""

    calm_since: datetime | None = None


class BatteryRoom:
    """One room. It knows what it has reported; times are aware."""

    def __init__(self, limits: RoomLimits) -> None:
        """Know nothing of the room yet."""
        self._limits = limits
        self._dangerous: tuple[str, ...] = ()
        self._since: datetime | None = None
        """Since when it is too hot or too cold, without having lasted."""

        self._danger: _Danger | None = None
        self._lost: dict[str, datetime] = {}
        self._lost_reported: set[str] = set()

    def see(self, reading: RoomReading, now: datetime) -> list[RoomNews]:
        """Return what there is to report of the room as it is now."""
        news = self._silence(reading, now)
        self._dangerous = tuple(self._dangers(reading))
        if self._danger is not None:
            return news + self._go_on(self._danger, reading, now)
        return news + self._begin(reading, now)

    def remind(self, now: datetime) -> list[RoomNews]:
        """Return once more which sensors have given no value for long."""
        lost = self._lost_long(now)
        return [RoomNews(event=RoomEvent.SILENT, sensors=lost)] if lost else []

    def due(self, now: datetime) -> datetime | None:
        """Return when to look again even if no sensor changes; None: no need to."""
        moments: list[datetime] = []
        if self._since is not None:
            moments.append(self._since + self._limits.lasting)
        if self._danger is not None:
            moments.append(now + LOOK_AGAIN)
            if self._danger.calm_since is not None:
                moments.append(self._danger.calm_since + self._limits.lasting)
        if self._limits.lost is not None:
            moments += [at + self._limits.lost for name, at in self._lost.items() if name not in self._lost_reported]
        return min(moments, default=None)

    # ---- danger

    def _dangers(self, reading: RoomReading) -> Iterable[str]:
        """Return the sensors that show danger. One that did and now gives no value still counts."""
        before = {*self._dangerous, *(self._danger.reported if self._danger is not None else ())}
        for name, smoke in reading.smoke.items():
            if smoke or (smoke is None and name in before):
                yield name
        for name, value in reading.temperatures.items():
            inside = self._limits.hysteresis if name in before else 0
            if (
                name in before
                if value is None
                else not self._limits.low + inside <= value <= self._limits.high - inside
            ):
                yield name

    def _begin(self, reading: RoomReading, now: datetime) -> list[RoomNews]:
        if not self._dangerous:
            self._since = None
            return []
        if not any(name in reading.smoke for name in self._dangerous):
            self._since = self._since or now
            if now < self._since + self._limits.lasting:
                return []
        self._since = None
        self._danger = _Danger(asked_at=now, charges=reading.charges, reported=list(self._dangerous))
        return [self._told(RoomEvent.DANGER, self._dangerous, reading)]

    def _go_on(self, danger: _Danger, reading: RoomReading, now: datetime) -> list[RoomNews]:
        if self._dangerous:
            danger.calm_since = None
        elif danger.calm_since is None:
            danger.calm_since = now
        elif now >= danger.calm_since + self._limits.lasting:
            self._danger = None
            return [RoomNews(event=RoomEvent.NORMAL, sensors=tuple(danger.reported))]
        news = []
        if fresh := tuple(name for name in self._dangerous if name not in danger.reported):
            danger.reported += fresh
            news.append(self._told(RoomEvent.WORSE, fresh, reading))
        return news + self._armed(danger, reading.charges, now)

    def _armed(self, danger: _Danger, charges: bool | None, now: datetime) -> list[RoomNews]:
        if charges is None:
            return []
        before, danger.charges = danger.charges, charges
        again, danger.disarmed = danger.disarmed, danger.disarmed or not charges
        if not charges or (before and now < danger.asked_at + STILL_ARMED):
            return []
        danger.asked_at = now
        return [RoomNews(event=RoomEvent.ARMED, again=again)]

    def _told(self, event: RoomEvent, sensors: tuple[str, ...], reading: RoomReading) -> RoomNews:
        if any(name in reading.smoke for name in sensors):
            return RoomNews(event=event, sensors=sensors, cause=Cause.SMOKE)
        value, middle = reading.temperatures[sensors[0]], (self._limits.low + self._limits.high) / 2
        return RoomNews(
            event=event, sensors=sensors, cause=Cause.COLD if value is not None and value < middle else Cause.HOT
        )

    # ---- sensors without a value

    def _silence(self, reading: RoomReading, now: datetime) -> list[RoomNews]:
        values: dict[str, object] = {**reading.smoke, **reading.temperatures}
        self._lost = {name: self._lost.get(name, now) for name, value in values.items() if value is None}
        self._lost_reported &= self._lost.keys()
        lost = self._lost_long(now)
        if self._lost_reported.issuperset(lost):
            return []
        self._lost_reported.update(lost)
        return [RoomNews(event=RoomEvent.SILENT, sensors=lost)]

    def _lost_long(self, now: datetime) -> tuple[str, ...]:
        if self._limits.lost is None:
            return ()
        return tuple(name for name, at in self._lost.items() if now >= at + self._limits.lost)
