"""Expensive hours hold: dated prices from each source, which hours are charged in, and what the user is told."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from importlib import import_module
from typing import Any

import pytest
from homeassistant.core import ServiceCall, SupportsResponse
from homeassistant.exceptions import HomeAssistantError

from custom_components.chargehand.coordinator import ChargehandCoordinator
from tests.actions.test_plan_charge import BATTERY, TARIFF
from tests.bench.teasel import CHARGE, CONTROL_WORD, WINDOWS
from tests.blueprints.conftest import MoveIn
from tests.blueprints.house import LONDON, MovedHouse, london
from tests.calls import act
from tests.teasel import EVENING, held

PRICES = "sensor.alder_mill_prices"
CHEAPEST = {
    "way": "cheapest", "need": 80, "capacity": 10, "draws": 300, "limit": 3000, "hold": False, "price_sensor": PRICES,
}  # fmt: skip

type Price = Callable[[datetime], float]


def cheap(*hours: float, at: float = 0.10, expensive: float = 0.40, else_: float = 0.25) -> Price:
    """Cheap in the half hours that begin at these times of the clock, expensive from 17:00 to 21:00."""
    return lambda t: at if t.hour + t.minute / 60 in hours else expensive if 17 <= t.hour < 21 else else_


NIGHT = cheap(2, 2.5, 3, 3.5)


def rows(first: str, last: str, price: Price, **names: str) -> list[dict[str, Any]]:
    """Half-hourly prices, in the keys that a sensor of this house has."""
    names = {"start": "start", "end": "end", "buy": "buy"} | names
    found, at = [], london(first).astimezone(tz=None)
    while at < london(last).astimezone(tz=None):
        shown, end = at.astimezone(LONDON), (at + timedelta(minutes=30)).astimezone(LONDON)
        found.append({names["start"]: shown.isoformat(), names["end"]: end.isoformat(), names["buy"]: price(shown)})
        at += timedelta(minutes=30)
    return found


def show(house: MovedHouse, prices: Any, state: str = "0.25", attribute: str = "prices") -> None:
    """The sensor of the house's prices."""
    house.hass.states.async_set(PRICES, state, {} if prices is None else {attribute: prices})


async def evening(house: MovedHouse, day: str = "2026-01-10") -> None:
    """Through the minute at which the hours are chosen."""
    await house.go(f"{day} 21:59:50")
    await house.go(f"{day} 22:00:20")


async def windows(house: MovedHouse) -> list[list[int]]:
    """Start, end and stop level of the charge windows that the inverter holds and acts on, as hhmm and %."""
    assert await house.bench.registers("holding", CONTROL_WORD) == [1]
    places = [await held(house.bench, window) for window in CHARGE]
    return [[start, end, stop] for start, _, stop, end in places if start != end]


async def test_it_charges_in_the_cheapest_hours_and_a_second_time_changes_nothing(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60, load=300)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    entity = await house.automate("expensive_hours_hold", **CHEAPEST, tell_chosen=True)
    await evening(house)
    # 20 % of 10 kWh and 1.2 kWh that the house takes until 02:00, at 3000 W, and a tenth more: 1.2 h.
    assert await windows(house) == [[230, 400, 80]]
    assert "charge 02:30–04:00 to 80 %" in house.told[0]["message"]
    before = await house.writes()
    await house.hass.services.async_call("automation", "trigger", {"entity_id": entity}, blocking=True)
    await house.settle()
    assert await house.writes() == before
    assert len(house.told) == 2
    await house.go("2026-01-11 03:59")
    assert await house.level() == pytest.approx(80, abs=1)


async def test_the_charge_is_kept_until_the_expensive_hours(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=30, load=500)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"hold": True}))
    await evening(house)
    assert await windows(house) == [[200, 1700, 80]]
    await house.go("2026-01-11 04:30")
    assert await house.level() == pytest.approx(80, abs=1)
    await house.go("2026-01-11 16:59")
    assert await house.level() == pytest.approx(80, abs=1), "half a day of the house's use came from the grid"
    await house.go("2026-01-11 19:00")
    assert await house.level() < 72, "and now it comes from the battery"
    assert house.told == []


