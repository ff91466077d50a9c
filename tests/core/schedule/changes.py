"""Kinds of change, each with what the Teasel's registers hold before and after it, written down by hand."""

from collections.abc import Awaitable, Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.registers import Address, Table
from custom_components.chargehand.core.schedule.committed import Committed
from custom_components.chargehand.core.schedule.request import ScheduleRequest, WindowRequest
from custom_components.chargehand.core.schedule.windows import Schedule, Side
from tests.bench.teasel import CHARGE, CONTROL_WORD, SCHEDULE

ARMED, DISARMED = 0b101, 0b100
"""The control word: bit 0 arms, bit 2 is somebody else's and set throughout."""

type Registers = Mapping[int, int]
"""Holding registers by address: the control word and all windows."""

type Window = tuple[int, int, int, int]
"""A window's registers: start, power in W, stop level in %, end; times are decimal hours and minutes."""

FIRST_DISCHARGE = len(CHARGE)
"""The place of the first discharge window among all."""

# Every register differs between the two; halved (a clamping inverter) none becomes the other, and each time remains one.
BEFORE: tuple[Window, ...] = (
    (2307, 2401, 97, 111),
    (213, 2403, 95, 317),
    (419, 2405, 93, 517),
    (707, 2407, 91, 911),
    (1213, 2409, 33, 1317),
    (1705, 2411, 35, 2117),
)
AFTER: tuple[Window, ...] = (
    (2231, 3611, 89, 37),
    (119, 3613, 87, 243),
    (319, 3615, 85, 453),
    (629, 3617, 83, 831),
    (1117, 3619, 43, 1241),
    (1643, 3621, 45, 2047),
)
NEAR: tuple[Window, ...] = tuple((w[0] + 12, w[1] + 1210, w[2], w[3]) for w in BEFORE)
"""The earlier windows with another start and power: few registers, for inverters that take them one by one."""


def unused(window: Window) -> Window:
    """A window without its times; its limits stay."""
    return (0, window[1], window[2], 0)


def holding(control: int, windows: Iterable[Window]) -> Registers:
    """The registers of a control word and six windows, four to charge and two to discharge."""
    values = [value for window in windows for value in window]
    return {CONTROL_WORD: control} | dict(zip(SCHEDULE, values, strict=True))


def asked(windows: Iterable[Window]) -> list[WindowRequest]:
    """The same windows as a user types them."""
    return [
        WindowRequest(
            start="{:02d}:{:02d}".format(*divmod(w[0], 100)),
            end="{:02d}:{:02d}".format(*divmod(w[3], 100)),
            power=float(w[1]),
            stop_level=float(w[2]),
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


def _minute_of(time: int) -> int:
    return time // 100 * 60 + time % 100


def edited(window: Window) -> Callable[[Inverter], Awaitable[Committed]]:
    """Ask for another first charge window."""

    def change(held: Schedule) -> Schedule:
        new = replace(
            held.charge[0],
            start=_minute_of(window[0]),
            end=_minute_of(window[3]),
            power=float(window[1]),
            stop_level=float(window[2]),
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
    """All kinds; `many` is what those of several windows lead to."""
    one_limit: Window = (BEFORE[0][0], AFTER[0][1], *BEFORE[0][2:])
    held = holding(ARMED, BEFORE)
    charge, discharge = many[:FIRST_DISCHARGE], many[FIRST_DISCHARGE:]
    emptied = (*map(unused, BEFORE[:FIRST_DISCHARGE]), *BEFORE[FIRST_DISCHARGE:])
    return (
        Change(name="one_limit", before=held, after=holding(ARMED, (one_limit, *BEFORE[1:])), ask=edited(one_limit)),
        Change(name="one_window", before=held, after=holding(ARMED, (AFTER[0], *BEFORE[1:])), ask=edited(AFTER[0])),
        Change(
            name="charge_windows",
            before=held,
            after=holding(ARMED, (*charge, *BEFORE[FIRST_DISCHARGE:])),
            ask=_applied(charge),
        ),
        Change(name="charge_unused", before=held, after=holding(ARMED, emptied), ask=_applied(())),
        Change(
            name="charge_from_unused",
            before=holding(ARMED, emptied),
            after=held,
            ask=_applied(BEFORE[:FIRST_DISCHARGE]),
        ),
        Change(name="six_windows", before=held, after=holding(ARMED, many), ask=_applied(charge, discharge)),
        Change(name="restore", before=holding(ARMED, many), after=held, ask=_put(held)),
        Change(
            name="six_and_arm",
            before=holding(DISARMED, BEFORE),
            after=holding(ARMED, many),
            ask=_applied(charge, discharge),
            arms=True,
        ),
        Change(name="disarm", before=held, after=holding(DISARMED, BEFORE), ask=_applied(armed=False), arms=True),
        Change(
            name="disarm_and_charge",
            before=held,
            after=holding(DISARMED, (*charge, *BEFORE[FIRST_DISCHARGE:])),
            ask=_applied(charge, armed=False),
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


MAIN = {"one_window", "charge_windows", "six_windows", "restore", "six_and_arm", "disarm_and_charge"}
"""Kinds of change that represent all where each case takes seconds."""


def changes_on(variant: str) -> tuple[Change, ...]:
    """The kinds of change that make sense on a variant."""
    many = NEAR if variant.endswith("single") else AFTER
    return tuple(change for change in changes(many=many) if variant.startswith("armed") or not change.arms)
