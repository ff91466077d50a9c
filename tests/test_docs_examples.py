"""The triggers and conditions that the documents show: the platform takes each as an automation."""

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

PAGE = Path(__file__).parents[1] / "docs" / "entities-and-actions.md"
BLOCKS = [
    yaml.safe_load(text) for text in re.findall(r"^```yaml\n(.*?)^```", PAGE.read_text(), re.DOTALL | re.MULTILINE)
]
EXAMPLES: list[dict[str, Any]] = [block for block in BLOCKS if "trigger" in block or "condition" in block]


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