async def test_a_battery_that_is_full_enough_is_kept_so_from_the_cheapest_hour(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=90, load=500)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"hold": True, "need": 50}))
    await evening(house)
    assert await windows(house) == [[330, 1700, 50]]
    await house.go("2026-01-11 03:31")
    level = await house.level()
    assert 50 < level < 62
    await house.go("2026-01-11 16:59")
    assert await house.level() == pytest.approx(level, abs=1)


async def test_between_two_cheap_times_the_battery_rests_as_well(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=20, load=500)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", cheap(2, 2.5, 12, 12.5)))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"hold": True, "draws": 0, "need": 70, "limit": 2750}))
    await evening(house)
    assert await windows(house) == [[200, 300, 70], [300, 1200, 10], [1200, 1700, 70]]
    await house.go("2026-01-11 03:01")
    after_first = await house.level()
    assert 40 < after_first < 50
    await house.go("2026-01-11 11:59")
    assert await house.level() == pytest.approx(after_first, abs=1)
    await house.go("2026-01-11 16:59")
    assert await house.level() == pytest.approx(70, abs=1)


async def test_no_more_windows_than_there_is_room_for(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=20)
    price = cheap(1, 3, 5, 6, 13, at=0.10, else_=0.25)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", price))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"draws": 0, "need": 70}))
    await evening(house)
    # 1.8 h: four half hours, of which three may be apart; the fourth joins two of them.
    assert await windows(house) == [[500, 630, 70], [1300, 1330, 70]]


async def test_with_one_window_the_cheapest_stretch_is_taken(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=20)
    # The cheapest half hour of all stands alone among expensive ones.
    night = {2.0: 0.12, 2.5: 0.12, 3.0: 0.12, 3.5: 0.12, 9.0: 0.05}
    show(
        house,
        rows("2026-01-10 00:00", "2026-01-12 00:00", lambda t: night.get(t.hour + t.minute / 60, 0.40)),
    )
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"draws": 0, "need": 70, "places": 1}))
    await evening(house)
    assert await windows(house) == [[200, 400, 70]]


async def test_a_need_in_kwh_is_above_the_reserve(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=40)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"need": 5, "need_unit": "energy", "reserve": 15}))
    await evening(house)
    assert (await windows(house))[-1][1:] == [400, 65]


async def test_nothing_needed_takes_the_windows_away(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=95)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"draws": 0}))
    await evening(house)
    assert await windows(house) == []
    assert house.told == []


async def test_the_deadline_is_kept(move_in: MoveIn) -> None:
    """The cheapest hours of all come after the expensive ones have begun."""
    house = await move_in("2026-01-10 21:30", level=60)
    price = cheap(2, 2.5, 3, 3.5, at=0.20, else_=0.25)
    show(
        house, rows("2026-01-10 00:00", "2026-01-12 00:00", lambda t: 0.01 if t.day == 11 and t.hour >= 7 else price(t))
    )
    await house.automate("expensive_hours_hold", **CHEAPEST, expensive_start="07:00:00")
    await evening(house)
    assert await windows(house) == [[230, 400, 80]]
    await house.go("2026-01-11 06:59")
    assert await house.level() > 70, "80 less three hours of the house's use"


async def test_a_need_beyond_all_hours_leaves_the_first_two_dear_ones_out(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 17:00:10", level=20)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"limit": 200, "at": "17:05:00", "need": 100}))
    await house.go("2026-01-10 17:05:20")
    # A window of a whole day would have neither start nor end.
    assert await windows(house) == [[1900, 1700, 100]]


# ---- where the prices come from


async def test_other_names_factors_and_entries_without_an_end_are_understood(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)
    named = rows("2026-01-10 00:00", "2026-01-11 17:00", lambda t: NIGHT(t) * 100, start="from", buy="cents")
    show(house, [{key: one[key] for key in ("from", "cents")} for one in named], attribute="coming")
    await house.automate(
        "expensive_hours_hold",
        **CHEAPEST, price_attribute="coming", key_start="from", key_end="", key_price="cents", factor=0.01,
    )  # fmt: skip
    await evening(house)
    assert await windows(house) == [[230, 400, 80]]


async def test_a_mapping_of_moments_that_are_no_text_is_understood(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)
    listed = rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT)
    show(house, {datetime.fromisoformat(one["start"]).replace(tzinfo=None): one["buy"] for one in listed})
    await house.automate("expensive_hours_hold", **CHEAPEST)
    await evening(house)
    assert await windows(house) == [[230, 400, 80]]


