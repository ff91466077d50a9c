"""The journal of a commit: written down before the first write, so that a crash leaves no question open."""

from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from enum import StrEnum
from functools import reduce
from operator import and_
from types import MappingProxyType
from typing import Protocol

from ..registers import Address, SchedulePoints, Table, WritesAround
from .image import Image, Masks, holds, masks_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """A commit that was begun: where from, where to, and the images it passes through."""

    before: Image
    after: Image
    between: tuple[Image, ...] = ()
    shift: int | None = None
    """Minutes that the inverter's clock was meant to be ahead of the house's then; None: not known."""

    owes: tuple[tuple[int, int], ...] = ()
    """What has to be written after it, holding registers and values: until then neither image is proven to be what the inverter acts on."""

    @property
    def replaced(self) -> Image | None:
        """The image before, where the commit was to change it and not only to save it."""
        return None if self.before == self.after else self.before

    def as_dict(self) -> dict[str, object]:
        """Return the same for a JSON file."""
        return {
            "before": image_as_list(self.before),
            "after": image_as_list(self.after),
            "between": [image_as_list(image) for image in self.between],
            "shift": self.shift,
            "owes": [list(write) for write in self.owes],
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, object]) -> Entry:
        """From what `as_dict` made. Raises KeyError, TypeError or ValueError when it is something else."""
        between, shift, owes = data["between"], data.get("shift"), data["owes"]
        if not isinstance(between, list) or not isinstance(owes, list):
            raise TypeError("between and owes are no lists")
        if not isinstance(shift, int | None):
            raise TypeError("shift is no number of minutes")
        return cls(
            before=image_from_list(data["before"]),
            after=image_from_list(data["after"]),
            between=tuple(image_from_list(image) for image in between),
            shift=shift,
            owes=tuple((int(register), int(value)) for register, value in owes),
        )


def owed(around: WritesAround) -> tuple[tuple[int, int], ...]:
    """Return what a commit owes that has these writes around it, as its entry keeps it."""
    return tuple((write.register, write.value) for write in around.after)


class NoJournal(Exception):
    """The entry could not be put on disk. Nothing was sent: a commit that is cut off could not be mended without it."""


class Journal(Protocol):
    """Where a commit's entry is kept. What `write` took is on disk when it returns."""

    @property
    def unfinished(self) -> Entry | None:
        """The entry that was written and not cleared."""

    async def write(self, entry: Entry) -> None:
        """Keep the entry. Raises NoJournal; what was kept before is kept then."""

    async def clear(self) -> None:
        """Forget it: one of its images is proven."""


class Verdict(StrEnum):
    """What an image says about an unfinished commit."""

    AFTER = "after"
    """All of the new schedule is there."""

    BEFORE = "before"
    """All of the earlier schedule is there."""

    MIXTURE = "mixture"
    """Nothing but what the commit itself writes: it was cut off halfway."""

    UNSAVED = "unsaved"
    """All of one of them is there, but it is not proven that it was saved."""

    FOREIGN = "foreign"
    """Something that the commit never writes: somebody has changed the schedule since."""


def judge(entry: Entry, image: Image, masks: Masks = MappingProxyType({})) -> Verdict:
    """Return what an image, just read, says about an unfinished commit; never UNSAVED, which cannot be read.

    `masks`: bits that are the schedule's in shared registers.
    """
    if holds(image, entry.after, masks):
        return Verdict.AFTER
    if holds(image, entry.before, masks):
        return Verdict.BEFORE
    written = (entry.before, entry.after, *entry.between)

    def is_ours(address: Address, value: int) -> bool:
        others = [(value ^ one.get(address, ~value)) & masks.get(address, 0xFFFF) for one in written]
        # Each bit of a shared register is a setting of its own, and the way back may pass through other ones than the way there.
        return reduce(and_, others) == 0 if address in masks else 0 in others

    ours = all(is_ours(address, value) for address, value in image.items())
    return Verdict.MIXTURE if ours and image.keys() == entry.before.keys() else Verdict.FOREIGN


def arrived(entry: Entry, image: Image, points: SchedulePoints) -> Verdict:
    """Tell what of an unfinished commit is in an image that it alone does not explain: all of it (AFTER), nothing (BEFORE), or some (MIXTURE).

    An inverter may make something else of what is written to it, also of what is put back. So it is some as well where all registers of
    the commit, and no others, hold what nobody asked for; and where only limits do that the commit may have written.
    """
    masks = masks_of(points)

    def same(address: Address, one: Image, other: Image) -> bool:
        return (one[address] ^ other[address]) & masks.get(address, 0xFFFF) == 0

    steps = (*entry.between, entry.after)
    both = entry.before.keys() & entry.after.keys() & image.keys()
    own = {at for at in both if not all(same(at, step, entry.before) for step in steps if at in step)}
    if all(same(at, image, entry.after) for at in own):
        # Nothing tells that it was saved before something else was changed.
        return Verdict.MIXTURE if entry.owes else Verdict.AFTER
    changed = {at for at in both if not same(at, image, entry.before)}
    if any(same(at, image, step) for at in own & changed for step in steps if at in step):
        return Verdict.MIXTURE
    return Verdict.MIXTURE if changed == own or changed <= _limits_beside(own, points) else Verdict.BEFORE


def _limits_beside(own: AbstractSet[Address], points: SchedulePoints) -> set[Address]:
    """Return the limits that frames with these registers may carry: those of the same windows, and those in between."""
    first, last = min(own), max(own)
    return {
        at
        for window in (*points.charge, *points.discharge)
        for limit in (window.current, window.power, window.stop_level)
        for at in (() if limit is None else limit.point.addresses)
        if first <= at <= last or not own.isdisjoint(window.addresses)
    }


def image_as_list(image: Image) -> list[list[str | int]]:
    """Return an image for a JSON file: table, address, value."""
    return [[str(table), address, value] for (table, address), value in image.items()]


def image_from_list(data: object) -> Image:
    """From what `image_as_list` made. Raises TypeError or ValueError when it is something else."""
    if not isinstance(data, Iterable):
        raise TypeError("an image is a list")
    image: dict[Address, int] = {}
    for table, address, value in data:
        image[Table(table), int(address)] = int(value)
    return image
