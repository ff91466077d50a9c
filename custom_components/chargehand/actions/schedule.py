"""The actions: a whole schedule applied, read, and the inverter's clock set; each answers with data."""

from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.config_entries import ConfigEntryState
from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.core import HomeAssistant, ServiceCall, ServiceResponse, SupportsResponse, callback
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers.service import async_register_admin_service
from homeassistant.util.json import JsonValueType

from ..changes import EarlierSchedule
from ..const import DOMAIN
from ..coordinator import ChargehandConfigEntry, ChargehandCoordinator
from ..core.order import Order, OrderKind
from ..core.schedule import Given, Schedule, ScheduleRequest, Side, Window, WindowRequest, time_text
from .answers import receipt_data
from .callers import caller
from .charge_tonight import TONIGHT_FIELDS, charge_tonight
from .clock import set_clock
from .failures import committing, refused, translated
from .finding import COMPARE_FIELDS, READ_FIELDS, compare_registers, read_registers
from .order_giving import UNTIL, give_order, until_of
from .plan_charge import PLAN_FIELDS, plan_charge

LIMITS = ("current", "power", "stop_level")

DEVICE_SCHEMA = vol.Schema({vol.Required(ATTR_DEVICE_ID): cv.string})

# Times and numbers are checked with the rest of the schedule, so that every fault of a request is told at once.
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


APPLY_SCHEMA = DEVICE_SCHEMA.extend(
    {
        vol.Optional("charge"): _windows,
        vol.Optional("discharge"): _windows,
        vol.Optional("armed", default=True): cv.boolean,
        vol.Optional("override", default=False): cv.boolean,
        vol.Optional(UNTIL): until_of,
    }
)

BEFORE_LAST_CHANGE, CONFIRMED = "before_last_change", "confirmed"
"""Which schedule `restore_schedule` puts back."""

RESTORE_SCHEMA = DEVICE_SCHEMA.extend(
    {
        vol.Optional("which", default=BEFORE_LAST_CHANGE): vol.In([BEFORE_LAST_CHANGE, CONFIRMED]),
        vol.Optional(UNTIL): until_of,
    }
)


@callback
def async_setup_actions(hass: HomeAssistant) -> None:
    """Register the actions."""
    hass.services.async_register(
        DOMAIN, "apply_schedule", _apply_schedule, APPLY_SCHEMA, supports_response=SupportsResponse.OPTIONAL
    )
    hass.services.async_register(
        DOMAIN, "get_schedule", _get_schedule, DEVICE_SCHEMA, supports_response=SupportsResponse.ONLY
    )
    hass.services.async_register(
        DOMAIN, "restore_schedule", _restore_schedule, RESTORE_SCHEMA, supports_response=SupportsResponse.OPTIONAL
    )
    hass.services.async_register(
        DOMAIN, "keep_schedule", _keep_schedule, DEVICE_SCHEMA, supports_response=SupportsResponse.OPTIONAL
    )
    hass.services.async_register(
        DOMAIN, "set_clock", _set_clock, DEVICE_SCHEMA, supports_response=SupportsResponse.OPTIONAL
    )
    hass.services.async_register(
        DOMAIN,
        "plan_charge",
        _plan_charge,
        DEVICE_SCHEMA.extend(PLAN_FIELDS),
        supports_response=SupportsResponse.ONLY,
    )
    hass.services.async_register(
        DOMAIN,
        "charge_tonight",
        _charge_tonight,
        DEVICE_SCHEMA.extend(TONIGHT_FIELDS),
        supports_response=SupportsResponse.OPTIONAL,
    )
    for action, answer, fields in (
        ("read_registers", _read_registers, READ_FIELDS),
        ("compare_registers", _compare_registers, COMPARE_FIELDS),
    ):
        async_register_admin_service(hass, DOMAIN, action, answer, DEVICE_SCHEMA.extend(fields), SupportsResponse.ONLY)


def _coordinator(call: ServiceCall) -> ChargehandCoordinator:
    """Return the inverter that a call names. Raises ServiceValidationError when it is none of ours, or not running."""
    device_id = str(call.data[ATTR_DEVICE_ID])
    device = dr.async_get(call.hass).async_get(device_id)
    entry: ChargehandConfigEntry | None = (
        None
        if device is None or device.config_entry_id is None
        else call.hass.config_entries.async_get_entry(device.config_entry_id)
    )
    if entry is None or entry.domain != DOMAIN:
        raise refused("unknown_device", device=device_id)
    if entry.state is not ConfigEntryState.LOADED:
        raise refused("not_running", inverter=entry.title)
    return entry.runtime_data


