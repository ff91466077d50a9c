"""The actions on a whole schedule: applied, read, put back, kept; each returns data."""

from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers.typing import VolDictType
from homeassistant.util.json import JsonObjectType, JsonValueType

from ..coordinator import ChargehandCoordinator
from ..core.order import Order, OrderKind
from ..core.schedule import WEEKDAYS, NullType, Schedule, ScheduleRequest, Side, Window, WindowRequest, time_text
from .answers import receipt_data
from .failures import committing, translated
from .order_giving import UNTIL, give_order, until_of

LIMITS = ("current", "power", "stop_level")

# Times and numbers are checked with the rest of the schedule, so that an error lists every fault of a request.
WINDOW_SCHEMA = vol.Schema(
    {
        vol.Required("start"): object,
        vol.Required("end"): object,
        **{vol.Optional(limit): object for limit in LIMITS},
    }
)
WINDOWS_SCHEMA = vol.Schema(vol.All(cv.ensure_list, [WINDOW_SCHEMA]))


def _windows(value: object) -> object:
    """Check a side's windows; null is left for the check of the schedule, which says what it takes it for."""
    return None if value is None else WINDOWS_SCHEMA(value)


SIDE_FIELDS: VolDictType = {vol.Optional("charge"): _windows, vol.Optional("discharge"): _windows}

APPLY_FIELDS: VolDictType = {
    **SIDE_FIELDS,
    vol.Optional("armed", default=True): cv.boolean,
    vol.Optional("override", default=False): cv.boolean,
    vol.Optional(UNTIL): until_of,
}


async def apply_schedule(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Write a whole schedule and return the receipt, or how its order waits. Raises the platform's errors."""
    if UNTIL not in data:
        return await _apply(coordinator, data, by)
    asked = {key: data[key] for key in data if key not in {ATTR_DEVICE_ID, UNTIL}}
    return (await give_order(coordinator, OrderKind.APPLY_SCHEDULE, asked, data[UNTIL], by))[1]


async def apply_now(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Apply the schedule of an order, and return the receipt. Raises the platform's errors."""
    return await _apply(coordinator, order.asked, order.by, order)


async def _apply(
    coordinator: ChargehandCoordinator, asked: Mapping[str, Any], by: str, order: Order | None = None
) -> dict[str, Any]:
    request = ScheduleRequest(armed=asked["armed"], override=asked["override"], **asked_sides(asked))
    with committing(coordinator, by):
        return receipt_data(await coordinator.commits.apply(request, by, order))


def asked_sides(asked: Mapping[str, Any]) -> dict[str, list[WindowRequest] | NullType]:
    """Return the sides that a request has, by their names."""
    return {str(side): _asked(asked[side]) for side in Side if side in asked}


def _asked(windows: list[dict[str, object]] | None) -> list[WindowRequest] | NullType:
    """Return the windows of one side as a request has them: what is null in it was given, and is nothing."""
    if windows is None:
        return NullType.NULL
    return [
        WindowRequest(
            start=window["start"],
            end=window["end"],
            **{name: NullType.NULL if window[name] is None else window[name] for name in LIMITS if name in window},
        )
        for window in windows
    ]


async def get_schedule(coordinator: ChargehandCoordinator, _data: Mapping[str, Any], _by: str) -> JsonObjectType:
    """Read the schedule now, and return it. Raises the platform's errors."""
    with translated(coordinator):
        return schedule_data(await coordinator.inverter.read_schedule())


def schedule_data(schedule: Schedule) -> JsonObjectType:
    """Return a schedule as `apply_schedule` takes it: its used windows."""
    places: JsonObjectType = {
        f"{side}_window_{number}": _set_elsewhere(window)
        for side, number, window in schedule.places()
        if window.other_use is not None or (window.used and window.days is not None)
    }
    unread: list[JsonValueType] = [f"{side}_window_{number}" for side, number in schedule.not_readable]
    return {
        "charge": [window_data(window) for window in schedule.charge if window.used],
        "discharge": [window_data(window) for window in schedule.discharge if window.used],
        "armed": schedule.armed is not False,
        **({"set_elsewhere": places} if places else {}),
        **({"not_readable": unread} if unread else {}),
    }


def _set_elsewhere(window: Window) -> JsonObjectType:
    """Return what Chargehand never sets: what else a place is used for, or the days on which its window acts alone."""
    times = {"start": time_text(window.start), "end": time_text(window.end)}
    if window.other_use is not None:
        return {"used_for": window.other_use, **times}
    return {"days": [WEEKDAYS[day] for day in window.days or ()], **times}


def window_data(window: Window) -> JsonObjectType:
    """Return a window as `apply_schedule` takes it."""
    limits = {limit: getattr(window, limit) for limit in LIMITS}
    return {
        "start": time_text(window.start),
        "end": time_text(window.end),
        **{limit: value for limit, value in limits.items() if value is not None},
    }
