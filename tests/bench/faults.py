"""Faults to order: the nth request that matches goes wrong, in a way of one's choosing."""

import random
from dataclasses import dataclass
from typing import Literal

from tests.bench.request import Request

LOGGER = "logger"


@dataclass(frozen=True, kw_only=True, slots=True)
class Kind:
    """How a fault goes wrong, step by step."""

    reaches: bool = True
    """The request gets to the inverter's memory."""
    stores: Literal["whole", "nothing", "clamped", "later"] = "whole"
    overwrites: bool = False
    answers: Literal["whole", "never", "reset", "half", "wrong_id", "late", "twice", "again"] = "whole"
    writes_only: bool = False


NONE = "none"
KINDS = {
    NONE: Kind(),
    "no_answer": Kind(reaches=False, answers="never"),
    "answer_lost": Kind(answers="never"),
    "exception": Kind(reaches=False),
    "reset": Kind(reaches=False, answers="reset"),
    "reset_after": Kind(answers="reset"),
    "wrong_id": Kind(answers="wrong_id"),
    "truncated": Kind(answers="half"),
    "late": Kind(answers="late"),
    "repeated": Kind(answers="twice"),
    "repeated_next": Kind(answers="again"),
    "write_ignored": Kind(stores="nothing", writes_only=True),
    "write_clamped": Kind(stores="clamped", writes_only=True),
    "write_shows_late": Kind(stores="later", writes_only=True),
    "overwrite": Kind(overwrites=True),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Fault:
    """One order. `nth` matching request from now (1 = the next), and `count` from there on (None = all)."""

    kind: str
    nth: int = 1
    count: int | None = 1
    only: str | None = None
    """read | write | None for both."""
    client: str | None = None
    """A client's name as in the journal, "others" for all but the data logger, None for all."""
    unit: int | None = None
    touches: int | None = None
    """Only requests that name this address."""
    code: int = 4
    ms: float = 5000.0
    limit: int | None = None
    address: int = 0
    value: int = 0
    gateway_answers: bool = False
    """Where no answer comes: the gateway waits its time-out and answers 0B, instead of nothing at all."""

    @property
    def how(self) -> Kind:
        """Its kind's row."""
        return KINDS[self.kind]

    def matches(self, request: Request, client: str) -> bool:
        """Return whether a request counts towards `nth`."""
        writes = self.only == "write" or (self.only is None and self.how.writes_only)
        return (
            (not writes or request.is_write)
            and not (self.only == "read" and request.is_write)
            and self.unit in {None, request.unit}
            and (self.client in {None, client} or (self.client == "others" and client != LOGGER))
            and (self.touches is None or request.touches(self.touches))
        )


NO_FAULT = Fault(kind=NONE)


class Faults:
    """The orders, each with how many requests it has seen."""

    def __init__(self, seed: int, *, overwritable: frozenset[int]) -> None:
        """Begin without orders; another hand can overwrite only these addresses."""
        self.met = 0
        self._overwritable = overwritable
        self._orders: list[tuple[Fault, int]] = []
        self._random = random.Random(seed)
        self._late_share = 0.0
        self._late_ms = (0.0, 0.0)

    @property
    def waiting(self) -> int:
        """Orders not yet used up."""
        return len(self._orders)

    def order(self, fault: Fault) -> None:
        """Add an order; raises ValueError for one that cannot be met."""
        if fault.kind not in KINDS or fault.kind == NONE:
            raise ValueError(
                f"unknown kind {fault.kind!r}; give one of: {', '.join(KINDS.keys() - {NONE})}, random_late"
            )
        if fault.only not in {None, "read", "write"}:
            raise ValueError(f"only is {fault.only!r}; give read, write or nothing")
        if fault.nth < 1 or (fault.count is not None and fault.count < 1):
            raise ValueError("nth and count start at 1")
        if fault.how.overwrites and fault.address not in self._overwritable:
            raise ValueError(f"an overwrite takes the address of a setting or a window, not {fault.address}")
        self._orders.append((fault, 0))

    def order_random_late(self, share: float, low_ms: float, high_ms: float) -> None:
        """Answer this share of all requests late by a random time, until cleared."""
        self._late_share, self._late_ms = share, (low_ms, high_ms)

    def clear(self) -> None:
        """Forget all orders."""
        self._orders.clear()
        self._late_share = 0.0

    def meet(self, request: Request, client: str) -> Fault:
        """Count a request, and return the fault that it meets; the oldest order wins."""
        met = NO_FAULT
        orders: list[tuple[Fault, int]] = []
        for fault, before in self._orders:
            seen = before + fault.matches(request, client)
            due = seen > before and seen >= fault.nth
            if due and met is NO_FAULT:
                met = fault
            if fault.count is None or seen < fault.nth + fault.count - 1:
                orders.append((fault, seen))
        self._orders = orders
        if met is NO_FAULT and self._random.random() < self._late_share:
            met = Fault(kind="late", ms=self._random.uniform(*self._late_ms))
        self.met += met is not NO_FAULT
        return met
