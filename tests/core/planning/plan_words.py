"""A plan's reason in the words of the translations, where no Home Assistant runs that has them loaded."""

import json
from pathlib import Path
from unittest.mock import patch

from custom_components import chargehand
from custom_components.chargehand.core.planning import PlanReason
from custom_components.chargehand.messages import plan_text

MODULE = "custom_components.chargehand.messages.plan_text"
TEXTS: dict[str, dict[str, str]] = json.loads((Path(chargehand.__file__).parent / "translations/en.json").read_text())[
    "exceptions"
]


def why(reason: PlanReason, currency: str = "") -> str:
    """Return the sentence, with times of 24 hours."""

    def text(key: str, **values: str) -> str:
        return TEXTS[key]["message"].format(**values)

    def minute_text(minute: int) -> str:
        return f"{minute // 60:02d}:{minute % 60:02d}"

    with patch(f"{MODULE}.text", text), patch(f"{MODULE}.minute_text", minute_text):
        return plan_text(reason, currency)
