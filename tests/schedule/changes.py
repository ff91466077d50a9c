"""Kinds of change, each with what the Teasel's registers hold before and after it, written down by hand."""

from collections.abc import Awaitable, Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from custom_components.chargehand.inverter import Inverter
from custom_components.chargehand.registers import Address, Table
from custom_components.chargehand.schedule.committed import Committed
from custom_components.chargehand.schedule.request import ScheduleRequest, WindowRequest
from custom_components.chargehand.schedule.windows import Schedule, Side

CONTROL = 200
CHARGE = 220
DISCHARGE = 240
WINDOW_REGISTERS = 6
SCHEDULE = (*range(CHARGE, CHARGE + 18), *range(DISCHARGE, DISCHARGE + 18))
ARMED, DISARMED = 0b101, 0b100
"""The control word: bit 0 arms, bit 2 is somebody else's and set throughout."""

type Registers = Mapping[int, int]
"""Holding registers by address: the control word and all windows."""

type Window = tuple[int, int, int, int, int, int]
"""A window's registers: start hour and minute, end hour and minute, current in 0.1 A, stop level in %."""

# Every register differs between the two; halved (a clamping inverter) none becomes the other.
BEFORE: tuple[Window, ...] = (
    (23, 7, 1, 11, 401, 97),
    (2, 13, 3, 17, 403, 95),
    (4, 19, 5, 23, 405, 93),
    (7, 7, 9, 11, 407, 31),
    (12, 13, 13, 17, 409, 33),
    (17, 19, 21, 23, 411, 35),
)
AFTER: tuple[Window, ...] = (
    (22, 31, 0, 37, 611, 89),
    (1, 41, 2, 43, 613, 87),
    (3, 47, 4, 53, 615, 85),
    (6, 29, 8, 31, 617, 41),
    (11, 37, 12, 41, 619, 43),
    (16, 43, 20, 47, 621, 45),
)
NEAR: tuple[Window, ...] = tuple((w[0], w[1] + 30, w[2], w[3], w[4] + 210, w[5]) for w in BEFORE)
"""The earlier windows with another start minute and current: few registers, for inverters that take them one by one."""


def unused(window: Window) -> Window:
    """A window without its times; its limits stay."""
    return (0, 0, 0, 0, window[4], window[5])


def holding(control: int, windows: Iterable[Window]) -> Registers:
    """The registers of a control word and six windows, three to charge and three to discharge."""
    values = [value for window in windows for value in window]
    return {CONTROL: control} | dict(zip(SCHEDULE, values, strict=True))


def asked(windows: Iterable[Window]) -> list[WindowRequest]:
    """The same windows as a user types them."""
    return [
        WindowRequest(
            start=f"{w[0]:02d}:{w[1]:02d}", end=f"{w[2]:02d}:{w[3]:02d}", current=w[4] / 10, stop_level=float(w[5])
        )
        for w in windows
    ]


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """A change of one kind: what is there, what is asked, what is to be there."""

    name: str
    before: Registers
    after: Registers
    ask: Callable[[Inverter], Awaitable[Committed]]
    arms: bool = False
    """Whether it is about arming, so that it makes sense only where there is something to arm by."""


def edited(window: Window) -> Callable[[Inverter], Awaitable[Committed]]:
    """Ask for another first charge window."""

    def change(held: Schedule) -> Schedule:
        new = replace(
            held.charge[0],
            start=window[0] * 60 + window[1],
            end=window[2] * 60 + window[3],
            current=window[4] / 10,
            stop_level=float(window[5]),
        )
        return held.with_window(Side.CHARGE, 1, new)

    return lambda inverter: inverter.edit(change)


def _applied(
    charge: Iterable[Window] | None = None, discharge: Iterable[Window] | None = None, *, armed: bool = True
) -> Callable[[Inverter], Awaitable[Committed]]:
    request = ScheduleRequest(
        charge=None if charge is None else asked(charge),
        discharge=None if discharge is None else asked(discharge),
        armed=armed,
    )
    return lambda inverter: inverter.apply(request)


def _put(registers: Registers) -> Callable[[Inverter], Awaitable[Committed]]:
    def put(inverter: Inverter) -> Awaitable[Committed]:
        assert inverter.map.schedule is not None
        image: dict[Address, int] = {
            (Table.HOLDING, address): registers[address] for _, address in inverter.map.schedule.addresses
        }
        return inverter.put_image(image)

    return put


def changes(*, many: tuple[Window, ...]) -> tuple[Change, ...]:
    """All kinds; `many` is what those of three and six windows lead to."""
    one_limit: Window = (*BEFORE[0][:4], AFTER[0][4], BEFORE[0][5])
    held = holding(ARMED, BEFORE)
    emptied = (*map(unused, BEFORE[:3]), *BEFORE[3:])
    return (
        Change(name="one_limit", before=held, after=holding(ARMED, (one_limit, *BEFORE[1:])), ask=edited(one_limit)),
        Change(name="one_window", before=held, after=holding(ARMED, (AFTER[0], *BEFORE[1:])), ask=edited(AFTER[0])),
        Change(
            name="three_windows",
            before=held,
            after=holding(ARMED, (*many[:3], *BEFORE[3:])),
            ask=_applied(many[:3]),
        ),
        Change(name="three_unused", before=held, after=holding(ARMED, emptied), ask=_applied(())),
        Change(name="three_from_unused", before=holding(ARMED, emptied), after=held, ask=_applied(BEFORE[:3])),
        Change(name="six_windows", before=held, after=holding(ARMED, many), ask=_applied(many[:3], many[3:])),
        Change(name="restore", before=holding(ARMED, many), after=held, ask=_put(held)),
        Change(
            name="six_and_arm",
            before=holding(DISARMED, BEFORE),
            after=holding(ARMED, many),
            ask=_applied(many[:3], many[3:]),
            arms=True,
        ),
        Change(name="disarm", before=held, after=holding(DISARMED, BEFORE), ask=_applied(armed=False), arms=True),
        Change(
            name="disarm_and_three",
            before=held,
            after=holding(DISARMED, (*many[:3], *BEFORE[3:])),
            ask=_applied(many[:3], armed=False),
            arms=True,
        ),
        Change(name="arm", before=holding(DISARMED, BEFORE), after=held, ask=_applied(), arms=True),
        Change(
            name="restore_disarmed",
            before=holding(ARMED, many),
            after=holding(DISARMED, BEFORE),
            ask=_put(holding(DISARMED, BEFORE)),
            arms=True,
        ),
    )


MAIN = {"one_window", "three_windows", "six_windows", "restore", "six_and_arm", "disarm_and_three"}
"""Kinds of change that stand for all where each case takes seconds."""


def changes_on(variant: str) -> tuple[Change, ...]:
    """The kinds of change that make sense on a variant."""
    many = NEAR if variant.endswith("single") else AFTER
    return tuple(change for change in changes(many=many) if variant.startswith("armed") or not change.arms)