async def test_a_template_gives_the_prices(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)
    listed = rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT)
    house.hass.states.async_set(PRICES, "0.25", {"today": listed[:48], "tomorrow": listed[48:]})
    template = f"{{{{ state_attr('{PRICES}', 'today') + state_attr('{PRICES}', 'tomorrow') }}}}"
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"price_sensor": None, "price_rows": template}))
    await evening(house)
    assert await windows(house) == [[230, 400, 80]]


async def test_an_action_is_asked_for_the_prices(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)

    async def prices(call: ServiceCall) -> dict[str, Any]:
        return {"the_mill": {"list": rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT)}}

    house.hass.services.async_register("alder_mill", "prices", prices, supports_response=SupportsResponse.ONLY)
    asked = [{"action": "alder_mill.prices", "response_variable": "answer"}]
    given = {"price_sensor": None, "ask": asked, "price_rows": "{{ answer.the_mill.list }}"}
    await house.automate("expensive_hours_hold", **(CHEAPEST | given))
    await evening(house)
    assert await windows(house) == [[230, 400, 80]]


async def test_an_action_that_had_no_prices_yet_is_asked_again_every_quarter_of_an_hour(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)
    known: list[dict[str, Any]] = []

    async def prices(call: ServiceCall) -> dict[str, Any]:
        return {"the_mill": {"list": known}}

    house.hass.services.async_register("alder_mill", "prices", prices, supports_response=SupportsResponse.ONLY)
    asked = [{"action": "alder_mill.prices", "response_variable": "answer"}]
    given = {"price_sensor": None, "ask": asked, "price_rows": "{{ answer.the_mill.list }}"}
    await house.automate("expensive_hours_hold", **(CHEAPEST | given))
    await evening(house)
    for minute in ("22:15:20", "22:30:20"):
        await house.go(f"2026-01-10 {minute}")
    assert await house.writes() == 0
    assert len(house.told) == 1, "told once, not every quarter of an hour"
    known += rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT)
    await house.go("2026-01-10 22:45:20")
    assert await windows(house) == [[230, 400, 80]]
    # It is not chosen anew, though it would be another choice now.
    await house.bench.battery(level=20)
    await house.go("2026-01-10 22:50")
    await house.go("2026-01-10 23:00:20")
    assert await windows(house) == [[230, 400, 80]]
    assert len(house.told) == 1


async def test_new_prices_are_taken_as_soon_as_they_appear_and_old_ones_leave_it_alone(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 17:30", level=60)
    listed = rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT)
    show(house, listed[:48])
    await house.automate("expensive_hours_hold", **CHEAPEST)
    await house.go("2026-01-10 18:00:20")
    assert await house.writes() == 0
    show(house, listed)
    await house.settle()
    assert (await windows(house))[-1][1:] == [400, 80]
    before = (await house.writes(), len(await house.bench.journal()))
    # The price of now is another one, and what has passed is no longer shown: nothing to choose anew.
    show(house, listed[36:], state="0.26")
    await house.settle()
    assert await house.writes() == before[0]
    assert len(await house.bench.journal()) == before[1]


# ---- what goes wrong


async def tries(house: MovedHouse) -> None:
    """Time for some of them."""
    for minute in ("22:01:30", "22:03:30", "22:08"):
        await house.go(f"2026-01-10 {minute}")


