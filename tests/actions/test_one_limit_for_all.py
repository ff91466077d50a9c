"""The bench's Larkfen in a real Home Assistant: one power and one stop level for its charge periods, and bits beside others' bits.

Registers are those of its document (invented), one less than there: a period's times in hour and minute, powers in % of 5000 W.
"""

from collections.abc import AsyncIterator
from datetime import timedelta
from pathlib import Path

import pytest
from freezegun import freeze_time
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from tests.actions.test_plan_charge import BATTERY, TARIFF
from tests.bench.remote import Bench
from tests.blueprints.house import london
from tests.calls import act, apply_draft, device_id, entity_id
from tests.conftest import QUICK, AddInverter

MAP = Path(__file__).parents[2] / "custom_components" / "chargehand" / "maps" / "larkfen_lf5.yaml"
SERIAL = "LF5-AM-2611-0042"
EVENING = "2026-01-14 20:00"
WORD, TIMES, POWER, LEVEL = 709, 719, 725, 726
COMMAND = 789
FOREIGN = 1 << 1 | 1 << 5 | 1 << 8 | 1 << 11
"""Feed-in limit, buzzer, grid charge and a bit that the document does not name, as it leaves the works."""

HOUR = timedelta(hours=1)
NIGHT = {"start": "01:00", "end": "05:00"}
NOON = {"start": "12:00", "end": "13:00"}


@pytest.fixture
def declared() -> frozenset[int]:
    return frozenset({WORD, *range(TIMES, 729), COMMAND})


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    return hass_tmp_config_dir


@pytest.fixture
async def larkfen(hass: HomeAssistant, socket_enabled: None) -> AsyncIterator[Bench]:
    with freeze_time(london(EVENING), tick=True):
        async with await Bench.start(
            **QUICK, inverter="larkfen", clock=london(EVENING).replace(tzinfo=None)
        ) as running:
            await running.battery(level=20)
            yield running


def _hurried(folder: Path) -> None:
    text = MAP.read_text(encoding="utf-8")
    assert text.count("pause_ms: 300") == 1
    folder.mkdir()
    (folder / MAP.name).write_text(text.replace("pause_ms: 300", "pause_ms: 5"), encoding="utf-8")


@pytest.fixture
async def entry(hass: HomeAssistant, larkfen: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    """It, added and running, by its map with a pause that a test has time for."""
    _hurried(Path(hass.config.path("chargehand")))
    options = {"battery": BATTERY, "tariff": TARIFF}
    return await add_inverter(larkfen.port, register_map="larkfen_lf5", unique_id=SERIAL, **options)


async def acts_on(bench: Bench, first: int, count: int) -> list[int]:
    """What the inverter has saved, and so acts on."""
    return await bench.registers("kept", first, count)


async def test_different_powers_are_refused_in_words_and_nothing_is_written(
    hass: HomeAssistant, larkfen: Bench, entry: MockConfigEntry
) -> None:
    wanted = [{**NIGHT, "power": 2000, "stop_level": 90}, {**NOON, "power": 3000, "stop_level": 90}]
    with pytest.raises(ServiceValidationError, match="one power for all its charge windows") as refused:
        await act(hass, entry, "apply_schedule", charge=wanted)
    assert "2000 W, 3000 W" in str(refused.value)
    assert not [one for one in await larkfen.journal() if one["function"] in (6, 16)]


async def test_a_limit_edited_for_one_window_is_that_of_all_and_other_bits_stay(
    hass: HomeAssistant, larkfen: Bench, entry: MockConfigEntry
) -> None:
    both = [{**NIGHT, "power": 3000, "stop_level": 95}, {**NOON, "power": 3000, "stop_level": 95}]
    await act(hass, entry, "apply_schedule", charge=both, discharge=[])
    number = entity_id(hass, "number", "charge_window_1_power", SERIAL)
    await hass.services.async_call("number", "set_value", {"entity_id": number, "value": 1500}, blocking=True)
    drafted = await act(hass, entry, "draft_schedule")
    assert [one["power"] for one in drafted["charge"]] == [1500, 1500]
    await apply_draft(hass, SERIAL)
    assert [one["power"] for one in (await act(hass, entry, "get_schedule"))["charge"]] == [1500, 1500]
    assert await acts_on(larkfen, TIMES, 4) == [0x0100, 0x0500, 0x0C00, 0x0D00]
    assert await acts_on(larkfen, POWER, 2) == [30, 95]
    assert await acts_on(larkfen, WORD, 1) == [FOREIGN | 1 << 2 | 1 << 3]


async def test_a_period_that_cannot_be_read_is_overwritten_by_the_nights_charge(
    hass: HomeAssistant, larkfen: Bench, entry: MockConfigEntry
) -> None:
    await larkfen.set(TIMES + 2, [0x1F7F, 0x0500])
    await larkfen.set(COMMAND, [1])
    assert (await act(hass, entry, "get_schedule"))["not_readable"] == ["charge_window_2"]
    answer = await act(hass, entry, "charge_tonight", level=90)
    assert answer["outcome"] == "confirmed"
    assert await acts_on(larkfen, TIMES, 4) == [0x0100, 0x0500, 0xFFFF, 0xFFFF]
    assert await acts_on(larkfen, POWER, 2) == [60, 90], "3000 W of the options' battery"


async def test_the_day_card_is_told_which_limits_are_shared(
    hass: HomeAssistant, larkfen: Bench, entry: MockConfigEntry, hass_ws_client: WebSocketGenerator
) -> None:
    client = await hass_ws_client(hass)
    await client.send_json_auto_id({"type": "chargehand/day/subscribe", "device_id": device_id(hass, entry)})
    assert (await client.receive_json())["success"]
    limits = (await client.receive_json())["event"]["limits"]
    assert limits["charge"]["limit"] == {"unit": "W", "min": 0, "max": 5000, "step": 50, "shared": True}
    assert limits["charge"]["stop_level"]["shared"] is True


async def test_a_plan_gives_all_windows_one_level(hass: HomeAssistant, larkfen: Bench, entry: MockConfigEntry) -> None:
    evening = london(EVENING)
    cheap = {**dict.fromkeys(range(1, 5), 0.2), **dict.fromkeys(range(13, 16), 0.05)}
    prices = [
        {"start": begin.isoformat(), "end": (begin + HOUR).isoformat(), "buy": cheap.get(begin.hour, 0.4), "sell": 0.02}
        for begin in (evening + at * HOUR for at in range(36))
    ]
    plan = await act(hass, entry, "plan_charge", prices=prices, load_kwh=20, solar_kwh=0)
    assert len(plan["windows"]) == 2
    assert len({one["stop_level"] for one in plan["windows"]}) == 1
    receipt = await act(hass, entry, "apply_schedule", charge=plan["windows"])
    assert receipt["outcome"] == "confirmed"
