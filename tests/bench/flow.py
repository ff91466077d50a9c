"""Where the power goes: battery, house, roof and grid balance at every moment."""

from dataclasses import dataclass

from tests.bench.battery import CAPACITY_WH, HIGHEST_LEVEL, LOWEST_LEVEL, Battery
from tests.bench.schedule import Duty, Task

EFFICIENCY = 0.94
"""Of the inverter, each way between its AC side and the battery's terminals."""
RATED_W = 5000.0
FEED_IN_LIMIT_W = 3600.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Flow:
    """Powers in W; battery positive while charging, grid positive while importing."""

    battery_w: float
    battery_v: float
    battery_a: float
    ac_w: float
    """The battery's share on the AC side: more than battery_w while charging, less while discharging."""
    load_w: float
    solar_w: float
    grid_w: float


def flow(battery: Battery, duty: Duty, load_w: float, solar_w: float, highest_charge_w: float, seconds: float) -> Flow:
    """Return the powers of the next `seconds`; the step ends exactly at the level where the duty ends."""
    wanted = _wanted(battery, duty, load_w, solar_w)
    if wanted > 0:
        rises_to_level = duty.task is Task.CHARGE or (duty.task is Task.KEEP_LEVEL and _takes_from_grid(battery, duty))
        ceiling = min(duty.until, HIGHEST_LEVEL) if rises_to_level else HIGHEST_LEVEL
        amps = battery.charge_limit
        room = max(_room(battery, ceiling, seconds), 0.0)
        watts = min(wanted, highest_charge_w, amps * battery.volts(amps), RATED_W * EFFICIENCY, room)
    elif wanted < 0:
        amps = -battery.discharge_limit
        floor = max(duty.until, LOWEST_LEVEL)
        room = min(_room(battery, floor, seconds), 0.0)
        watts = max(wanted, amps * battery.volts(amps), -RATED_W / EFFICIENCY, room)
    else:
        watts = 0.0
    return _balance(battery, watts, load_w, solar_w)


def _wanted(battery: Battery, duty: Duty, load_w: float, solar_w: float) -> float:
    """Return the watts at the terminals that the duty asks for, limits aside."""
    surplus = solar_w - load_w
    match duty.task:
        case Task.CHARGE:
            window = duty.watts + duty.amps * battery.volts(duty.amps) if battery.level < duty.until else 0.0
            return window if duty.from_grid else min(window, max(surplus, 0.0) * EFFICIENCY)
        case Task.DISCHARGE:
            window = -duty.watts - duty.amps * battery.volts(-duty.amps)
            return max(window, _most_fed_in(surplus)) if battery.level > duty.until else 0.0
        case Task.FOLLOW_LOAD if surplus > 0:
            return surplus * EFFICIENCY
        case Task.FOLLOW_LOAD:
            return surplus / EFFICIENCY if battery.level > duty.until else 0.0
        case Task.FEED_GRID:
            return _most_fed_in(surplus) if battery.level > duty.until else 0.0
        case Task.KEEP_LEVEL:
            own = surplus * EFFICIENCY if surplus > 0 else surplus / EFFICIENCY if battery.level > duty.until else 0.0
            bought = duty.amps * battery.volts(duty.amps) if _takes_from_grid(battery, duty) else -duty.watts
            return min(max(own, bought), duty.watts)
        case Task.HOLD:
            return 0.0


def _takes_from_grid(battery: Battery, duty: Duty) -> bool:
    """Return whether a level that is kept has to be reached from the grid."""
    return duty.from_grid and battery.level < duty.until


def _most_fed_in(surplus: float) -> float:
    """Return the discharge in W at the terminals that brings the export to its limit; never positive."""
    return min((surplus - FEED_IN_LIMIT_W) / EFFICIENCY, 0.0)


def _room(battery: Battery, level: float, seconds: float) -> float:
    """Return the watts that bring the battery to `level` within `seconds`: positive up, negative down."""
    return (level / 100 * CAPACITY_WH - battery.stored_wh) * 3600 / seconds


def _balance(battery: Battery, watts: float, load_w: float, solar_w: float) -> Flow:
    ac_w = watts / EFFICIENCY if watts > 0 else watts * EFFICIENCY
    # What the feed-in limit forbids is not taken from the roof.
    solar_w = min(solar_w, load_w + ac_w + FEED_IN_LIMIT_W) if solar_w > 0 else solar_w
    amps = battery.amps(watts)
    return Flow(
        battery_w=watts,
        battery_v=battery.volts(amps),
        battery_a=amps,
        ac_w=ac_w,
        load_w=load_w,
        solar_w=solar_w,
        grid_w=load_w - solar_w + ac_w,
    )