@pytest.mark.parametrize(
    ("prices", "state", "told"),
    [
        (None, "missing", "sensor.alder_mill_prices is missing, so no prices are known."),
        (None, "unavailable", "sensor.alder_mill_prices is unavailable, so no prices are known."),
        ([], "0.25", "sensor.alder_mill_prices gives no prices that could be read."),
        ([{"start": "soon", "buy": "expensive"}, 7], "0.25", "sensor.alder_mill_prices gives no prices that could be read."),
        (
            rows("2026-01-10 00:00", "2026-01-11 00:00", NIGHT), "0.25",
            "Prices are known only until 00:00, but the expensive hours begin at 17:00.",
        ),
        (
            rows("2026-01-11 00:00", "2026-01-12 00:00", NIGHT), "0.25",
            "sensor.alder_mill_prices gives no price for the present time.",
        ),
    ],
    ids=["missing", "unavailable", "empty", "unreadable", "too few", "a gap now"],
)  # fmt: skip
async def test_without_prices_nothing_is_written_and_it_is_told(
    move_in: MoveIn, prices: Any, state: str, told: str
) -> None:
    house = await move_in("2026-01-10 21:30", level=60)
    if state != "missing":
        show(house, prices, state)
    await house.automate("expensive_hours_hold", **CHEAPEST)
    await evening(house)
    await tries(house)
    (one,) = house.told
    assert one["title"] == "The charge before the expensive hours is not set"
    assert f"{told} Nothing was written." in one["message"]
    assert "The inverter holds: charge 22:40–02:20 2000 W to 100 %; discharge never; armed." in one["message"]
    assert await house.writes() == 0


async def test_an_action_and_a_template_that_fail_are_told(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)

    async def prices(call: ServiceCall) -> None:
        raise HomeAssistantError("not today")

    house.hass.services.async_register("alder_mill", "prices", prices, supports_response=SupportsResponse.ONLY)
    asked = [{"action": "alder_mill.prices", "response_variable": "answer"}]
    failing = {"price_sensor": None, "ask": asked, "price_rows": "{{ answer.the_mill.list }}"}
    await house.automate("expensive_hours_hold", **(CHEAPEST | failing))
    await evening(house)
    await tries(house)
    (one,) = house.told
    assert "The source of the prices gives no prices that could be read." in one["message"]
    assert await house.writes() == 0


async def test_prices_that_come_late_are_taken_at_a_later_try(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)
    await house.automate("expensive_hours_hold", **CHEAPEST, renew=False)
    await evening(house)
    await house.go("2026-01-10 22:01:30")
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.go("2026-01-10 22:03:30")
    assert (await windows(house))[-1][1:] == [400, 80]
    assert house.told == []


async def test_an_inverter_that_is_away_is_tried_again_and_told(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **CHEAPEST)
    await house.bench.gateway(down=True)
    await evening(house)
    await tries(house)
    (told,) = house.told
    assert told["title"] == "The charge before the expensive hours is not set"
    assert "The inverter does not answer. The inverter's schedule could not be read." in told["message"]
    assert "tries again until 16:50" in told["message"]
    await house.bench.gateway(down=False)
    await house.go("2026-01-10 22:14")
    await house.go("2026-01-10 22:16")
    assert (await windows(house))[-1][1:] == [400, 80]
    assert "worked after 4 tries" in house.told[1]["message"]
    assert len(house.told) == 2


async def test_a_write_that_does_not_take_is_told_with_what_the_inverter_holds(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)
    house.hurry()
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **CHEAPEST)
    await house.bench.fault("write_ignored", count=None)
    await evening(house)
    await tries(house)
    (told,) = house.told
    assert "did not take" in told["message"]
    assert "charge 22:40–02:20 2000 W to 100 %; discharge never; armed" in told["message"]


async def test_more_windows_than_the_inverter_has_are_told_as_refused(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=20)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", cheap(1, 3, 5, 7, 13)))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"draws": 0, "need": 70, "places": 5, "limit": 2400}))
    await evening(house)
    await tries(house)
    (told,) = house.told
    assert "refused" in told["message"]
    assert "more windows than it has" in told["message"]
    assert await house.writes() == 0


