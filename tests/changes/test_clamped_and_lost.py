"""An inverter that makes less of a change than was asked, and a gateway that is lost at any request of it: never another hand's."""

from contextlib import suppress
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.calls import act, record_events, state
from tests.changes.order_calls import answers_again, poll_later
from tests.changes.test_orders_under_faults import back_again, quiet
from tests.changes.test_schedule_monitor import issue
from tests.teasel import LATER, TONIGHT, held

__all__ = ["quiet"]

LIMIT_W = 2500
"""What the inverter makes of more, from the change on."""

WEAK, STRONG = LATER, [{**LATER[0], "power": 3500}]
"""Earlier schedules: the inverter would take the first again, and makes something else of the second."""


def status(hass: HomeAssistant) -> str:
    return state(hass, "sensor", "schedule_status").state


async def clamped_change(hass: HomeAssistant, entry: MockConfigEntry, bench: Bench, earlier: Any, **loss: Any) -> None:
    """Go from a confirmed schedule to another one, of which the inverter makes something else; the gateway is lost meanwhile."""
    await back_again(hass, entry, bench)
    await act(hass, entry, "apply_schedule", charge=earlier)
    await bench.fault("write_clamped", limit=LIMIT_W, count=None)
    if loss:
        await bench.fault(**loss, count=None)
    with suppress(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=TONIGHT)


CASES = [
    pytest.param(STRONG, "reset", True, 5, id="some requests"),
    *(
        pytest.param(
            earlier,
            kind,
            still,
            1,
            # Half a minute each.
            marks=pytest.mark.long,
            id=f"{'takes' if earlier is WEAK else 'clamps'} the earlier one, {kind}, {'still' if still else 'no longer'} clamps",
        )
        for earlier in (WEAK, STRONG)
        for kind in ("no_answer", "reset", "answer_lost")
        for still in (True, False)
    ),
]
"""What the inverter held before, how the gateway is lost, whether the inverter clamps on, and at each how manyth request it is lost."""


@pytest.mark.parametrize(("earlier", "kind", "still", "every"), CASES)
async def test_a_loss_at_any_request_of_a_clamped_change_is_never_told_as_another_hands(
    hass: HomeAssistant,
    bench: Bench,
    quiet: MockConfigEntry,
    earlier: Any,
    kind: str,
    still: bool,
    every: int,
    record_property: Any,
) -> None:
    kinds = record_events(hass, "chargehand_schedule", "type")
    await act(hass, quiet, "apply_schedule", charge=earlier)
    whole = await held(bench)
    since = (await bench.journal())[-1]["n"]
    await clamped_change(hass, quiet, bench, earlier)
    requests = len(await bench.journal(since))
    clamps = 0
    for nth in range(1, requests + 1, every):
        kinds.clear()
        await clamped_change(hass, quiet, bench, earlier, kind=kind, nth=nth)
        await bench.clear_faults()
        if still:
            await bench.fault("write_clamped", limit=LIMIT_W, count=None)
        # After a lost connection the line waits before it opens another.
        await answers_again(quiet, bench)
        for _ in range(3):
            await poll_later(hass, quiet)
        assert "changed_elsewhere" not in kinds, nth
        holds = await held(bench)
        if holds == whole:
            assert status(hass) == "confirmed", nth
            continue
        clamps += 1
        assert status(hass) == "unconfirmed", nth
        assert issue(hass, quiet, "changed_elsewhere") is None
        doubt = issue(hass, quiet, "schedule_uncertain")
        assert doubt is not None
        assert doubt.translation_placeholders is not None
        assert "2500 W" in doubt.translation_placeholders["reason"], "what it holds is said"
    assert clamps, "nothing was left that nobody had asked for"
    record_property("cases: losses in a clamped change", len(range(0, requests, every)))
