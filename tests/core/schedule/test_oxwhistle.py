"""A list of times on the bench's Oxwhistle, in another process and over real TCP; registers worked by hand from its document."""

from collections.abc import AsyncIterator
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, LineError
from custom_components.chargehand.core.registers import load_map
from custom_components.chargehand.core.schedule.commit import NotTaken, Uncertain
from custom_components.chargehand.core.schedule.receipt import Outcome
from custom_components.chargehand.core.schedule.request import Rejected, ScheduleRequest, WindowRequest
from tests.bench.remote import Bench

from .quick_inverter import PATIENCE

MAP = Path(__file__).parents[3] / "custom_components" / "chargehand" / "maps" / "oxwhistle_ow4.yaml"
# Register 830 of the document is 829 on the wire.
ENABLED, TIMES, POWERS, LEVELS, CHARGING = 829, 830, 840, 850, 860


@pytest.fixture
def declared(declared: frozenset[int]) -> frozenset[int]:
    """What may be written: what the document lists from 830 to 866."""
    rows = (TIMES, POWERS, LEVELS, CHARGING)
    return declared | {ENABLED, *(first + point for first in rows for point in range(6))}


@pytest.fixture
async def oxwhistle(socket_enabled: None) -> AsyncIterator[tuple[Bench, Inverter]]:
    async with await Bench.start(inverter="oxwhistle", baud=921_600, turnaround_ms=1) as bench:
        gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing.TCP))
        yield bench, Inverter(load_map(MAP), Line(gateway, unit=1, timeout_ms=100), ZoneInfo("UTC"))
        gateway.close()


async def held(bench: Bench) -> dict[str, list[int]]:
    rows = {"times": TIMES, "powers": POWERS, "levels": LEVELS, "charging": CHARGING}
    return {name: await bench.registers("holding", first, 6) for name, first in rows.items()}


def charge(start: str, end: str, power: float, level: float) -> WindowRequest:
    return WindowRequest(start=start, end=end, power=power, stop_level=level)


async def test_the_list_is_read_as_its_charge_windows(oxwhistle: tuple[Bench, Inverter]) -> None:
    _, inverter = oxwhistle
    schedule = await inverter.read_schedule()
    used = [(one.start, one.end, one.power, one.stop_level, one.days) for one in schedule.charge if one.used]
    # Part 6 has bit 1 alone: a generator's charging is no window of ours.
    assert used == [(30, 4 * 60 + 30, 3000.0, 90.0, None)]
    assert schedule.discharge == ()
    assert schedule.armed is True


async def test_windows_are_written_switched_off_and_read_back(oxwhistle: tuple[Bench, Inverter]) -> None:
    bench, inverter = oxwhistle
    before = len(await bench.acted())
    wanted = [charge("13:00", "14:30", 2000, 60), charge("22:30", "05:00", 4000, 95)]
    done = await inverter.apply(ScheduleRequest(charge=wanted))
    assert done.receipt.outcome is Outcome.CONFIRMED
    # Four times are needed; of those that were there 04:30 lies in the night, and 00:30 too: 07:00 and 12:00 are kept.
    # Between the windows: 4600 W and 20 %, what part 2 had, the first without charging. Bit 1 of part 6 is as it was.
    assert await held(bench) == {
        "times": [500, 700, 1200, 1300, 1430, 2230],
        "powers": [4600, 4600, 4600, 2000, 4600, 4000],
        "levels": [20, 20, 20, 60, 20, 95],
        "charging": [0, 0, 0, 1, 0, 0b11],
    }
    assert await bench.registers("holding", ENABLED) == [0xFF]
    acted = [one["windows"] for one in (await bench.acted())[before:]]
    assert acted[0] == [], "it is switched off first"
    assert all(not windows for windows in acted[:-1]), "and on last"
    now = await inverter.read_schedule()
    assert [(one.start, one.end) for one in now.charge if one.used] == [(780, 870), (1350, 300)]
    again = await inverter.apply(ScheduleRequest(charge=wanted))
    assert again.receipt.outcome is Outcome.UNCHANGED


