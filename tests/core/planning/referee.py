"""Two referees that use nothing of the planner: the least cost there is (linear programme, HiGHS), and a battery played step by step."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import exp, inf

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import csr_array, eye_array, hstack, vstack

from custom_components.chargehand.core.planning import Battery, PlannedWindow

type Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Days:
    """Steps of `hours` each: aware `starts`, prices, and kWh of house and roof."""

    hours: float
    starts: tuple[datetime, ...]
    buy: Floats
    sell: Floats
    load: Floats
    solar: Floats


def least_cost(battery: Battery, days: Days, begun: float, ended: float, most_fed_kw: float = inf) -> float:
    """The least that any control can pay that knows everything; `begun` kWh stored at first, `ended` or more at last.

    It may do what no window can: charge at any power at any time, and hold back what it likes. It may not sell what it has stored. What it
    may not feed in, above `most_fed_kw`, is lost.
    """
    count, hours = len(days.buy), days.hours
    lack = days.load - days.solar
    surplus, need = np.maximum(-lack, 0), np.maximum(lack, 0)
    power = battery.charge_kw * hours
    low = min(battery.reserve_level / 100 * battery.capacity_kwh, begun)
    # Unknowns: from grid, from roof, to house (all kWh in or out of the cells), stored at the end of each step, lost from the roof.
    costs = np.concatenate(
        (
            days.buy / battery.charge_efficiency,
            days.sell / battery.charge_efficiency,
            (battery.wear - days.buy) * battery.discharge_efficiency,
            np.zeros(count),
            days.sell,
        )
    )
    one, none = eye_array(count, format="csr"), csr_array((count, count))
    before = eye_array(count, k=-1, format="csr")
    balance = hstack((-one, -one, one, one - before, none))
    start = np.zeros(count)
    start[0] = begun
    slope, most = _taper(battery, hours)
    room = hstack((one, one, none, slope * before, none))
    room_most = np.full(count, most)
    room_most[0] -= slope * begun
    both = hstack((one, one, none, none, none))
    fed = hstack((none, -one / battery.charge_efficiency, none, none, -one))
    most_fed = np.minimum(most_fed_kw * hours, surplus.max()) - surplus
    solved = linprog(
        costs,
        A_ub=vstack((room, both, fed)),
        b_ub=np.concatenate((room_most, np.full(count, battery.charge_kw * hours), most_fed)),
        A_eq=balance,
        b_eq=start,
        bounds=[
            *((0, power) for _ in range(count)),
            *((0, most_in * battery.charge_efficiency) for most_in in surplus),
            *((0, min(wanted / battery.discharge_efficiency, battery.discharge_kw * hours)) for wanted in need),
            *((low, battery.capacity_kwh) for _ in range(count - 1)),
            (ended, battery.capacity_kwh),
            *((0, most) for most in surplus),
        ],
        method="highs",
    )
    assert solved.status == 0, solved.message
    return float(solved.fun + days.buy @ need - days.sell @ surplus)


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One step of a battery: kWh at the meter (less than 0: fed in), into and out of the cells, and stored at its end; and its bill."""

    net: float
    into: float
    out: float
    stored: float
    bill: float


def steps_of(battery: Battery, days: Days, begun: float, windows: Sequence[PlannedWindow]) -> list[Step]:
    """Every step under windows: charge to the stop level and rest there; else follow the load."""
    stored = begun
    slope, most = _taper(battery, days.hours)
    reserve = battery.reserve_level / 100 * battery.capacity_kwh
    found = []
    for start, buy, sell, load, solar in zip(days.starts, days.buy, days.sell, days.load, days.solar, strict=True):
        armed = [window for window in windows if window.start <= start < window.end]
        room = max(min(most - slope * stored, battery.capacity_kwh - stored), 0.0)
        into = out = 0.0
        if armed:
            stop = armed[0].stop_level / 100 * battery.capacity_kwh
            into = max(min(room, armed[0].power_kw * days.hours, stop - stored), 0.0)
        elif solar > load:
            into = min(room, (solar - load) * battery.charge_efficiency, battery.charge_kw * days.hours)
        else:
            wanted = (load - solar) / battery.discharge_efficiency
            out = min(max(stored - reserve, 0.0), wanted, battery.discharge_kw * days.hours)
        stored += into - out
        net = load - solar + into / battery.charge_efficiency - out * battery.discharge_efficiency
        bill = buy * max(net, 0.0) + sell * min(net, 0.0)
        found.append(Step(net=net, into=into, out=out, stored=stored, bill=bill))
    return found


def played(battery: Battery, days: Days, begun: float, windows: Sequence[PlannedWindow]) -> tuple[float, float]:
    """Cost and what is stored at the end, under windows."""
    steps = steps_of(battery, days, begun, windows)
    wear = battery.wear * battery.discharge_efficiency * sum(step.out for step in steps)
    return sum(step.bill for step in steps) + wear, steps[-1].stored


def _taper(battery: Battery, hours: float) -> tuple[float, float]:
    """Slope and height of the most that goes in within a step: power falls linearly, so what is missing falls exponentially."""
    if battery.taper_from >= 100:
        return 1.0, battery.capacity_kwh
    bend = battery.taper_from / 100 * battery.capacity_kwh
    falls = battery.charge_kw * (1 - battery.taper_to) / (battery.capacity_kwh - bend)
    share = (1 - exp(-falls * hours)) / falls
    return share * falls, share * (battery.charge_kw + falls * bend)
