"""Limits in % of a power: one that the document gives, or one that the inverter holds and that is never written."""

from pathlib import Path

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError

from custom_components.chargehand.core.registers import Limit, RegisterMap, SchedulePoints, load_map
from custom_components.chargehand.core.schedule.commit import Uncertain
from custom_components.chargehand.core.schedule.request import Rejected, ScheduleRequest, WindowRequest
from custom_components.chargehand.core.schedule.windows import Window
from tests.bench.plain import HOLDING, INPUT, Request, plain_device
from tests.calls import act, entity_id
from tests.conftest import AddInverter
from tests.plain_map import HEAD, SERIAL, add_plain, plain_inverter

MAP = """\
line: {timeout_ms: 300, settle_ms: 0}
identity:
  type_code: {input: 200}
readings:
  battery_level: {input: 100, unit: "%"}
  rated_power: {input: 101, scale: 0.1, unit: kW, name: Rated power}
schedule:
  charge:
    windows:
      - start: {holding: 51, layout: packed}
        end: {holding: 52, layout: packed}
        power: {holding: 53, percent_of: OF, min: 10, max: 80}
"""
"""Rated power in steps of 100 W; the limit in % of it."""

NIGHT_HELD = {51: 0x1628, 52: 0x0214, 53: 60}
INPUTS = {100: 50, 101: 46, 200: 7}


@pytest.fixture
def declared() -> frozenset[int]:
    return frozenset(NIGHT_HELD)


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    return hass_tmp_config_dir


def night(power: float) -> list[dict[str, object]]:
    return [{"start": "22:40", "end": "02:20", "power": power}]


def loaded(folder: Path, of: object) -> RegisterMap:
    path = folder / "plain.yaml"
    path.write_text(HEAD + MAP.replace("OF", str(of)))
    return load_map(path)


def limit_in(points: SchedulePoints | None) -> Limit:
    assert points is not None
    limit = points.charge[0].power
    assert limit is not None
    return limit


def test_a_power_in_percent_of_a_number(tmp_path: Path) -> None:
    limit = limit_in(loaded(tmp_path, 5000).schedule)
    assert (limit.minimum, limit.maximum, limit.step, limit.unit, limit.is_known) == (500, 4000, 50, "W", True)
    assert limit.nearest(3010) == 3000
    assert list(limit.point.encode(3000, {}).values()) == [60]


@pytest.mark.parametrize("of", [4600, "rated_power"])
def test_an_offset_is_per_cent_as_well(tmp_path: Path, of: object) -> None:
    schedule = loaded(tmp_path, f"{of}, offset: -100").schedule
    assert schedule is not None
    raw = {group[0]: INPUTS.get(group[0][1], 150) for group in schedule.groups}
    limit = limit_in(schedule.known(raw))
    # 150 is 50 % of 4600 W; 25 % is 125.
    assert limit.point.decode(raw) == 2300
    assert limit.nearest(1150) == 1150
    assert list(limit.point.encode(1150, raw).values()) == [125]


@pytest.mark.parametrize(("of", "watts"), [("rated_power", 4600), ("type_code", 7)])
def test_a_power_in_percent_of_a_value_is_known_once_that_was_read(tmp_path: Path, of: str, watts: int) -> None:
    schedule = loaded(tmp_path, of).schedule
    assert schedule is not None
    unread = limit_in(schedule)
    assert (unread.is_known, unread.nearest(100), unread.can_be_zero) == (False, None, False)
    raw = {group[0]: INPUTS.get(group[0][1], 60) for group in schedule.groups}
    limit = limit_in(schedule.known(raw))
    assert (limit.minimum, limit.maximum, limit.step) == (watts / 10, watts * 8 / 10, watts / 100)
    assert limit.point.decode(raw) == 60 * watts / 100
    assert limit_in(schedule.known({})) == unread


@pytest.mark.usefixtures("socket_enabled")
@pytest.mark.parametrize(("of", "asked"), [("rated_power", 2760), (4600, 2760)])
async def test_a_schedule_is_applied_and_shown_in_watts(
    hass: HomeAssistant, add_inverter: AddInverter, of: object, asked: int
) -> None:
    # 60 % of 4600 W.
    async with plain_device(holding=dict.fromkeys(NIGHT_HELD, 0), inputs=INPUTS) as device:
        entry = await add_plain(hass, add_inverter, MAP.replace("OF", str(of)), device)
        receipt = await act(hass, entry, "apply_schedule", charge=night(asked))
        assert receipt["outcome"] == "confirmed"
        assert {at: device.registers[HOLDING][at] for at in NIGHT_HELD} == NIGHT_HELD
        assert (await act(hass, entry, "get_schedule"))["charge"] == [
            {"start": "22:40", "end": "02:20", "power": asked}
        ]
        state = hass.states.get(entity_id(hass, "number", "charge_window_1_power", SERIAL))
        assert state is not None
        assert float(state.state) == asked
        bounds = [float(state.attributes[key]) for key in ("min", "max", "step")]
        assert bounds == [460, 3680, 46]
        with pytest.raises(HomeAssistantError, match=r"5000 W is outside .* 460 to 3680 W"):
            await act(hass, entry, "apply_schedule", charge=night(5000))
        rounded = await act(hass, entry, "apply_schedule", charge=night(2800))
        assert rounded["adjusted"][0]["applied"] == "2806 W"
        assert device.registers[HOLDING][53] == 61


@pytest.mark.usefixtures("socket_enabled")
async def test_a_rated_power_that_changes_meanwhile_leaves_nothing_called_set(tmp_path: Path) -> None:
    async with plain_device(holding=dict.fromkeys(NIGHT_HELD, 0), inputs=dict(INPUTS)) as device:

        def derated(request: Request) -> None:
            if request.writes:
                device.registers[INPUT][101] = 30

        device.after = derated
        async with plain_inverter(tmp_path, MAP.replace("OF", "rated_power"), device) as inverter:
            asked = ScheduleRequest(charge=[WindowRequest(start="22:40", end="02:20", power=2760)])
            with pytest.raises(Uncertain, match="rated power"):
                await inverter.apply(asked)


@pytest.mark.usefixtures("socket_enabled")
async def test_without_a_rated_power_nothing_is_asked_of_the_limit_and_nothing_is_written(tmp_path: Path) -> None:
    async with plain_device(holding=dict.fromkeys(NIGHT_HELD, 0), inputs={**INPUTS, 101: 0}) as device:
        async with plain_inverter(tmp_path, MAP.replace("OF", "rated_power"), device) as inverter:
            assert (await inverter.read_schedule()).charge == (Window(),)
            for power in (2760, None):
                asked = ScheduleRequest(charge=[WindowRequest(start="22:40", end="02:20", power=power)])
                with pytest.raises(Rejected, match="percent_unknown"):
                    await inverter.apply(asked)
        assert device.written == []