async def test_the_earlier_list_is_put_back_as_it_was(oxwhistle: tuple[Bench, Inverter]) -> None:
    bench, inverter = oxwhistle
    before = await held(bench)
    done = await inverter.apply(ScheduleRequest(charge=[charge("22:30", "05:00", 4000, 95)]))
    assert await held(bench) != before
    await inverter.put_image(done.before)
    assert await held(bench) == before


async def test_windows_that_need_more_points_are_refused_before_anything_is_sent(
    oxwhistle: tuple[Bench, Inverter],
) -> None:
    bench, inverter = oxwhistle
    apart = [charge(f"{hour:02d}:00", f"{hour + 1:02d}:00", 2000, 60) for hour in (1, 4, 7, 10)]
    with pytest.raises(Rejected) as refused:
        await inverter.apply(ScheduleRequest(charge=apart))
    (reason,) = refused.value.reasons
    assert (reason.key, dict(reason.values)) == ("list_full", {"needed": "8", "possible": "6"})
    assert not [one for one in await bench.journal() if one["function"] == 16]


async def test_days_set_elsewhere_are_told_and_every_day_again_once_it_is_written(
    oxwhistle: tuple[Bench, Inverter],
) -> None:
    bench, inverter = oxwhistle
    # On, Saturday and Sunday: bits 6 and 7.
    await bench.set(ENABLED, [0b11000001])
    held_before = await inverter.read_schedule()
    assert held_before.charge[0].days == (5, 6)
    done = await inverter.apply(ScheduleRequest(charge=[charge("00:30", "04:30", 3000, 90)]))
    told = [(change.what, change.was, change.now) for change in done.receipt.changes]
    assert told == [("charge_window_1_days", "saturday,sunday", "every_day")]
    assert await bench.registers("holding", ENABLED) == [0xFF]


# ---- faults

FAULTS = (
    ("answer_lost", {}, (1,)),
    ("exception", {"code": 3}, (1, None)),
    ("exception", {"code": 4}, (1, None)),
    ("write_ignored", {}, (1,)),
)
"""What goes wrong at one request, and how often: once, or ever after."""

TWO = (charge("13:00", "14:30", 2000, 60), charge("22:30", "05:00", 4000, 95))


async def whole(bench: Bench) -> list[int]:
    """What lets the list act, and the list, as the bench says what acts."""
    rows = await held(bench)
    return [*await bench.registers("holding", ENABLED), *(value for row in rows.values() for value in row)]


async def put(bench: Bench, values: list[int]) -> None:
    await bench.set(ENABLED, values[:1])
    for at, first in enumerate((TIMES, POWERS, LEVELS, CHARGING)):
        await bench.set(first, values[1 + 6 * at : 7 + 6 * at])


@pytest.mark.parametrize(
    ("kind", "order", "counts"), FAULTS, ids=lambda value: value if isinstance(value, str) else str(value)
)
async def test_no_fault_lets_a_list_act_that_nobody_asked_for(
    oxwhistle: tuple[Bench, Inverter], kind: str, order: dict[str, int], counts: tuple[int | None, ...]
) -> None:
    bench, inverter = oxwhistle
    inverter.commit_rules.patience = PATIENCE
    old = await whole(bench)
    requests = len(await bench.journal())
    await inverter.apply(ScheduleRequest(charge=TWO))
    new = await whole(bench)
    requests = len(await bench.journal()) - requests
    ends = set[str]()
    for nth in range(1, requests + 1):
        for count in counts:
            await put(bench, old)
            since = len(await bench.acted())
            await bench.fault(kind, nth=nth, count=count, **order)
            try:
                await inverter.apply(ScheduleRequest(charge=TWO))
                end = "taken"
            except (NotTaken, Uncertain, LineError) as error:
                end = type(error).__name__
            await bench.clear_faults()
            ends.add(end)
            passed = [one["windows"] for one in (await bench.acted())[since:]]
            assert all(one in ([], old, new) for one in passed), (nth, count, passed)
            now = await whole(bench)
            if end == "taken":
                assert now == new, (nth, count)
            elif end != "Uncertain":
                assert now == old, (nth, count, end)
    assert "taken" in ends
    assert len(ends) > 1 or None not in counts
