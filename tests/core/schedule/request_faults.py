"""What can go wrong at one request: every fault of the bench, as orders to it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from tests.bench.teasel import CHARGE, CONTROL_WORD

from .changes import AFTER, BEFORE

type Order = Mapping[str, object]

LATE_MS = 120
"""Later than the first looks, earlier than the end of the patience with a write that was answered."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RequestFault:
    """A fault. What it may leave behind that no commit would write is named by `puts`."""

    name: str
    kind: str
    order: Order = field(default_factory=dict)
    puts: str = "nothing"
    """nothing | values (a clamp: any written register) | power (one register) | arming (the control word)."""
    passes: bool = True
    """Whether a commit gets over one of it, past the first read."""
    settles_after: float = 0.0
    """Seconds after the last request until nothing of it is still to come."""


def _exception(code: int) -> RequestFault:
    # 1, 2 and 3 say that it will never be taken; the others may pass.
    return RequestFault(name=f"exception_{code}", kind="exception", order={"code": code}, passes=code > 3)


def _overwrite(name: str, address: int, value: int, puts: str) -> RequestFault:
    return RequestFault(
        name=f"overwrite_{name}", kind="overwrite", order={"address": address, "value": value}, puts=puts, passes=False
    )


REQUEST_FAULTS = (
    RequestFault(name="no_answer", kind="no_answer"),
    RequestFault(name="no_answer_0b", kind="no_answer", order={"gateway_answers": True}),
    RequestFault(name="answer_lost", kind="answer_lost"),
    RequestFault(name="answer_lost_0b", kind="answer_lost", order={"gateway_answers": True}),
    *map(_exception, (1, 2, 3, 4, 5, 6, 10, 11)),
    RequestFault(name="reset", kind="reset"),
    RequestFault(name="reset_after", kind="reset_after"),
    RequestFault(name="wrong_id", kind="wrong_id"),
    RequestFault(name="truncated", kind="truncated"),
    RequestFault(name="late", kind="late", order={"ms": 130}, settles_after=0.16),
    RequestFault(name="write_ignored", kind="write_ignored"),
    RequestFault(name="write_clamped", kind="write_clamped", puts="values", passes=False),
    RequestFault(name="write_shows_late", kind="write_shows_late", order={"ms": LATE_MS}, settles_after=0.16),
    _overwrite("foreign", CHARGE[0].power, 123, "power"),
    _overwrite("earlier", CHARGE[0].power, BEFORE[0][1], "power"),
    _overwrite("wanted", CHARGE[0].power, AFTER[0][1], "power"),
    _overwrite("arms", CONTROL_WORD, 0b111, "arming"),
    _overwrite("disarms", CONTROL_WORD, 0b010, "arming"),
)


def request_faults_on(variant: str) -> tuple[RequestFault, ...]:
    """Those that concern a variant: one that knows of no arming does not notice when somebody disarms it."""
    concerns: Callable[[RequestFault], bool] = lambda one: one.puts != "arming" or variant.startswith("armed")  # noqa: E731
    return tuple(filter(concerns, REQUEST_FAULTS))