async def test_a_start_late_in_the_evening_makes_good_what_was_missed(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 23:10", level=60)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.start_with("expensive_hours_hold", **CHEAPEST)
    assert (await windows(house))[-1][1:] == [400, 80]


async def test_an_automation_that_was_switched_on_late_makes_good_what_was_missed(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:10", level=60)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **CHEAPEST)
    await house.go("2026-01-10 22:14:50")
    assert await house.writes() == 0
    await house.go("2026-01-10 22:15:20")
    assert (await windows(house))[-1][1:] == [400, 80]
    before = len(await house.bench.journal())
    await house.go("2026-01-10 22:30:20")
    assert {one["function"] for one in (await house.bench.journal())[before:]} <= {3, 4}


# ---- clock changes


@pytest.mark.parametrize(
    ("day", "price", "chosen"),
    [
        # All in the house's time after the change.
        ("2026-10-24", cheap(3, 3.5, 4, 4.5), [[330, 500, 80]]),
        ("2026-03-28", cheap(3, 3.5, 4, 4.5), [[330, 500, 80]]),
        # The hour that comes twice: an hour and a half of it, as a clock that is not moved shows them.
        ("2026-10-24", cheap(1, 1.5), [[130, 300, 80]]),
        # From before the hour that is left out to after it: by a clock that is moved.
        ("2026-03-28", cheap(0, 0.5, 2, 2.5), [[30, 300, 80]]),
    ],
    ids=["after going back", "after going forward", "the hour that comes twice", "around the missing hour"],
)
@pytest.mark.parametrize("follows", [False, True], ids=["a clock that stays", "a clock that is moved"])
async def test_expensive_hours_after_a_night_that_moves_the_clock(
    move_in: MoveIn, day: str, price: Price, chosen: list[list[int]], follows: bool
) -> None:
    house = await move_in(f"{day} 21:30", level=48, load=0)
    first = datetime.fromisoformat(day)
    show(house, rows(f"{day} 00:00", f"{first + timedelta(days=2):%Y-%m-%d} 00:00", price))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"draws": 0}))
    await evening(house, day)
    assert await windows(house) == chosen
    change = (first + timedelta(days=1, hours=1)).replace(tzinfo=UTC)
    await house.go(change)
    if follows:
        await house.bench.clock(change.astimezone(LONDON).replace(tzinfo=None))
    await house.go(f"{first + timedelta(days=1):%Y-%m-%d} 06:00")
    assert await house.level() == pytest.approx(80, abs=1)
    assert house.told == []


async def test_the_rest_ends_with_the_deadline_also_on_a_day_of_25_hours(move_in: MoveIn) -> None:
    house = await move_in("2026-10-24 21:30", level=60, load=0)
    show(house, rows("2026-10-24 00:00", "2026-10-26 00:00", cheap(0, 0.5)))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"draws": 0, "hold": True}))
    await evening(house, "2026-10-24")
    assert await windows(house) == [[0, 1700, 80]]


async def test_a_time_out_of_the_hour_that_comes_twice_becomes_no_day_and_covers_no_other(move_in: MoveIn) -> None:
    house = await move_in("2026-10-24 21:30", level=48, load=0)
    prices = rows("2026-10-24 00:00", "2026-10-26 00:00", cheap(13))
    for one in prices:
        # From 01:30 before the change to 01:30 after it.
        if one["start"] in {"2026-10-25T01:30:00+01:00", "2026-10-25T01:00:00+00:00"}:
            one["buy"] = 0.05
    show(house, prices)
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"draws": 0, "hold": True}))
    await evening(house, "2026-10-24")
    assert await windows(house) == [[130, 230, 80], [230, 1300, 10], [1300, 1700, 80]]


