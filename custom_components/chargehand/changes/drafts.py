"""The draft of an inverter's schedule: what is edited on the dashboard, until it is applied as one commit or dropped."""

import asyncio
from collections.abc import Callable, Coroutine
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from homeassistant.core import HomeAssistant, callback
from homeassistant.util import dt as dt_util

from ..core.registers import SchedulePoints
from ..core.schedule import Adjustment, Draft, Place, Schedule, ScheduleRequest, Settings
from ..store import Section
from .deadline import Deadline
from .draft_store import DraftStore, KeptDraft


class NoDraft(Exception):
    """There is no draft to apply. Nothing was sent."""


class Drafts:
    """One inverter's draft. `changed` is called when there is something else to show."""

    def __init__(
        self, hass: HomeAssistant, section: Section, points: SchedulePoints | None, changed: Callable[[], None]
    ) -> None:
        """Restore the draft kept from the last run, unless the map has other windows now."""
        self._hass = hass
        self._store = DraftStore(section)
        kept = self._store.kept
        self.kept = kept if kept is not None and points is not None and kept.draft.fits(points) else None
        self._changed = changed
        self._apply: Callable[[str], Coroutine[Any, Any, None]] | None = None
        self._pause: timedelta | None = None
        self._deadline = Deadline(hass, self._pause_is_over)
        self._applying = set[asyncio.Task[None]]()

    @property
    def draft(self) -> Draft | None:
        """The draft; None while there is none."""
        return None if self.kept is None else self.kept.draft

    def shown(self, held: Schedule | None) -> Schedule | None:
        """Return the schedule that is shown for editing, of the one that the inverter holds."""
        return held if held is None or self.draft is None else self.draft.upon(held)

    def has(self, place: Place) -> bool:
        """Return whether a window was edited."""
        return self.draft is not None and place in self.draft.windows

    async def start(
        self, apply: Callable[[str], Coroutine[Any, Any, None]], pause: timedelta | None, held: Schedule | None
    ) -> None:
        """Apply drafts by themselves from now on, so long after an edit; None: only when somebody asks for it.

        `apply` takes who edited last, and raises nothing. A draft that was waiting at the end of the last run gets the whole pause again.
        """
        self._apply, self._pause = apply, pause
        await self.found(held)
        if self.kept is not None and self.kept.due is not None:
            await self._put(replace(self.kept, due=self._due()))

    async def close(self) -> None:
        """Apply nothing by itself any more; what is being applied ends first."""
        self._apply = None
        self._deadline.set(None)
        if self._applying:
            await asyncio.wait(self._applying)

    # ---- what becomes of it

    async def edit(
        self, points: SchedulePoints, held: Schedule, place: Place, settings: Settings, by: str, *, shift: int
    ) -> None:
        """Change one window of the draft. Raises Rejected."""
        draft = (self.draft or Draft(base=held)).edited(points, held, place, settings, shift=shift)
        await self._edited(draft, by)

    async def lay_out(
        self,
        points: SchedulePoints,
        held: Schedule,
        request: ScheduleRequest,
        by: str,
        *,
        shift: int,
        voltage: float | None,
    ) -> tuple[Adjustment, ...]:
        """Make whole sides of the draft what was typed, and return what was adjusted for that. Raises Rejected."""
        before = self.draft or Draft(base=held)
        draft, adjusted = before.laid_out(points, held, request, shift=shift, voltage=voltage)
        await self._edited(draft, by)
        return adjusted

    async def _edited(self, draft: Draft, by: str) -> None:
        if not draft.windows:
            await self._put(None)
            return
        since = dt_util.utcnow() if self.kept is None else self.kept.since
        await self._put(KeptDraft(draft=draft, by=by, since=since, due=self._due()))

    async def end(self) -> None:
        """Drop it: somebody asks for that, or another whole schedule has taken its place."""
        if self.kept is not None:
            await self._put(None)

    async def committed(self, draft: Draft, held: Schedule) -> None:
        """End the draft that is on the inverter now; of one that was edited meanwhile the rest stays."""
        if self.kept is None:
            return
        rest = None if self.draft is draft else self.kept.draft.since(held)
        await self._put(replace(self.kept, draft=rest) if rest is not None and rest.windows else None)

    async def failed(self, why: str) -> None:
        """Keep the draft, and why it could not be applied."""
        if self.kept is not None:
            await self._put(replace(self.kept, why=why))

    async def found(self, held: Schedule | None) -> None:
        """End a draft that the inverter is found to hold: applying it was cut off, or could not be proven at first."""
        if held is not None and self.draft is not None and self.draft.upon(held) == held:
            await self._put(None)

    async def _put(self, kept: KeptDraft | None) -> None:
        self.kept = kept
        self._deadline.set(None if kept is None or self._apply is None else kept.due)
        self._changed()
        await self._store.save(kept)

    # ---- applying it by itself

    def _due(self) -> datetime | None:
        return None if self._pause is None else dt_util.utcnow() + self._pause

    @callback
    def _pause_is_over(self) -> None:
        if self._apply is None or self.kept is None:
            return
        # Once only: a draft that is refused waits for its user.
        self.kept = replace(self.kept, due=None)
        task = self._hass.async_create_task(self._apply(self.kept.by), "a draft is applied after a pause")
        self._applying.add(task)
        task.add_done_callback(self._applying.discard)
