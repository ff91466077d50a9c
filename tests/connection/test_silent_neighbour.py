"""Five inverters behind one gateway: one that is silent does not take the line from the others."""

from homeassistant.core import HomeAssistant

from tests.bench.remote import Bench
from tests.conftest import QUICK, AddInverter
from tests.polls import counted_polls
from tests.waiting import until

UNITS = range(1, 6)
SILENT = UNITS[-1]
POLLS = 3
"""How many polls of each of the others are looked at."""


async def test_one_that_is_silent_costs_the_line_one_request_a_poll(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    # The gateway waits a little longer than the map has Chargehand wait, so that it says nothing of the silent one.
    async with await Bench.start(**QUICK, units=list(UNITS), gateway_timeout_ms=1100) as bench:
        coordinators = {}
        for unit in UNITS:
            # Slow polls would only make the figures coarser.
            entry = await add_inverter(bench.port, unit=unit, unique_id=f"T5-AM-2611-{41 + unit:04}", fast_seconds=1.0)
            coordinators[unit] = entry.runtime_data
        polls = {unit: counted_polls(coordinator) for unit, coordinator in coordinators.items()}
        silent, others = polls[SILENT], [polls[unit] for unit in UNITS[:-1]]
        await bench.inverter(answers=False, unit=SILENT)
        # Until it is known to be silent, each of its requests is repeated.
        await until(lambda: not coordinators[SILENT].last_update_success)

        for each in polls.values():
            each.clear()
        before, reached = (await bench.stats())["requests"], len(await bench.journal())
        await until(lambda: silent.begun > 0 and all(each.answered >= POLLS for each in others))
        # What reached an inverter is in the journal; on the line were those to the silent one too.
        in_vain = (await bench.stats())["requests"] - before - (len(await bench.journal()) - reached)
        assert in_vain <= silent.begun + 1, "one may have been on its way"
        assert not silent.answered
        assert [each.failed for each in others] == [0] * len(others)

        await bench.inverter(answers=True, unit=SILENT)
        silent.clear()
        await until(lambda: silent.answered > 0)
        assert silent.failed <= 1, "back within one poll; that which was at work may be lost still"