async def test_a_clock_that_is_off_is_set_before(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.bench.clock(datetime.fromisoformat("2026-01-10 20:30"))
    await house.automate("expensive_hours_hold", **CHEAPEST)
    await house.go("2026-01-10 21:55")
    await evening(house)
    assert (await house.bench.clock())["clock"].startswith("2026-01-10T22:00")


# ---- by plan


async def test_the_plan_is_made_with_these_prices(move_in: MoveIn, monkeypatch: pytest.MonkeyPatch) -> None:
    house = await move_in("2026-01-10 21:30", level=20, load=500)
    house.hass.config_entries.async_update_entry(
        house.entry, options={**house.entry.options, "battery": BATTERY, "tariff": TARIFF}
    )
    await house.hass.async_block_till_done()
    asked: list[dict[str, Any]] = []
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", cheap(2, 2.5, 3, 3.5, 4, 4.5, at=5, else_=25)))
    plan_with(monkeypatch, asked)
    entity = await house.automate(
        "expensive_hours_hold", **(CHEAPEST | {"way": "planned", "tell_chosen": True, "factor": 0.01, "sell": 0.06})
    )
    await evening(house)
    assert await windows(house) == [[200, 430, 77]]
    assert await house.bench.registers("holding", CHARGE[0].power) == [3000], "as it was given"
    (call,) = asked
    assert call["hours"] == 25
    assert (call["prices"][0]["buy"], call["prices"][0]["sell"]) == (0.25, 0.06)
    assert call["prices"][0]["start"] == "2026-01-10T22:00:00+00:00"
    assert call["prices"][-1]["end"] == "2026-01-12T00:00:00+00:00"
    assert house.told[0]["message"].startswith("It is expensive from 17:00.")
    before = await house.writes()
    await house.hass.services.async_call("automation", "trigger", {"entity_id": entity}, blocking=True)
    await house.settle()
    assert await house.writes() == before


def plan_with(monkeypatch: pytest.MonkeyPatch, asked: list[dict[str, Any]]) -> None:
    """Stand in for the plan, in the shape that `plan_charge` answers; `asked` is what it was asked, with times as text."""

    async def calculate(
        coordinator: ChargehandCoordinator, request: dict[str, Any], _most_kw: float | None
    ) -> tuple[ChargehandCoordinator, dict[str, Any]]:
        rows = [{**row, "start": row["start"].isoformat(), "end": row["end"].isoformat()} for row in request["prices"]]
        asked.append({**request, "prices": rows})
        window = {"start": "02:00", "end": "04:30", "power": 2450.0, "stop_level": 77}
        plan = {
            "target_level": 77,
            "windows": [window],
            "why": "It is expensive from 17:00.",
            "basis": {"fallback": False},
        }
        return coordinator, plan

    monkeypatch.setattr(import_module("custom_components.chargehand.actions.charge_before"), "calculate", calculate)


async def test_without_a_plan_the_need_counts_and_it_is_told(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=60)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"way": "planned"}))
    await evening(house)
    assert await windows(house) == [[230, 400, 80]]
    (told,) = house.told
    assert told["title"] == "Expensive hours without a plan"
    assert "No plan could be made. The need that you set applies instead." in told["message"]


async def test_a_plan_needs_prices_for_a_day(move_in: MoveIn, monkeypatch: pytest.MonkeyPatch) -> None:
    house = await move_in("2026-01-11 00:30", level=60)
    asked: list[dict[str, Any]] = []
    plan_with(monkeypatch, asked)
    show(house, rows("2026-01-11 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"way": "planned", "at": "01:00:00"}))
    await house.go("2026-01-11 00:59:50")
    await house.go("2026-01-11 01:00:20")
    assert (await windows(house))[-1][1:] == [400, 80]
    assert asked == []
    (told,) = house.told
    assert told["message"].startswith(
        "No plan could be made, because prices are known for less than a day. The need that you set applies instead. Read back"
    )


async def test_discharge_windows_stay_as_they_are(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 21:30", level=95)
    await act(house.hass, house.entry, "apply_schedule", charge=[], discharge=EVENING, armed=False)
    show(house, rows("2026-01-10 00:00", "2026-01-12 00:00", NIGHT))
    await house.automate("expensive_hours_hold", **(CHEAPEST | {"draws": 0}))
    before = [await held(house.bench, window) for window in WINDOWS]
    await evening(house)
    assert [await held(house.bench, window) for window in WINDOWS] == before
    assert await house.bench.registers("holding", CONTROL_WORD) == [0], "not armed, and not made so"
