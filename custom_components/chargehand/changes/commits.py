"""Changes of the schedule that users ask for: the only way from entities, actions and repairs to a commit.

Those asked for at one time take turns. Each goes by what holds when its turn comes: what is put back behind another change is what
that change has left as confirmed or as the schedule before.
"""

import asyncio
from collections.abc import Awaitable, Callable, Coroutine
from typing import Any

from ..core.order import Order
from ..core.registers import Control, Value
from ..core.schedule import (
    NOT_SAVED,
    ChangeRequest,
    Committed,
    Image,
    NotTaken,
    Receipt,
    Schedule,
    ScheduleRequest,
    Uncertain,
)
from ..messages import UNCERTAIN, activity_text, schedule_text, text, why_text
from .commit_fault import fault_text
from .drafts import Drafts, NoDraft
from .earlier_schedule import EarlierSchedule, NothingBefore
from .image_to_keep import image_to_keep
from .monitor import ScheduleMonitor
from .orders import Orders
from .shielded import shielded
from .status import ScheduleEvent, ScheduleStatus
from .wear import Wear

type Work = Callable[[], Awaitable[Committed]]
type Show = Callable[[Committed], None]


class OrderReplaced(Exception):
    """A later change of the schedule has taken the place of the order that this change is for. Nothing was sent."""


