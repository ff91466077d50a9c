"""The morning's report of a night's charge, in words."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from homeassistant.core import callback

from ..core.night_facts import NightFacts
from ..core.reasons import Reason
from .reason_texts import reason_text
from .schedule_text import schedule_text, window_text
from .texts import sentence, text


@dataclass(frozen=True, kw_only=True, slots=True)
class NightReport:
    """A title and a message, and two parts of it: why the night was short (None: it was not), and what the inverter holds."""

    title: str
    message: str
    reason: str | None
    holds: str | None


@callback
def night_report(facts: NightFacts, reason: Reason | None, currency: str) -> NightReport:
    """Return the report. `reason` says why the night was short; None: it was not. Money is in `currency`."""
    why = None if reason is None else _reason_text(facts, reason)
    return NightReport(
        title=_title_text(_title(facts, short=reason is not None)),
        message=" ".join(_sentences(facts, why, currency)),
        reason=why,
        holds=_holds(facts),
    )


@callback
def lowest_level_report(facts: NightFacts, reason: Reason, lowest: float) -> NightReport:
    """Return the report that the battery is now below its lowest level in %, and why."""
    why, holds, level = _reason_text(facts, reason), _holds(facts), facts.level_now
    below = (
        _sentence("below_lowest_unknown", lowest=_whole(lowest))
        if level is None
        else _sentence("below_lowest", level=_whole(level), lowest=_whole(lowest))
    )
    held = _sentence("not_read") if holds is None else _sentence("holds", holds=holds)
    return NightReport(
        title=_title_text("below_lowest"),
        message=" ".join((below, _sentence("why", reason=why), held)),
        reason=why,
        holds=holds,
    )


def _title(facts: NightFacts, *, short: bool) -> str:
    if facts.level is None:
        return "unknown"
    if not short:
        return "normal"
    return "disturbed" if facts.disturbed else "lower"


def _sentences(facts: NightFacts, why: str | None, currency: str) -> Iterator[str]:
    plan = facts.plan
    yield _level_text(facts)
    if facts.acting:
        yield _sentence("acting")
    if facts.grid_charge_kwh is not None and not facts.none_planned:
        energy = f"{facts.grid_charge_kwh:.1f}"
        if plan is not None and plan.cost is not None:
            yield _sentence("energy_and_cost", energy=energy, cost=_money(plan.cost, currency))
        else:
            yield _sentence("energy", energy=energy)
    elif facts.planned is not None:
        yield _sentence("energy_unknown")
    if plan is not None and plan.saving is not None:
        key = "saved" if plan.saving >= 0 else "cost_more"
        yield _sentence(key, money=_money(abs(plan.saving), currency))
    elif plan is not None and plan.expected_saving is not None and facts.planned is not None:
        yield _sentence("expected_saving", money=_money(plan.expected_saving, currency))
    if why is not None:
        yield _sentence("why", reason=why)
    if plan is not None and plan.why:
        yield _sentence("plan", why=plan.why.removesuffix("."))


def _level_text(facts: NightFacts) -> str:
    reached, now, planned = facts.reached, facts.level_now, facts.planned
    if facts.none_planned and reached is not None:
        return _sentence("none_planned_end", level=_whole(reached))
    if facts.none_planned and now is not None:
        return _sentence("none_planned_now", level=_whole(now))
    if reached is not None:
        if planned is None:
            return _sentence("reached", reached=_whole(reached))
        return _sentence("reached_of_planned", reached=_whole(reached), planned=_whole(planned))
    if now is not None:
        if planned is None:
            return _sentence("level_now", level=_whole(now))
        return _sentence("level_now_of_planned", level=_whole(now), planned=_whole(planned))
    return _sentence("nothing_known") if planned is None else _sentence("planned", planned=_whole(planned))


def _reason_text(facts: NightFacts, reason: Reason) -> str:
    windows = " and ".join(window_text(replace(one.window, stop_level=None), "window_at") for one in facts.ended)
    return reason_text(Reason(key=reason.key, values={**reason.values, "windows": windows}))


def _holds(facts: NightFacts) -> str | None:
    return None if facts.held is None else schedule_text(facts.held)


def _whole(value: float) -> str:
    return f"{value:.0f}"


def _money(value: float, currency: str) -> str:
    return f"{value:.2f} {currency}"


def _title_text(key: str) -> str:
    return text(f"report_title_{key}")


def _sentence(key: str, **values: str) -> str:
    return sentence(f"report_{key}", **values)
