"""What users read of the order for tonight's charge."""

from collections.abc import Mapping
from typing import Any

from homeassistant.core import callback

from ..core.order import Order
from ..core.schedule import Schedule
from .house_time import moment_text
from .order_report import OrderReport
from .read_back_text import read_back_text
from .schedule_text import schedule_text
from .texts import ended, sentence, text


@callback
def tonight_done(made: Mapping[str, Any], receipt: Mapping[str, Any], *, late_tries: int = 0) -> OrderReport | None:
    """Return what is on the inverter, and why; None where it was not the time to charge, and nothing was set to.

    `late_tries` counts the tries that had failed, where the hours had begun before it worked.
    """
    blind = made["basis"] == "fallback"
    switched_off = not made["wanted"] and receipt["outcome"] != "unchanged"
    if not (made["wanted"] or switched_off or blind or late_tries):
        return None
    sentences = [sentence("order_worked", tries=str(late_tries))] if late_tries else []
    if blind:
        sentences.append(_without_plan(made))
    elif made["plan"] is not None:
        sentences.append(made["plan"]["why"])
    if switched_off:
        sentences.append(sentence("tonight_switched_off"))
    elif made["wanted"]:
        sentences.append(read_back_text(made["charge"], receipt["adjusted"]))
    return OrderReport(
        title=text("tonight_title_off" if switched_off else "tonight_title_no_plan" if blind else "tonight_title"),
        message=" ".join(sentences),
        important=bool(blind or switched_off or late_tries),
    )


@callback
def tonight_done_later(order: Order, held: Schedule | None) -> OrderReport:
    """Return that an order is done of which Home Assistant, restarted since, no longer knows the plan."""
    message = f"{sentence('order_worked', tries=str(order.tries))} {_held(held)}"
    return OrderReport(title=text("tonight_title"), message=message, important=True)


@callback
def tonight_waits(order: Order, held: Schedule | None, *, off: bool) -> OrderReport:
    """Return why an order waits, and how long."""
    failed = "tonight_try_failed" if order.tries == 1 else "tonight_tries_failed"
    sentences = [
        sentence(failed, tries=str(order.tries)),
        ended(order.why or ""),
        _held(held),
        sentence("tonight_again", until=moment_text(order.until)),
    ]
    return OrderReport(title=_not_done(off=off), message=" ".join(sentences), important=True)


@callback
def tonight_failed(reason: str, held: Schedule | None, *, off: bool) -> OrderReport:
    """Return why an order ended without being done."""
    sentences = [ended(reason), _held(held), sentence("tonight_not_again")]
    return OrderReport(title=_not_done(off=off), message=" ".join(sentences), important=True)


def _not_done(*, off: bool) -> str:
    return text("tonight_title_not_off" if off else "tonight_title_not_set")


def _held(held: Schedule | None) -> str:
    return sentence("tonight_held_unknown") if held is None else sentence("order_holds", holds=schedule_text(held))


def _without_plan(made: Mapping[str, Any]) -> str:
    instead = "level" if made["wanted"] else "season"
    if made["why_no_plan"] is None:
        return sentence(f"tonight_unknown_house_{instead}")
    return f"{sentence(f'tonight_no_plan_{instead}')} {ended(made['why_no_plan'])}"
