"""Orders: changes of the schedule that are tried again until they are on the inverter, or until their time is over.

An order is on disk before its first attempt. It is taken up again at the first poll that succeeds, not after a fixed wait. Attempts that
may have written are spaced out, since writing wears the registers, and so are those that the battery's state forbids, which passes slowly.
Those that only failed to read are not.
"""

import asyncio
import logging
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from typing import Any

from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.util import dt as dt_util

from ..const import DOMAIN
from ..core.attempt_spacing import AttemptSpacing, next_try
from ..core.order import Order, OrderState, goes_on
from ..messages import TRIES_REPORTED
from ..store import Section
from .deadline import Deadline
from .order_store import OrderStore
from .shielded import shielded

_LOGGER = logging.getLogger(__name__)

type Answer = dict[str, Any]


@dataclass(frozen=True, kw_only=True, slots=True)
class OrderWork:
    """What `Orders` needs of the rest: all that knows the inverter and its users."""

    carry_out: Callable[[Order], Coroutine[Any, Any, Answer]]
    """Make one attempt and return the action's answer. Raises HomeAssistantError."""

    may_come_true: Callable[[HomeAssistantError], bool]
    """Whether what failed so may succeed later."""

    takes_time: Callable[[HomeAssistantError], bool]
    """Whether the next attempt has to wait: after one that may have written, or while the battery's state forbids it."""

    needs_house: Callable[[HomeAssistantError], bool]
    """Whether the house keeps the order waiting, not the inverter: its prices are missing, for example."""

    report: Callable[[OrderState, Order], None]
    """Report that an order still waits after `TRIES_REPORTED` tries, or how one ended that nobody was waiting for any more."""

    poll: Callable[[], Coroutine[Any, Any, None]]
    """Bring the next poll forward."""


