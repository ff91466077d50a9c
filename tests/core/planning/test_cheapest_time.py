"""When the night of a plan without windows is."""

from datetime import datetime, time

from custom_components.chargehand.core.planning import Band, Horizon, Tariff, cheapest_time, tariff_prices

from .given import BERLIN, EVENING, NIGHT_RATE, OVER_MIDNIGHT


def hours_of(tariff: Tariff, start: datetime = EVENING) -> tuple[str, str]:
    begin, end = cheapest_time(tariff_prices(tariff, Horizon(start=start)))
    return f"{begin:%d %H:%M}", f"{end:%d %H:%M}"


def test_the_cheap_hours() -> None:
    assert hours_of(NIGHT_RATE) == ("15 01:00", "15 05:00")
    assert hours_of(OVER_MIDNIGHT) == ("14 23:30", "15 03:30"), "half hours that are cheap as a whole"


def test_the_first_of_two_that_are_as_cheap() -> None:
    bands = (Band(start=time(1), end=time(2), buy=0.1), Band(start=time(4), end=time(6), buy=0.1))
    assert hours_of(Tariff(bands=bands, buy=0.3)) == ("15 01:00", "15 02:00")


def test_with_one_price_all_day_the_first_hours_of_the_day_that_is_planned_for() -> None:
    assert hours_of(Tariff(buy=0.3)) == ("15 00:00", "15 06:00")
    assert hours_of(Tariff(buy=0.3), datetime(2026, 1, 15, 2, 10, tzinfo=BERLIN)) == ("15 02:00", "15 08:00")
