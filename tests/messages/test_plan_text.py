"""Why a plan is as it is, in the words that a running Home Assistant has loaded."""

import pytest
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.messages import plan_text, unknown_house_text
from tests.core.planning.given import plan_of
from tests.core.planning.plan_words import why


@pytest.mark.parametrize(("country", "until"), [("GB", "Tomorrow until 20:00"), ("US", "Tomorrow until 8:00 PM")])
async def test_the_end_of_a_plan_is_shown_as_the_house_writes_times(
    hass: HomeAssistant, entry: MockConfigEntry, country: str, until: str
) -> None:
    hass.config.country = country
    assert plan_text(plan_of(load=11, hours=24).reason).startswith(f"{until} likely needs")


async def test_the_sentence_is_the_one_that_the_tests_of_the_numbers_read(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    for load in (0.5, 5, 11, 30):
        reason = plan_of(load=load).reason
        assert plan_text(reason, "GBP") == why(reason, "GBP")


async def test_a_house_of_which_too_little_is_known(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    unknown = "Too little is known of what this house uses"
    assert unknown_house_text(80) == f"{unknown}: charging to the fixed level of 80 % in the cheapest hours."
    assert unknown_house_text(None) == f"{unknown}, and no hour is cheap enough to charge to the fixed level."