async def _apply_schedule(call: ServiceCall) -> ServiceResponse:
    coordinator, by = _coordinator(call), await _by(call)
    if UNTIL not in call.data:
        return await _apply(coordinator, call.data, by)
    asked = {key: call.data[key] for key in call.data if key not in {ATTR_DEVICE_ID, UNTIL}}
    return (await give_order(coordinator, OrderKind.APPLY_SCHEDULE, asked, call.data[UNTIL], by))[1]


async def apply_now(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Apply the schedule of an order, and return the receipt. Raises the platform's errors."""
    return await _apply(coordinator, order.asked, order.by, order)


async def _apply(
    coordinator: ChargehandCoordinator, asked: Mapping[str, Any], by: str, order: Order | None = None
) -> dict[str, Any]:
    windows = {str(side): _asked(asked[side]) for side in Side if side in asked}
    request = ScheduleRequest(armed=asked["armed"], override=asked["override"], **windows)
    with committing(coordinator, by):
        return receipt_data(await coordinator.commits.apply(request, by, order))


def _asked(windows: list[dict[str, object]] | None) -> list[WindowRequest] | Given:
    """Return the windows of one side as a request has them: what is null in it was given, and is nothing."""
    if windows is None:
        return Given.NOTHING
    return [
        WindowRequest(
            start=window["start"],
            end=window["end"],
            **{name: Given.NOTHING if window[name] is None else window[name] for name in LIMITS if name in window},
        )
        for window in windows
    ]


async def _get_schedule(call: ServiceCall) -> ServiceResponse:
    coordinator = _coordinator(call)
    with translated(coordinator):
        return schedule_data(await coordinator.inverter.read_schedule())


async def _restore_schedule(call: ServiceCall) -> ServiceResponse:
    coordinator, by = _coordinator(call), await _by(call)
    confirmed = call.data["which"] == CONFIRMED
    if UNTIL in call.data:
        # Which schedule is meant is decided now: put on the inverter twice, it is still the same one.
        with committing(coordinator, by):
            earlier = coordinator.commits.earlier(confirmed=confirmed).as_dict()
        return (await give_order(coordinator, OrderKind.RESTORE_SCHEDULE, earlier, call.data[UNTIL], by))[1]
    return await restore(coordinator, by, confirmed=confirmed)


async def restore(coordinator: ChargehandCoordinator, by: str, *, confirmed: bool = False) -> dict[str, Any]:
    """Put back the schedule before the last change, or the confirmed one, and return the receipt. Raises the platform's errors."""
    commits = coordinator.commits
    with committing(coordinator, by):
        return receipt_data(await (commits.put_back(by) if confirmed else commits.restore(by)))


async def put_earlier_now(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Put the earlier schedule of an order on the inverter, and return the receipt. Raises the platform's errors."""
    with committing(coordinator, order.by):
        earlier = EarlierSchedule.from_dict(order.asked)
        return receipt_data(await coordinator.commits.put_earlier(earlier, order.by, order))


async def _keep_schedule(call: ServiceCall) -> ServiceResponse:
    coordinator, by = _coordinator(call), await _by(call)
    with translated(coordinator):
        return schedule_data(await coordinator.commits.keep(by))


async def _plan_charge(call: ServiceCall) -> ServiceResponse:
    return await plan_charge(_coordinator(call), call.data, await _by(call))


async def _charge_tonight(call: ServiceCall) -> ServiceResponse:
    return await charge_tonight(_coordinator(call), call.data, await _by(call))


async def _by(call: ServiceCall) -> str:
    return await caller(call.hass, call.context, f"action {call.service}")


async def _set_clock(call: ServiceCall) -> ServiceResponse:
    before, after = await set_clock(_coordinator(call), await _by(call))
    return {"offset_before": round(before, 1), "offset_after": round(after, 1)}


async def _read_registers(call: ServiceCall) -> ServiceResponse:
    return await read_registers(call.hass, _coordinator(call), call.data)


async def _compare_registers(call: ServiceCall) -> ServiceResponse:
    return await compare_registers(call.hass, _coordinator(call), call.data)


def schedule_data(schedule: Schedule) -> dict[str, JsonValueType]:
    """Return a schedule as `apply_schedule` takes it: its used windows."""
    return {
        "charge": [window_data(window) for window in schedule.charge if window.used],
        "discharge": [window_data(window) for window in schedule.discharge if window.used],
        "armed": schedule.armed is not False,
    }


def window_data(window: Window) -> dict[str, JsonValueType]:
    """Return a window as `apply_schedule` takes it."""
    limits = {limit: getattr(window, limit) for limit in LIMITS}
    return {
        "start": time_text(window.start),
        "end": time_text(window.end),
        **{limit: value for limit, value in limits.items() if value is not None},
    }