class Orders:
    """One inverter's orders, one at a time. `changed` is called when there is something else to show."""

    def __init__(self, hass: HomeAssistant, section: Section, changed: Callable[[], None]) -> None:
        """Restore the order kept from the last run."""
        self._hass = hass
        self._store = OrderStore(section)
        self.state = self._store.state
        self.order = self._store.order
        self._changed = changed
        self._work: OrderWork | None = None
        self._attempts = dict[asyncio.Task[Any], Order]()
        """What is at work now."""

        self._closing = False
        self._deadline = Deadline(hass, self.expire)
        self._spacing = AttemptSpacing()

    @callback
    def start(self, work: OrderWork) -> None:
        """Work on orders from now on; one whose time is over already expires."""
        self._work = work
        self._set_timer()

    async def close(self) -> None:
        """Begin no other attempt. One that is at work ends first; what it leaves waiting is taken up by the next start."""
        self._closing = True
        self._deadline.set(None)
        if self._attempts:
            await asyncio.wait(self._attempts)
        self._work = None

    def stands(self, order: Order) -> bool:
        """Return whether an order is the one that counts: neither replaced nor over."""
        return self.order is order and self.state is OrderState.WAITING

    # ---- giving one

    async def give(self, order: Order) -> Answer:
        """Undertake an order in place of an earlier one, and return what its first attempt answers.

        Where that failed and may yet succeed, the answer is `outcome: waiting` and `why`. Raises what cannot come true; an earlier order then goes on.
        """
        return await shielded(self._hass, self._at_work(order, self._give(order)))

    async def _give(self, order: Order) -> Answer:
        earlier = self.state, self.order
        await self._put(OrderState.WAITING, order)
        try:
            answer = await self._attempt(order)
        except HomeAssistantError as fault:
            became = self._becomes(order, fault)
            order.over = became is not OrderState.WAITING
            if not self.stands(order):
                raise
            if became is OrderState.WAITING:
                await self._wait(order, fault)
                self._poll_soon()
                return {"outcome": str(became), "why": order.why, "until": order.until.isoformat()}
            if earlier[0] is OrderState.WAITING and goes_on(earlier[1], order):
                await self._put(*earlier)
            else:
                await self._end(became, order, str(fault))
            raise
        order.over = True
        if self.stands(order):
            await self._end(OrderState.DONE, order, None)
        return answer

    # ---- trying again

    @callback
    def take_up(self) -> None:
        """Try a waiting order again: the inverter has just answered a poll."""
        order = self.order
        if self._closing or order is None or not self.stands(order) or order in self._attempts.values():
            return
        now = dt_util.utcnow()
        if self._spacing.allows(now) and now < order.until:
            self._hass.async_create_task(self._at_work(order, self._try_again(order)), "an order is tried again")

    @callback
    def count_silence(self) -> None:
        """Count a try of a waiting order that is due, and that the inverter has not answered: a poll has just failed."""
        order = self.order
        if self._closing or order is None or not self.stands(order) or order in self._attempts.values():
            return
        if next_try(order.since, order.tries) <= dt_util.utcnow() < order.until:
            self._hass.async_create_task(self._count(order), "an order has waited for one more try")

    async def _try_again(self, order: Order) -> None:
        try:
            await self._attempt(order)
        except HomeAssistantError as fault:
            became = self._becomes(order, fault)
            order.over = became is not OrderState.WAITING
            if not self.stands(order):
                return
            if became is OrderState.WAITING:
                await self._wait(order, fault)
            else:
                await self._end(became, order, str(fault), report=True)
        else:
            order.over = True
            if self.stands(order):
                await self._end(OrderState.DONE, order, order.why, report=True)

    async def _attempt(self, order: Order) -> Answer:
        if self._work is None:
            raise HomeAssistantError(translation_domain=DOMAIN, translation_key="orders_not_worked_on")
        try:
            return await self._work.carry_out(order)
        except HomeAssistantError:
            raise
        except Exception as fault:
            # A mistake of our own will not mend itself until the next poll.
            _LOGGER.exception("Unexpected error carrying out an order")
            raise HomeAssistantError(translation_domain=DOMAIN, translation_key="own_fault") from fault

    async def _at_work[Result](self, order: Order, work: Coroutine[Any, Any, Result]) -> Result:
        """Do work on an order, known as what is at work until it ends."""
        task = asyncio.current_task()
        if task is None:
            raise RuntimeError("an order is worked on by a task")
        self._attempts[task] = order
        try:
            return await work
        finally:
            del self._attempts[task]

    async def _wait(self, order: Order, fault: HomeAssistantError) -> None:
        order.why = str(fault)
        if self._work is not None and self._work.takes_time(fault):
            self._spacing.failed(dt_util.utcnow())
        if self._work is not None and self._work.needs_house(fault):
            self._spacing.wait_until(next_try(order.since, order.tries + 1))
        await self._count(order)

    async def _count(self, order: Order) -> None:
        """Count one more try that has failed."""
        order.tries += 1
        await self._put(OrderState.WAITING, order)
        if order.tries == TRIES_REPORTED and self._work is not None:
            self._work.report(OrderState.WAITING, order)

    def _becomes(self, order: Order, fault: HomeAssistantError) -> OrderState:
        """Return what a failed attempt makes of an order."""
        if self._work is None or not self._work.may_come_true(fault):
            return OrderState.FAILED
        return OrderState.WAITING if dt_util.utcnow() < order.until else OrderState.EXPIRED

    @callback
    def _poll_soon(self) -> None:
        if self._work is not None:
            self._hass.async_create_background_task(self._work.poll(), "an order waits for the inverter")

    # ---- ending one

    async def replace(self, earlier: Order | None) -> None:
        """End an order if it still waits: a change of the schedule that was asked for later has taken its place."""
        if earlier is not None and self.stands(earlier):
            await self._put(OrderState.REPLACED, earlier)

    async def _end(self, state: OrderState, order: Order, why: str | None, *, report: bool = False) -> None:
        order.why = why
        await self._put(state, order)
        if report and self._work is not None:
            self._work.report(state, order)

    async def _put(self, state: OrderState, order: Order | None) -> None:
        """Take an order's state, on disk too."""
        if order is not self.order:
            self._spacing = AttemptSpacing()
        self.state, self.order = state, order
        self._set_timer()
        if self._work is not None:
            # Once closed, the file is the next start's; what is in it is taken up there.
            await self._store.save(state, order)
        self._changed()

    # ---- its time

    @callback
    def _set_timer(self) -> None:
        waits = not self._closing and self._work is not None and self.state is OrderState.WAITING
        self._deadline.set(self.order.until if waits and self.order is not None else None)

    @callback
    def expire(self) -> None:
        """End an order that waits, as its time is over."""
        order = self.order
        # An attempt that is at work says itself how the order ended.
        if order is not None and self.stands(order) and order not in self._attempts.values():
            self._hass.async_create_task(
                self._end(OrderState.EXPIRED, order, order.why, report=True), "an order expires"
            )
