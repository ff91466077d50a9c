"""What is known of the schedule on an inverter: confirmed, changed elsewhere, or not proven."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace

from homeassistant.core import callback
from homeassistant.util import dt as dt_util

from ..core.inverter import Inverter
from ..core.modbus import LineError
from ..core.registers import Control, Value
from ..core.schedule import Entry, Image, NoJournal, Verdict, changes, owed
from ..messages import CHANGED, SUMMER_TIME, UNCERTAIN, activity_text, changes_text, foreign_text, schedule_text, text
from .activity_log import ActivityLog
from .commit_stage import CommitStages
from .status import DOUBTS, Failure, ScheduleEvent, ScheduleState, ScheduleStatus
from .storage import Storage
from .summer_time import name_summer_time


class ScheduleMonitor:
    """One inverter's schedule, as polls and commits have left it. `changed` is called when what it knows is another."""

    def __init__(
        self, activity_log: ActivityLog, inverter: Inverter, storage: Storage, changed: Callable[[], None]
    ) -> None:
        """Know what is kept of earlier, and nothing of what the inverter holds now."""
        never = storage.confirmed is None and storage.unfinished is None
        self.state = ScheduleState(status=ScheduleStatus.NEVER_CONFIRMED if never else ScheduleStatus.UNCONFIRMED)
        self.last_failure: Failure | None = None
        """Of the changes asked for since one was last confirmed."""

        self.commit_stages = CommitStages()
        self.activity_log = activity_log
        self.inverter = inverter
        self.storage = storage
        self.changed = changed
        self.elsewhere: Image | None = None
        """What another hand has made of the schedule, once it was recorded."""

        self.hand: str | None = None
        """Whose hand has just changed the schedule, in words, until it has been compared; None: nobody is known."""

        self._doubted: Image | None = None
        """What a change of our own that could not be proven has come to, where that is neither of its two schedules."""

        self._at_work: ScheduleState | None = None
        self._put_back_due = 0.0

    @property
    def shown(self) -> ScheduleState:
        """The status of the schedule, or that a change of it is at work."""
        return self._at_work or self.state

    # ---- at polls

    def compare(self, image: Image) -> None:
        """Notice when the schedule is no longer the one that was confirmed, and when it is again."""
        hand, self.hand = self.hand, None
        confirmed = self.storage.confirmed
        if confirmed is None:
            return
        if self.inverter.same(image, confirmed):
            self.elsewhere = self._doubted = None
            self.storage.doubt(None)
            if not image.keys() <= confirmed.keys():
                # Windows that the map has gained are watched from now on as well.
                self.storage.widen(image)
            if self.state.status is not ScheduleStatus.CONFIRMED:
                again = self.state.since is not None
                self.stand(ScheduleStatus.CONFIRMED, text("by_read_back"))
                if again:
                    self._record(ScheduleEvent.CONFIRMED, "log_confirmed_again", image)
            # Also where the status became so by a change that was settled or restored meanwhile.
            self.activity_log.clear_issues(CHANGED, UNCERTAIN)
            name_summer_time(self.activity_log, self.inverter, self.storage)
        elif self.storage.unproven is not None and self.inverter.same(image, self.storage.unproven):
            self._doubt(text("by_read_back"), self._unproven(image))
        elif self.elsewhere is None or not self.inverter.same(image, self.elsewhere):
            self._record_changed(confirmed, image, hand)

    async def settle(self, *, may_write: bool, again_after: float) -> None:
        """Decide a commit that could not be proven, or that a crash cut off. Without permission to write, only what is proven counts.

        Putting back wears the registers: where it does not succeed, it is tried again `again_after` s later.
        """
        unfinished = self.storage.unfinished
        now = self.activity_log.hass.loop.time()
        due = now >= self._put_back_due
        try:
            settled = (
                None if unfinished is None else await self.inverter.settle(unfinished, may_write=may_write and due)
            )
        except LineError:
            return
        if unfinished is None or settled is None:
            return
        verdict, image = settled
        came_to = self.inverter.arrived(unfinished, image) if verdict is Verdict.FOREIGN else verdict
        if verdict is Verdict.FOREIGN and came_to is Verdict.MIXTURE and not self._is_confirmed(image):
            # Not what the commit itself writes, and yet not another hand's for sure: it is recorded, and not undone unasked.
            self._doubted = image
            self._doubt(text("by_unfinished"), self._unproven(image))
            return
        if (doubt := DOUBTS.get(verdict)) is not None:
            if due:
                self._put_back_due = now + again_after
            self._doubt(text("by_unfinished"), text(doubt))
            return
        self.activity_log.clear_issues(UNCERTAIN)
        if verdict is Verdict.FOREIGN:
            if came_to is Verdict.AFTER:
                await self._keep(unfinished.after, unfinished.before, unfinished.shift)
            elif self.storage.confirmed is None:
                await self._keep(unfinished.before, shift=unfinished.shift)
            await self.storage.clear()
            self.elsewhere = None
            self.compare(image)
        elif verdict is Verdict.AFTER:
            await self._keep(image, unfinished.replaced, unfinished.shift)
            self.last_failure = None
            self.stand(ScheduleStatus.CONFIRMED, text("by_unfinished"))
            self._record(ScheduleEvent.CONFIRMED, "log_new_after_all", image)
        else:
            await self.stays(image, text("by_unfinished"), unfinished.shift)
            self._record(ScheduleEvent.RESTORED, "log_earlier_again", image)

    # ---- while a commit is at work

    @callback
    def begin(self, by: str) -> None:
        """Take note that a change of the schedule has begun to write."""
        if self._at_work is None:
            self._at_work = ScheduleState(status=ScheduleStatus.CHANGING, since=dt_util.utcnow(), by=by)
            self.changed()

    @callback
    def end(self) -> None:
        """Take note that it is over; what has come of it is known, or as before."""
        if self._at_work is not None:
            self._at_work = None
            self.changed()

    # ---- after commits

    async def confirm(
        self, image: Image, by: str, previous: Image | None = None, *, shift: int | None = None, what: str | None = None
    ) -> None:
        """Keep what was read back as wanted; `previous` was there before, when it is another. All issues are settled.

        `what` is what has changed, in words. `shift` is the inverter's against the house's clock by which it was made; None: today's.
        """
        await self._keep(image, previous, shift)
        self.elsewhere = self._doubted = None
        self.last_failure = None
        self.stand(ScheduleStatus.CONFIRMED, by, what)
        self.activity_log.clear_issues(UNCERTAIN, CHANGED, SUMMER_TIME)

    async def arms(self, set_to: Image, by: str) -> None:
        """Take note that a mode that arms among others was set: the confirmed schedule is one with it. What another hand has changed besides stays an issue.

        `set_to` is what was read back of it.
        """
        confirmed = self.storage.confirmed
        if self.storage.unfinished is not None or confirmed is None or not confirmed.keys() & set_to.keys():
            return
        await self._keep({**confirmed, **set_to}, shift=self.storage.confirmed_shift)
        if self.elsewhere is not None:
            self.elsewhere = {**self.elsewhere, **set_to}
        if self.state.status is ScheduleStatus.CONFIRMED:
            self.stand(ScheduleStatus.CONFIRMED, by)

    async def arms_perhaps(self, control: Control, value: Value, by: str) -> None:
        """Take note of such a mode whose setting could not be proven: the next poll decides, as for a commit."""
        confirmed = self.storage.confirmed
        if self.state.status is not ScheduleStatus.CONFIRMED or confirmed is None:
            return
        # Where it cannot be kept, the next poll records it all the same, if for another hand's.
        with suppress(NoJournal):
            after = {**confirmed, **control.encode(value, confirmed)}
            shift, owes = self.storage.confirmed_shift, owed(control.around)
            await self.storage.write(Entry(before=confirmed, after=after, shift=shift, owes=owes))
        self.stand(ScheduleStatus.UNCONFIRMED, by)

    async def stays(self, image: Image, by: str, shift: int | None = None) -> None:
        """Take note of a change that did not take: what is there again is confirmed, unless another hand had put it there."""
        confirmed = self.storage.confirmed
        await self.storage.clear()
        if self._doubted is not None and self.inverter.same(image, self._doubted):
            # What an earlier change of our own has come to, still: no other hand's.
            self.storage.doubt(image)
            return
        self.activity_log.clear_issues(UNCERTAIN)
        if confirmed is None:
            await self._keep(image, shift=shift)
        if confirmed is None or self.inverter.same(image, confirmed):
            self.stand(ScheduleStatus.CONFIRMED, by)
            return
        if self.state.status is not ScheduleStatus.CHANGED_ELSEWHERE:
            # Not recorded yet; the next poll does.
            self.elsewhere = None

    @callback
    def stand(self, status: ScheduleStatus, by: str, what: str | None = None) -> None:
        """Take a status, by what it came about, and what that was, in words."""
        self._at_work = None
        self.commit_stages.leave()
        self.state = ScheduleState(status=status, since=dt_util.utcnow(), by=by, what=what)
        self.changed()

    @callback
    def take_failure(self, failure: Failure) -> None:
        """Show why a change of the schedule was refused or failed."""
        self.last_failure = failure
        self.changed()

    # ---- inside

    async def _keep(self, image: Image, previous: Image | None = None, shift: int | None = None) -> None:
        await self.storage.confirm(image, previous, shift=self.inverter.shift() if shift is None else shift)

    def _is_confirmed(self, image: Image) -> bool:
        return self.storage.confirmed is not None and self.inverter.same(image, self.storage.confirmed)

    def _doubt(self, by: str, reason: str) -> None:
        """Take note that nothing proves what the inverter is to hold; that stands until it is proven."""
        if self.state.status is not ScheduleStatus.UNCONFIRMED or self.state.since is None:
            self.stand(ScheduleStatus.UNCONFIRMED, by, reason)
        elif self.state.what != reason:
            self.state = replace(self.state, what=reason)
            self.changed()
        self.activity_log.raise_issue(UNCERTAIN, reason=reason)

    def _unproven(self, image: Image) -> str:
        return text("doubt_neither", holds=schedule_text(self.inverter.schedule_of(image)))

    def _record_changed(self, confirmed: Image, image: Image, hand: str | None) -> None:
        self.elsewhere, self._doubted = image, None
        self.inverter.forget_saved()
        self.storage.doubt(None)
        self.activity_log.clear_issues(UNCERTAIN)
        was, now = self.inverter.before_and_after(confirmed, image)
        found, what = changes(was, now), activity_text(was, now)
        self.stand(ScheduleStatus.CHANGED_ELSEWHERE, hand or text("by_elsewhere"), what)
        self.activity_log.record(ScheduleEvent.CHANGED_ELSEWHERE, foreign_text(what, hand), found)
        self.activity_log.raise_issue(CHANGED, changes=changes_text(found))

    def _record(self, event: ScheduleEvent, key: str, image: Image) -> None:
        self.activity_log.record(event, text(key, holds=schedule_text(self.inverter.schedule_of(image))))
