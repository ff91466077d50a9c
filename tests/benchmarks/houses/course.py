"""A house's course through the year: energies, prices and temperatures in half hours."""

from dataclasses import dataclass, field
from datetime import timedelta

import numpy as np

from custom_components.chargehand.core.planning import Horizon, tariff_prices
from tests.benchmarks.houses.calendar import DAYS, FIRST, STEPS, ZONE, Floats, day_sums
from tests.benchmarks.houses.house import House
from tests.benchmarks.houses.loads import load as load_of
from tests.benchmarks.houses.market import market
from tests.benchmarks.houses.measured import measured
from tests.benchmarks.houses.weather import weather

FORECAST_ERROR = 0.30
"""Error of a day's energy as predicted the evening before, in shares of the season's mean day (common practice, no source)."""
_LATER, _TODAY = 1.3, 0.4
"""The day after is predicted so many times worse, the rest of today so many times."""
_DAY = timedelta(days=1)
_SEASON = 15
"""Days to each side whose mean is a season's."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Course:
    """By half hour: kWh of house and roof, and of the roof under a clear sky; prices; degC. `predicted` (days ahead, days): kWh of a day."""

    load: Floats
    solar: Floats
    clear: Floats
    buy: Floats
    sell: Floats
    celsius: Floats
    predicted: Floats
    felt: Floats
    """Errors of the temperature's forecast, by day."""
    actual: Floats = field(init=False)
    """KWh that the roof gives, by day."""
    clear_days: Floats = field(init=False)

    def __post_init__(self) -> None:
        """Sum the days up."""
        object.__setattr__(self, "actual", day_sums(self.solar))
        object.__setattr__(self, "clear_days", day_sums(self.clear))


def course(
    house: House, seed: int, load: Floats | None = None, solar: Floats | None = None, error: float = FORECAST_ERROR
) -> Course:
    """The year of a house; load and roof are given, or made from its profile and a sky of its own."""
    rng = np.random.default_rng(seed)
    sky = weather(rng)
    clear = sky.clear * house.solar_kwp
    given = solar if solar is not None else measured("solar") * house.solar_kwp / 2 if house.measured_solar else None
    if given is not None:
        clear = _brightest(given)
    roof = sky.solar * house.solar_kwp if given is None else given
    used = load_of(house, sky, rng) if load is None else load
    buy, sell = _tariff(house)
    if house.half_hourly is not None:
        spot = market(sky, house.half_hourly.noise, rng)
        buy = spot + house.half_hourly.fee
        if house.half_hourly.sell_market:
            sell = np.maximum(spot, 0.0)
    return Course(
        load=used,
        solar=roof,
        clear=clear,
        buy=buy,
        sell=sell,
        celsius=sky.celsius,
        predicted=_predicted(roof, clear, error, rng),
        felt=rng.normal(0, 1.5, DAYS),
    )


def _predicted(solar: Floats, clear: Floats, error: float, rng: np.random.Generator) -> Floats:
    """(3, days): a day's energy as forecast on the day, the evening before, and the evening before that.

    It errs in kWh, not in shares of what the day brings: on dull days by as much as that. It knows what a clear day gives.
    """
    actual, most = day_sums(solar), day_sums(clear)
    window = np.ones(2 * _SEASON + 1)
    season = np.convolve(actual, window, "same") / np.convolve(np.ones(len(actual)), window, "same")
    errors = error * season * rng.normal(size=(3, len(actual))) * np.array([[_TODAY], [1.0], [_LATER]])
    forecast: Floats = np.clip(actual + errors, 0.04 * most, most)
    return forecast


def _brightest(solar: Floats) -> Floats:
    """What a roof that was measured gives under a clear sky: the most of each half hour of the day within ten days."""
    days = solar.reshape(-1, 48)
    return np.concatenate([days[max(at - 10, 0) : at + 11].max(axis=0) for at in range(len(days))])


def _tariff(house: House) -> tuple[Floats, Floats]:
    buy = [
        tariff_prices(house.tariff, Horizon(start=(FIRST + at * _DAY).astimezone(ZONE), hours=24)).buy
        for at in range(DAYS)
    ]
    return np.concatenate(buy), np.full(STEPS, house.tariff.sell)
