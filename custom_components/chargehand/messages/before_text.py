"""What users read of a charge before expensive hours."""

from collections.abc import Mapping, Sequence
from typing import Any

from homeassistant.core import callback

from .order_report import OrderReport
from .read_back_text import read_back_text
from .texts import ended, sentence, text


@callback
def before_text(
    plan: Mapping[str, Any] | None,
    no_plan: str | None,
    charge: Sequence[Mapping[str, Any]],
    adjusted: Sequence[Mapping[str, str]],
) -> OrderReport:
    """Return what was read back from the inverter, and why it was chosen.

    `plan` is None where none was made; `no_plan` says why none counts, as the key of a text, None where the plan counts or none was asked for.
    """
    sentences = [plan["why"]] if plan is not None else []
    if no_plan is not None:
        sentences.append(sentence(no_plan))
    title = "before_title_no_plan" if no_plan is not None else "order_charge_before_set"
    return OrderReport(
        title=text(title),
        message=" ".join([*sentences, read_back_text(charge, adjusted)]),
        important=no_plan is not None,
    )


@callback
def before_not_asked(why: str) -> OrderReport:
    """Return why no order was given; whoever gives the prices may give others later."""
    return OrderReport(title=text("order_charge_before_not_set"), message=ended(why), important=True)
