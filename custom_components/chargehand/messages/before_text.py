"""What a charge before expensive hours came to, in words."""

from collections.abc import Mapping, Sequence
from typing import Any

from homeassistant.core import callback

from .adjusted_text import adjusted_text
from .house_time import time_shown
from .order_report import OrderReport, sentence
from .texts import text


@callback
def before_text(
    plan: Mapping[str, Any] | None, no_plan: str | None, charge: Sequence[Mapping[str, Any]], adjusted: Sequence[Any]
) -> OrderReport:
    """Return what was read back from the inverter, and why it was chosen.

    `plan` is None where none was made; `no_plan` says why none counts, as the key of a text, None where the plan counts or none was asked for.
    """
    texts = [plan["why"]] if plan is not None else []
    if no_plan is not None:
        texts.append(sentence(no_plan))
    windows = ", ".join(_window(window) for window in charge)
    texts.append(sentence("before_read_back", windows=windows) if windows else sentence("before_nothing"))
    texts += [adjusted_text(one) for one in adjusted]
    title = "before_title_no_plan" if no_plan is not None else "order_charge_before_set"
    return OrderReport(title=text(title), message=" ".join(texts), important=no_plan is not None)


@callback
def before_not_asked(why: str) -> OrderReport:
    """Return why no order was given; whoever gives the prices may give others later."""
    title = async_get_exception_message(DOMAIN, "order_charge_before_not_set", {})
    return OrderReport(title=title, message=f"{why.rstrip('.')}.", important=True)


def _window(window: Mapping[str, Any]) -> str:
    key = "window_level" if "stop_level" in window else "window"
    level = f"{window.get('stop_level', 0):g}"
    return text(key, start=time_shown(window["start"]), end=time_shown(window["end"]), level=level)
