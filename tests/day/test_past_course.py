"""The past of the band from a real recorder's statistics of five minutes, and from hourly counters where there are none."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from homeassistant.components.recorder import get_instance
from homeassistant.components.recorder.db_schema import StatisticsShortTerm
from homeassistant.components.recorder.models import StatisticData, StatisticMeanType, StatisticMetaData
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.calls import device_id, entity_id
from tests.conftest import AddInverter
from tests.day.watching import Card
from tests.kept_history import keep_energy

BEGUN = datetime(2026, 1, 14, 12, tzinfo=UTC)
"""Of the band at 20:10."""


async def keep_means(
    hass: HomeAssistant, sensor: str, means: Callable[[int], float | None], unit: str, unit_class: str | None
) -> None:
    """Statistics of five minutes since the band's start, by their count."""
    rows = [
        StatisticData(start=BEGUN + timedelta(minutes=5 * at), mean=mean, min=mean, max=mean)
        for at in range(97)
        if (mean := means(at)) is not None
    ]
    metadata = StatisticMetaData(
        mean_type=StatisticMeanType.ARITHMETIC, has_sum=False, name=None, source="recorder", statistic_id=sensor,
        unit_class=unit_class, unit_of_measurement=unit,
    )  # fmt: skip
    get_instance(hass).async_import_statistics(metadata, rows, StatisticsShortTerm)
    await get_instance(hass).async_block_till_done()


async def test_the_inverters_own_readings_by_five_minutes(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, card: Card
) -> None:
    added = await add_inverter(bench.port)

    def level(at: int) -> float | None:
        """The house was without power for a while."""
        return None if 10 <= at < 20 else 50.04 + at / 10

    await keep_means(hass, entity_id(hass, "sensor", "battery_level"), level, "%", "unitless")
    await keep_means(
        hass, entity_id(hass, "sensor", "solar_power"), lambda at: 1500.0 if at < 40 else 0.0, "W", "power"
    )
    await keep_means(hass, entity_id(hass, "sensor", "load_power"), lambda _: 420.0, "W", "power")
    past = (await card.watch(device_id(hass, added)))["past"]
    assert (past["start"], past["step_minutes"]) == (BEGUN.isoformat(), 5)
    # 97 or 98 steps of five minutes until 20:10, and the one that has begun, which is what was just read.
    assert [len(past[name]) for name in ("level", "solar_kw", "load_kw")] == [99, 99, 99]
    assert past["level"][:2] == [50.0, 50.1]
    assert past["level"][10:20] == [None] * 10
    assert past["level"][-1] == 20
    assert past["solar_kw"][38:42] == [1.5, 1.5, 0.0, 0.0]
    assert past["load_kw"][:97] == [0.42] * 97


async def test_a_counter_named_in_the_options_goes_before_the_inverters_own_power(
    hass: HomeAssistant, entry: MockConfigEntry, card: Card
) -> None:
    """It is what the expected course rests on."""
    await keep_means(hass, entity_id(hass, "sensor", "load_power"), lambda _: 420.0, "W", "power")
    past = (await card.watch(device_id(hass, entry)))["past"]
    # The hour of the recorder's first row is not known: it says how much was counted before.
    assert set(past["load_kw"][:96]) <= {0.3, None}
    assert past["load_kw"][48] == 0.3
    assert past["load_kw"][-1] is None


async def test_without_a_power_the_hourly_counters_serve(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, card: Card
) -> None:
    added = await add_inverter(bench.port)
    await keep_energy(
        hass, entity_id(hass, "sensor", "solar_energy"), 2, lambda start: 0.6 if start.hour == 14 else 0.0
    )
    past = (await card.watch(device_id(hass, added)))["past"]
    assert past["solar_kw"][23:37] == [0.0, *[0.6] * 12, 0.0]
