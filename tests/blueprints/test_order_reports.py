"""What an order reports to automations, in a house whose time is moved: that it waits after three tries, and how it ended."""

from typing import Any

from homeassistant.core import callback

from tests.blueprints.conftest import MoveIn
from tests.blueprints.house import MovedHouse
from tests.calls import act, device_id, state
from tests.teasel import TONIGHT, WANTED, held


async def away(move_in: MoveIn) -> tuple[MovedHouse, list[dict[str, Any]]]:
    """A house whose inverter went away just before an order until 04:50, and what is reported from then on."""
    house = await move_in("2026-01-10 22:45", level=40)
    house.hurry()
    reports: list[dict[str, Any]] = []
    house.hass.bus.async_listen("chargehand_order", callback(lambda event: reports.append(dict(event.data))))
    await house.bench.gateway(down=True)
    await house.go("2026-01-10 22:50")
    answer = await act(house.hass, house.entry, "apply_schedule", charge=TONIGHT, until="04:50")
    assert answer["outcome"] == "waiting"
    return house, reports


async def test_an_inverter_that_is_silent_is_reported_at_the_third_try_and_when_it_worked(move_in: MoveIn) -> None:
    house, reports = await away(move_in)
    # Polls are a minute apart; tries count 1 and 3 min after the first.
    await house.go("2026-01-10 22:52")
    assert reports == []
    await house.go("2026-01-10 22:54")
    await house.go("2026-01-10 22:58")
    (report,) = reports
    assert report["device_id"] == device_id(house.hass, house.entry)
    assert (report["what"], report["state"], report["tries"], report["important"]) == (
        "apply_schedule", "waiting", 3, True,
    )  # fmt: skip
    assert report["message"] == (
        "3 tries failed. The inverter does not answer. The inverter's schedule could not be read. "
        "Chargehand tries again until 04:50."
    )
    await house.bench.gateway(down=False)
    await house.go("2026-01-10 22:59:30")
    assert await held(house.bench) == WANTED
    assert [one["state"] for one in reports] == ["waiting", "done"]
    assert reports[1]["message"].startswith("It worked after 4 tries. The inverter holds: charge 01:00–05:00")
    assert reports[1]["important"]


async def test_an_order_that_worked_at_its_second_try_is_reported_as_nothing_important(move_in: MoveIn) -> None:
    house, reports = await away(move_in)
    await house.bench.gateway(down=False)
    await house.go("2026-01-10 22:51:30")
    assert await held(house.bench) == WANTED
    (report,) = reports
    assert (report["state"], report["important"]) == ("done", False)
    assert not report["message"].startswith("It worked")


async def test_an_order_whose_time_is_over_is_reported(move_in: MoveIn) -> None:
    house, reports = await away(move_in)
    for moment in ("2026-01-10 23:30", "2026-01-11 01:00", "2026-01-11 04:49", "2026-01-11 04:50:30"):
        await house.go(moment)
    assert state(house.hass, "sensor", "order").state == "expired"
    assert reports[-1]["state"] == "expired"
    assert "the time is over. The inverter does not answer." in reports[-1]["message"]
    assert reports[-1]["title"] == "An order is not carried out: apply schedule"
