"""The triggers, conditions and automations that the documents show: the platform takes each."""

import re
from pathlib import Path
from typing import Any

import pytest
import voluptuous as vol
import yaml
from homeassistant.components.automation.config import ValidationStatus, async_validate_config_item
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component

from custom_components.chargehand.condition import CONDITIONS
from custom_components.chargehand.trigger import TRIGGERS

DOCS = Path(__file__).parents[1] / "docs"


def blocks(page: str) -> list[Any]:
    """The examples in YAML of a page."""
    found = re.findall(r"^```yaml\n(.*?)^```", (DOCS / page).read_text(), re.DOTALL | re.MULTILINE)
    return [yaml.safe_load(text) for text in found]


EXAMPLES: list[dict[str, Any]] = [
    block for block in blocks("entities-and-actions.md") if "trigger" in block or "condition" in block
]
AUTOMATIONS: list[dict[str, Any]] = [
    block
    for page in ("entities-and-actions.md", "moving-in.md")
    for block in blocks(page)
    if "triggers" in block and "actions" in block
]
MESSAGES: list[list[dict[str, Any]]] = [block for block in blocks("automations.md") if isinstance(block, list)]


@pytest.fixture
async def automations(hass: HomeAssistant) -> None:
    """Chargehand and the automations are there."""
    assert await async_setup_component(hass, "chargehand", {})
    assert await async_setup_component(hass, "automation", {})


async def validate(hass: HomeAssistant, example: dict[str, Any]) -> None:
    """Let the platform validate an automation made of one example. Raises vol.Invalid."""
    automation = {
        "alias": "Example",
        "triggers": [example if "trigger" in example else {"trigger": "event", "event_type": "x"}],
        "conditions": [example] if "condition" in example else [],
        "actions": [],
    }
    validated = await async_validate_config_item(hass, "example", automation)
    assert validated is not None
    assert validated.validation_status is ValidationStatus.OK, example


async def check(hass: HomeAssistant, automation: dict[str, Any]) -> ValidationStatus:
    """What the platform says of a whole automation."""
    validated = await async_validate_config_item(hass, "example", automation)
    assert validated is not None
    return validated.validation_status


@pytest.mark.parametrize("automation", AUTOMATIONS, ids=lambda automation: automation["alias"])
async def test_the_platform_takes_each_automation(
    hass: HomeAssistant, automations: None, automation: dict[str, Any]
) -> None:
    assert await check(hass, automation) is ValidationStatus.OK


async def test_the_platform_takes_the_actions_that_tell(hass: HomeAssistant, automations: None) -> None:
    assert len(MESSAGES) == 2
    for actions in MESSAGES:
        automation = {"alias": "Example", "triggers": [{"trigger": "event", "event_type": "x"}], "actions": actions}
        assert await check(hass, automation) is ValidationStatus.OK


def test_each_trigger_and_condition_has_one_example() -> None:
    shown = sorted(example.get("trigger") or example["condition"] for example in EXAMPLES)
    assert shown == sorted(f"chargehand.{name}" for name in (*TRIGGERS, *CONDITIONS))


async def test_the_platform_takes_each_example_and_not_one_with_an_unknown_option(
    hass: HomeAssistant, automations: None
) -> None:
    for example in EXAMPLES:
        await validate(hass, example)
        wrong = example | {"options": {**example.get("options", {}), "no_such_option": 1}}
        with pytest.raises(vol.Invalid, match="no_such_option"):
            await validate(hass, wrong)
