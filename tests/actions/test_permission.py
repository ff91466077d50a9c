"""Who may have an inverter changed: users who may control its entities, and all that no user is behind."""

import pytest
from homeassistant.core import Context, HomeAssistant
from homeassistant.exceptions import Unauthorized
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser

from custom_components.chargehand.actions.registration import ACTIONS, ONLY
from tests.bench.remote import Bench
from tests.calls import device_id
from tests.changes.test_drafts import writes

NEEDED = {
    "apply_schedule": {"charge": [], "discharge": []},
    "charge_before": {"need": 1, "before": "07:00"},
    "plan_charge": {"apply": True},
}
CHANGING = sorted({name for name, action in ACTIONS.items() if action.answers is not ONLY} | {"plan_charge"})


async def call(hass: HomeAssistant, action: str, user: MockUser, **data: object) -> object:
    context = Context(user_id=user.id)
    return await hass.services.async_call(
        "chargehand", action, data, blocking=True, return_response=True, context=context
    )


@pytest.mark.parametrize("action", CHANGING)
async def test_who_may_only_read_changes_nothing(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, hass_read_only_user: MockUser, action: str
) -> None:
    before = await writes(bench)
    with pytest.raises(Unauthorized):
        await call(hass, action, hass_read_only_user, device_id=device_id(hass, entry), **NEEDED.get(action, {}))
    assert await writes(bench) == before


async def test_who_may_only_read_is_answered(
    hass: HomeAssistant, entry: MockConfigEntry, hass_read_only_user: MockUser
) -> None:
    assert await call(hass, "get_schedule", hass_read_only_user, device_id=device_id(hass, entry))
