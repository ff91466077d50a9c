"""A house whose inverter reports powers and counts no energy: the bench by a map that leaves the energies out."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.calls import state
from tests.conftest import AddInverter
from tests.moved_time import HouseTime
from tests.teasel import INPUT_AT

START = datetime(2026, 6, 10, 12, 0, tzinfo=UTC)
TEASEL = Path(__file__).parents[1] / "custom_components/chargehand/maps/teasel_t5.yaml"


@pytest.fixture
def house_time(monkeypatch: pytest.MonkeyPatch) -> HouseTime:
    return HouseTime(monkeypatch, START)


@pytest.fixture
async def powers_only(
    hass: HomeAssistant, bench: Bench, house_time: HouseTime, add_inverter: AddInverter, tmp_path: Path
) -> MockConfigEntry:
    """The bench by a map that has its powers and leaves the energies out; nothing flows yet."""
    hass.config.config_dir = str(tmp_path)
    (tmp_path / "chargehand").mkdir()
    lines = TEASEL.read_text().splitlines()
    (tmp_path / "chargehand" / "mine.yaml").write_text("\n".join(line for line in lines if "_energy" not in line))
    await flow(bench)
    return await add_inverter(bench.port, register_map="mine")


def s32(value: int) -> list[int]:
    return [value >> 16 & 0xFFFF, value & 0xFFFF]


async def flow(bench: Bench, *, charging: int = 0, importing: int = 0, solar: int = 0) -> None:
    """Let the inverter report these powers in W, as its own table counts them: charging and importing positive."""
    await bench.set(INPUT_AT["battery_power"], s32(charging), table="input")
    await bench.set(INPUT_AT["grid_power"], s32(importing), table="input")
    await bench.set(INPUT_AT["solar_power"], s32(solar), table="input")


async def minutes(
    hass: HomeAssistant, entry: MockConfigEntry, house_time: HouseTime, count: int, *, each: float = 1
) -> None:
    """Let so many times `each` minutes pass, with a poll at the end of each."""
    for _ in range(count):
        house_time.pass_by(minutes=each)
        await entry.runtime_data.async_refresh()
    await hass.async_block_till_done()


def kwh(hass: HomeAssistant, key: str) -> float:
    return float(state(hass, "sensor", key).state)