class Commits:
    """One inverter's. `by` is who asked, in words. `show` takes what is on the inverter after a commit.

    A change that is made for an order names it. Any other one replaces the order that is waiting. A whole schedule ends the draft.
    """

    def __init__(
        self, monitor: ScheduleMonitor, orders: Orders, drafts: Drafts, show: Show, *, may_write: bool
    ) -> None:
        """Write through the inverter that is watched, and count what that wears. `may_write`: whether control is allowed."""
        self._may_write = may_write
        self._monitor = monitor
        self._orders = orders
        self._drafts = drafts
        self._activity_log = monitor.activity_log
        self._inverter = monitor.inverter
        self._storage = monitor.storage
        self._show = show
        self._wear = Wear(monitor.storage, monitor.activity_log)
        self._asked_by: str | None = None
        """Who asked for the commit whose turn it is."""

        self._turn = asyncio.Lock()
        self._inverter.journal = self._storage
        self._inverter.writer.on_written = self._count_written
        self._inverter.on_step = monitor.commit_stages.take_step

    async def apply(self, request: ScheduleRequest, by: str, order: Order | None = None) -> Receipt:
        """Check and commit a schedule. Raises OrderReplaced, and as `Inverter.apply` does."""
        return await self._in_turn(self._whole, lambda: self._inverter.apply(request), by, order)

    async def apply_draft(self, by: str) -> Receipt:
        """Commit the draft as it is when its turn comes. Raises NoDraft, and as `Inverter.edit` does."""
        return await self._in_turn(self._apply_draft, by)

    async def change(self, change: ChangeRequest, by: str, order: Order | None = None, *, confirms: bool) -> Committed:
        """Commit a change of the inverter's schedule; the draft stays. Raises OrderReplaced, and as `Inverter.commit` does.

        `confirms`: whether a schedule that does not have to be changed is the wanted one then.
        """
        return await self._in_turn(self._committed, lambda: self._inverter.commit(change), by, order, confirms)

    async def restore(self, by: str) -> Receipt:
        """Put back what the inverter held before the last commit. Raises NothingBefore, and as `Inverter.apply` does."""
        return await self._in_turn(self._whole, lambda: self._put(*self._kept_previous()), by)

    async def put_back(self, by: str) -> Receipt:
        """Put back what was confirmed last and then changed elsewhere. Raises as `restore` does."""
        return await self._in_turn(self._counted_put_back, lambda: self._put(*self._kept_confirmed()), by)

    async def put_earlier(self, earlier: EarlierSchedule, by: str, order: Order) -> Receipt:
        """Put a schedule on the inverter that it held before. Raises OrderReplaced, and as `Inverter.apply` does."""
        put = self._counted_put_back if earlier.counts else self._whole
        return await self._in_turn(put, lambda: self._put(earlier.image, earlier.shift), by, order)

    def earlier(self, *, confirmed: bool) -> EarlierSchedule:
        """Return what `restore`, or `put_back` where it is the `confirmed` one, would put back now. Raises NothingBefore."""
        image, shift = self._kept_confirmed() if confirmed else self._kept_previous()
        return EarlierSchedule(image=image, shift=shift, counts=confirmed)

    async def put_confirmed(self, by: str) -> Receipt:
        """Put on the inverter what was confirmed last, at the house's times that it had then. Raises as `restore` does."""
        return await self._in_turn(self._whole, lambda: self._put(*self._kept_confirmed()), by)

    async def keep(self, by: str) -> Schedule:
        """Take what the inverter holds now for what is wanted, and return it. Raises as `image_to_keep` does."""
        async with self._turn:
            found = image_to_keep(self._inverter, self._storage, may_write=self._may_write)
            image = await shielded(self._activity_log.hass, found)
            kept = self._inverter.schedule_of(image)
            await self._monitor.confirm(image, by)
            await self._orders.replace(self._orders.order)
            await self._drafts.end()
        message = text("log_kept_found", holds=schedule_text(kept), by=by)
        self._activity_log.record(ScheduleEvent.CONFIRMED, message)
        return kept

    async def set_arming(self, control: Control, value: Value, by: str) -> Value:
        """Set a mode that arms among others; the wanted schedule is one with it then. Answers and raises as `Inverter.set_control`."""
        return await self._in_turn(self._set_arming, control, value, by)

    async def close(self) -> None:
        """Wait for the changes that were asked for and for all that is reported and kept of them, and begin no other."""
        async with self._turn:
            await self._inverter.close()

    def _kept_previous(self) -> tuple[Image, int | None]:
        if self._storage.previous is None:
            raise NothingBefore("nothing_before")
        return self._storage.previous, self._storage.previous_shift

    def _kept_confirmed(self) -> tuple[Image, int | None]:
        if self._storage.confirmed is None:
            raise NothingBefore("nothing_confirmed")
        return self._storage.confirmed, self._storage.confirmed_shift

    def _put(self, image: Image, shift: int | None) -> Awaitable[Committed]:
        """Commit an image that this inverter held before; since a change of summer time, what it was in the house's time."""
        if shift is None or shift == self._inverter.shift():
            return self._inverter.put_image(image)
        schedule = self._inverter.schedule_of(image, shift)
        return self._inverter.edit(lambda _held: schedule)

    async def _set_arming(self, control: Control, value: Value, by: str) -> Value:
        await self._settle()
        try:
            shown, held = await self._inverter.write_control(control.key, value)
        except Uncertain:
            await self._monitor.arms_perhaps(control, value, by)
            await self._orders.replace(self._orders.order)
            raise
        await self._monitor.arms(held, by)
        await self._orders.replace(self._orders.order)
        return shown

    async def _counted_put_back(self, work: Work, by: str, order: Order | None = None) -> Receipt:
        try:
            receipt = await self._whole(work, by, order)
        except NotTaken, Uncertain:
            await self._count_put_back()
            raise
        if receipt.registers_written:
            await self._count_put_back()
        return receipt

    async def _in_turn[*Given, Result](
        self, work: Callable[[*Given], Coroutine[Any, Any, Result]], *given: *Given
    ) -> Result:
        """Begin when what was asked for before has ended, and bring it to its end: no half of a schedule is left."""
        async with self._turn:
            return await shielded(self._activity_log.hass, work(*given))

    async def _whole(self, work: Work, by: str, order: Order | None = None) -> Receipt:
        done = await self._committed(work, by, order)
        await self._drafts.end()
        return done.receipt

    async def _apply_draft(self, by: str) -> Receipt:
        if (draft := self._drafts.draft) is None:
            raise NoDraft
        done = await self._committed(lambda: self._inverter.edit(draft.upon), by)
        await self._drafts.committed(draft, done.schedule)
        return done.receipt

    async def _committed(self, work: Work, by: str, order: Order | None = None, confirms: bool = True) -> Committed:
        if order is not None and not self._orders.stands(order):
            raise OrderReplaced
        self._asked_by, earlier = by, self._orders.order if order is None else None
        self._monitor.commit_stages.begin()
        try:
            done = await self._proven(work, by, confirms)
        except Exception as fault:
            self._monitor.commit_stages.failed(fault_text(self._inverter, fault))
            if isinstance(fault, Uncertain):
                await self._orders.replace(earlier)
            raise
        else:
            await self._orders.replace(earlier)
            return done
        finally:
            self._asked_by = None
            self._monitor.end()

    async def _proven(self, work: Work, by: str, confirms: bool) -> Committed:
        await self._settle()
        try:
            done = await work()
        except NotTaken as fault:
            await self._monitor.stays(fault.image, by)
            self._monitor.end()
            why = why_text(self._inverter.line, fault.why)
            self._activity_log.record(ScheduleEvent.RESTORED, text("log_not_taken", reason=why, by=by))
            raise
        except Uncertain as fault:
            why = why_text(self._inverter.line, fault.why)
            self._monitor.stand(ScheduleStatus.UNCONFIRMED, by, why)
            key = "log_not_saved" if fault.why == NOT_SAVED else "log_uncertain"
            self._activity_log.record(ScheduleEvent.UNCERTAIN, text(key, reason=why, by=by))
            self._activity_log.raise_issue(UNCERTAIN, reason=why)
            raise
        changed = done.receipt.registers_written > 0
        self._show(done)
        became = activity_text(self._inverter.schedule_of(done.before), done.schedule) if changed else None
        if changed or confirms or done.receipt.saved or self._storage.unfinished is not None:
            before = done.before if changed else None
            await self._monitor.confirm(done.image, by, before, shift=done.shift, what=became)
        if became is not None:
            key = "log_new_schedule_saved" if done.receipt.saved else "log_new_schedule"
            message = text(key, changes=became, seconds=f"{done.receipt.seconds:.1f}", by=by)
            self._activity_log.record(ScheduleEvent.CONFIRMED, message, done.receipt.changes)
            self._wear.count_commit(by)
        self._monitor.commit_stages.confirmed(done.receipt.seconds, became, saved=done.receipt.saved)
        return done

    async def _settle(self) -> None:
        """Tell what an earlier change has come to before another begins."""
        if self._storage.unfinished is not None and not self._inverter.changing:
            await self._monitor.settle(may_write=True, again_after=0)

    def _count_written(self, registers: int) -> None:
        if self._asked_by is not None:
            self._monitor.begin(self._asked_by)
        self._wear.count_written(registers)

    async def _count_put_back(self) -> None:
        await self._wear.count_put_back()
        self._monitor.changed()
