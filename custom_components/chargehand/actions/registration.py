"""The actions by name: who carries each out, what it takes, and whether it returns data."""

from collections.abc import Awaitable, Callable, Coroutine, Mapping
from dataclasses import dataclass
from typing import Any

import voluptuous as vol
from homeassistant.auth.permissions.const import CAT_ENTITIES, POLICY_CONTROL
from homeassistant.config_entries import ConfigEntryState
from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.core import HomeAssistant, ServiceCall, ServiceResponse, SupportsResponse, callback
from homeassistant.exceptions import HomeAssistantError, Unauthorized
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers.service import async_register_admin_service
from homeassistant.helpers.typing import VolDictType

from ..const import DOMAIN
from ..coordinator import ChargehandCoordinator
from ..messages import text
from .callers import caller, follow_runs
from .charge_before import BEFORE_FIELDS, charge_before
from .charge_tonight import TONIGHT_FIELDS
from .clock import answer_set_clock
from .drafting import DRAFT_FIELDS, answer_apply_draft, discard_draft_in_words, draft_schedule
from .entries import entry_of, require_map
from .failures import refused
from .finding import COMPARE_FIELDS, READ_FIELDS, compare_registers, read_registers
from .permission import may_control
from .plan_charge import PLAN_FIELDS, plan_charge
from .putting_back import KEEP_FIELDS, RESTORE_FIELDS, keep_schedule, restore_schedule
from .report_night import REPORT_FIELDS, report_night, report_not_running
from .schedule import APPLY_FIELDS, apply_schedule, get_schedule
from .stop_charging import STOP_FIELDS, resume_charging, resume_not_running, stop_charging, stop_not_running
from .tonight_report import charge_tonight_in_words, report_tonight

type CarryOut = Callable[[ChargehandCoordinator, Mapping[str, Any], str], Awaitable[ServiceResponse]]
"""What carries out an action, from its inverter, its fields, and who asked, in words."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Action:
    """One action."""

    carry_out: CarryOut
    fields: VolDictType
    answers: SupportsResponse
    admin: bool = False
    """Whether it is for administrators only."""

    changes: Callable[[Mapping[str, Any]], bool] = lambda _fields: True
    """Whether it changes anything, by its fields: then it takes a user who may control the inverter."""

    without_map: bool = False
    """Whether it can be asked of an inverter that has no register map yet."""

    not_running: Callable[[HomeAssistant, Mapping[str, Any], HomeAssistantError], ServiceResponse] | None = None
    """What answers while the inverter is not running, or raises the error given; None: it is refused then."""


def _never(_fields: Mapping[str, Any]) -> bool:
    return False


def _where_applied(fields: Mapping[str, Any]) -> bool:
    return bool(fields.get("apply"))


ONLY, OPTIONAL = SupportsResponse.ONLY, SupportsResponse.OPTIONAL

ACTIONS: Mapping[str, Action] = {
    "apply_schedule": Action(carry_out=apply_schedule, fields=APPLY_FIELDS, answers=OPTIONAL),
    "draft_schedule": Action(carry_out=draft_schedule, fields=DRAFT_FIELDS, answers=OPTIONAL),
    "apply_draft": Action(carry_out=answer_apply_draft, fields={}, answers=OPTIONAL),
    "discard_draft": Action(carry_out=discard_draft_in_words, fields={}, answers=OPTIONAL),
    "get_schedule": Action(carry_out=get_schedule, fields={}, answers=ONLY, changes=_never),
    "restore_schedule": Action(carry_out=restore_schedule, fields=RESTORE_FIELDS, answers=OPTIONAL),
    "keep_schedule": Action(carry_out=keep_schedule, fields=KEEP_FIELDS, answers=OPTIONAL),
    "set_clock": Action(carry_out=answer_set_clock, fields={}, answers=OPTIONAL),
    "plan_charge": Action(carry_out=plan_charge, fields=PLAN_FIELDS, answers=ONLY, changes=_where_applied),
    "charge_tonight": Action(carry_out=charge_tonight_in_words, fields=TONIGHT_FIELDS, answers=OPTIONAL),
    "report_night": Action(
        carry_out=report_night, fields=REPORT_FIELDS, answers=ONLY, changes=_never, not_running=report_not_running
    ),
    "stop_charging": Action(
        carry_out=stop_charging, fields=STOP_FIELDS, answers=OPTIONAL, not_running=stop_not_running
    ),
    "resume_charging": Action(
        carry_out=resume_charging, fields=STOP_FIELDS, answers=OPTIONAL, not_running=resume_not_running
    ),
    "report_tonight": Action(carry_out=report_tonight, fields={}, answers=ONLY, changes=_never),
    "charge_before": Action(carry_out=charge_before, fields=BEFORE_FIELDS, answers=OPTIONAL),
    "read_registers": Action(carry_out=read_registers, fields=READ_FIELDS, answers=ONLY, admin=True, without_map=True),
    "compare_registers": Action(
        carry_out=compare_registers, fields=COMPARE_FIELDS, answers=ONLY, admin=True, without_map=True
    ),
}


@callback
def async_setup_actions(hass: HomeAssistant) -> None:
    """Register the actions, and know from now on who calls them."""
    follow_runs(hass)
    for name, action in ACTIONS.items():
        schema = vol.Schema({vol.Required(ATTR_DEVICE_ID): cv.string, **action.fields})
        if action.admin:
            async_register_admin_service(hass, DOMAIN, name, _carried_out_by(action), schema, action.answers)
        else:
            hass.services.async_register(
                DOMAIN, name, _carried_out_by(action), schema, supports_response=action.answers
            )


def _carried_out_by(action: Action) -> Callable[[ServiceCall], Coroutine[Any, Any, ServiceResponse]]:
    """Return what the platform calls for an action."""

    async def carry_out(call: ServiceCall) -> ServiceResponse:
        entry = entry_of(call.hass, call.data[ATTR_DEVICE_ID])
        if action.changes(call.data):
            await _require_control(call, entry.entry_id)
        if not action.without_map:
            require_map(entry)
        if entry.state is not ConfigEntryState.LOADED:
            fault = refused("not_running", inverter=entry.title)
            if action.not_running is not None:
                return action.not_running(call.hass, call.data, fault)
            raise fault
        return await action.carry_out(
            entry.runtime_data, call.data, await caller(call.hass, call.context, text("by_action", action=call.service))
        )

    return carry_out


async def _require_control(call: ServiceCall, entry_id: str) -> None:
    """Raise Unauthorized for a user who may control none of the inverter's entities; automations have no user."""
    user = None if call.context.user_id is None else await call.hass.auth.async_get_user(call.context.user_id)
    if user is not None and not may_control(call.hass, user, entry_id):
        raise Unauthorized(context=call.context, permission=POLICY_CONTROL, user_id=user.id, perm_category=CAT_ENTITIES)
