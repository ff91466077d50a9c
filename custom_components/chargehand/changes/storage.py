"""What has to outlive a restart: the commit that is under way, the schedules before it, and the wear of registers."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Any

from ..core.schedule import Entry, Image, NoJournal, image_as_list, image_from_list
from ..store import Section

WRITE_DELAY = 30
"""Seconds until counts are written to disk; what a commit needs is written at once."""

CLEAR_DELAY = 1
"""Seconds until a commit that is over is forgotten on disk too, where nothing else is written before."""


def _kept[Kept](build: Callable[[Any], Kept], data: object) -> Kept | None:
    """Return what was kept; None when there is nothing, or nothing that can be understood."""
    with suppress(AttributeError, KeyError, TypeError, ValueError):
        return None if data is None else build(data)
    return None


class Storage:
    """What is kept of an inverter's changes. It is the commit's journal too."""

    def __init__(self, section: Section) -> None:
        """Read what was kept. What cannot be understood any more is left behind, and the rest stays: half a schedule is not forgotten."""
        self._section = section
        self.unfinished: Entry | None = None
        """A commit that was begun and neither proven nor taken back."""

        self.confirmed: Image | None = None
        """What the inverter was last proven to hold at a user's wish."""

        self.confirmed_shift: int | None = None
        """Minutes that the inverter's clock was meant to be ahead of the house's then: what the image was in the house's time."""

        self.unproven: Image | None = None
        """What the inverter holds since a change that failed, where nothing proves that it is to; None: nothing of that kind."""

        self.previous: Image | None = None
        """What it held before the last commit that changed something."""

        self.previous_shift: int | None = None
        """The same for that image."""

        self.registers_written = 0
        self.registers_written_today = 0
        self.commits_today = 0
        self.put_backs_today = 0
        self.day: str | None = None
        """The house's date that the three counts above are of."""

        self.clock_set_on: str | None = None
        """The house's date when the clock was last set by itself."""

        self._read(section.found)
        section.keep(self._data)

    def _read(self, data: Mapping[str, Any]) -> None:
        self.unfinished = _kept(Entry.from_dict, data.get("unfinished"))
        self.confirmed = _kept(image_from_list, data.get("confirmed"))
        self.unproven = _kept(image_from_list, data.get("unproven"))
        self.previous = _kept(image_from_list, data.get("previous"))
        self.confirmed_shift = data.get("confirmed_shift")
        self.previous_shift = data.get("previous_shift")
        with suppress(AttributeError, TypeError, ValueError):
            counts: Mapping[str, Any] = data.get("wear", {})
            self.registers_written = int(counts.get("registers", 0))
            self.registers_written_today = int(counts.get("registers_today", 0))
            self.commits_today = int(counts.get("commits_today", 0))
            self.put_backs_today = int(counts.get("put_backs_today", 0))
            self.day = counts.get("day")
        self.clock_set_on = data.get("clock_set_on")

    async def write(self, entry: Entry) -> None:
        """Keep a commit that is about to begin; it is on disk when this returns. Raises NoJournal."""
        earlier, self.unfinished = self.unfinished, entry
        await self._section.write_now()
        if await self._on_disk() != entry:
            self.unfinished = earlier
            # What waits to be written must not mention this commit, which was not begun.
            self._section.write_soon(WRITE_DELAY)
            raise NoJournal

    async def clear(self) -> None:
        """Forget the commit: one of its images is proven. On disk it stays until that is, or for a moment: it would be proven again."""
        self.unfinished = None
        self._section.write_soon(CLEAR_DELAY)

    async def confirm(self, image: Image, previous: Image | None = None, *, shift: int) -> None:
        """Keep what was proven, and what was there before when it is another; `shift` is what turns them into the house's time."""
        self.unfinished = self.unproven = None
        self.confirmed, self.confirmed_shift = image, shift
        if previous is not None:
            self.previous, self.previous_shift = previous, shift
        await self._section.write_now()

    def widen(self, image: Image) -> None:
        """Keep with what was proven what the inverter holds in registers that the map did not name then."""
        self.confirmed = {**image, **(self.confirmed or {})}
        self._section.write_soon(WRITE_DELAY)

    def doubt(self, image: Image | None) -> None:
        """Keep what the inverter holds and nothing proves; None once it is known again."""
        if image != self.unproven:
            self.unproven = image
            self._section.write_soon(CLEAR_DELAY)

    def count(self, day: str, *, registers: int = 0, commits: int = 0) -> None:
        """Add to the wear of a day (the house's date)."""
        if day != self.day:
            self.day, self.registers_written_today, self.commits_today, self.put_backs_today = day, 0, 0, 0
        self.registers_written += registers
        self.registers_written_today += registers
        self.commits_today += commits
        self._section.write_soon(WRITE_DELAY)

    def written_on(self, day: str) -> int:
        """Return registers written on a day (the house's date), as far as it is the last one counted."""
        return self.registers_written_today if day == self.day else 0

    async def was_put_back(self, day: str) -> None:
        """Remember that what another hand had changed was put back on a day (the house's date)."""
        self.count(day)
        self.put_backs_today += 1
        await self._section.write_now()

    def put_back_on(self, day: str) -> int:
        """How often what another hand had changed was put back on a day (the house's date), as far as it is the last one counted."""
        return self.put_backs_today if day == self.day else 0

    async def clock_was_set(self, day: str) -> None:
        """Remember that the clock was set by itself on a day (the house's date)."""
        self.clock_set_on = day
        await self._section.write_now()

    async def _on_disk(self) -> Entry | None:
        """Return the unfinished commit as a start would read it: the store itself only logs what a full or failing disk does not take."""
        return _kept(Entry.from_dict, (await self._section.on_disk()).get("unfinished"))

    def _data(self) -> dict[str, Any]:
        return {
            "unfinished": None if self.unfinished is None else self.unfinished.as_dict(),
            "confirmed": None if self.confirmed is None else image_as_list(self.confirmed),
            "confirmed_shift": self.confirmed_shift,
            "unproven": None if self.unproven is None else image_as_list(self.unproven),
            "previous": None if self.previous is None else image_as_list(self.previous),
            "previous_shift": self.previous_shift,
            "wear": {
                "registers": self.registers_written,
                "registers_today": self.registers_written_today,
                "commits_today": self.commits_today,
                "put_backs_today": self.put_backs_today,
                "day": self.day,
            },
            "clock_set_on": self.clock_set_on,
        }
