"""The actions: a whole schedule applied, read, and the inverter's clock set; each answers with data."""

import voluptuous as vol
from homeassistant.config_entries import ConfigEntryState
from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.core import HomeAssistant, ServiceCall, ServiceResponse, SupportsResponse, callback
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers.service import async_register_admin_service
from homeassistant.util.json import JsonValueType

from ..changes import Commits
from ..const import DOMAIN
from ..coordinator import ChargehandConfigEntry, ChargehandCoordinator
from ..core.schedule import Given, Schedule, ScheduleRequest, Side, Window, WindowRequest, time_text
from .answers import receipt_data
from .callers import caller
from .clock import set_clock
from .failures import committing, refused, translated
from .finding import COMPARE_FIELDS, READ_FIELDS, compare_registers, read_registers
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
    }
)

PUT_BACK = {
    "before_last_change": Commits.restore,
    "confirmed": Commits.put_back,
}
"""Which schedule `restore_schedule` puts back, and how."""

RESTORE_SCHEMA = DEVICE_SCHEMA.extend({vol.Optional("which", default="before_last_change"): vol.In(list(PUT_BACK))})


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
    for action, answer, fields in (
        ("read_registers", _read_registers, READ_FIELDS),
        ("compare_registers", _compare_registers, COMPARE_FIELDS),
    ):
        async_register_admin_service(hass, DOMAIN, action, answer, DEVICE_SCHEMA.extend(fields), SupportsResponse.ONLY)


def _coordinator(call: ServiceCall) -> ChargehandCoordinator:
    """The inverter that a call names. Raises ServiceValidationError when it is none of ours, or not running."""
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
    windows = {str(side): _asked(call.data[side]) for side in Side if side in call.data}
    request = ScheduleRequest(armed=call.data["armed"], override=call.data["override"], **windows)
    with committing(coordinator, by):
        return receipt_data(await coordinator.commits.apply(request, by))


def _asked(windows: list[dict[str, object]] | None) -> list[WindowRequest] | Given:
    """The windows of one side as a request has them: what is null in it was given, and is nothing."""
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
    put_back = PUT_BACK[call.data["which"]]
    with committing(coordinator, by):
        return receipt_data(await put_back(coordinator.commits, by))


async def _keep_schedule(call: ServiceCall) -> ServiceResponse:
    coordinator, by = _coordinator(call), await _by(call)
    with translated(coordinator):
        return schedule_data(await coordinator.commits.keep(by))


async def _plan_charge(call: ServiceCall) -> ServiceResponse:
    return await plan_charge(_coordinator(call), call.data, await _by(call))


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
    """A schedule as `apply_schedule` takes it: its used windows."""
    return {
        "charge": [window_data(window) for window in schedule.charge if window.used],
        "discharge": [window_data(window) for window in schedule.discharge if window.used],
        "armed": schedule.armed is not False,
    }


def window_data(window: Window) -> dict[str, JsonValueType]:
    """A window as `apply_schedule` takes it."""
    limits = {limit: getattr(window, limit) for limit in LIMITS}
    return {
        "start": time_text(window.start),
        "end": time_text(window.end),
        **{limit: value for limit, value in limits.items() if value is not None},
    }
