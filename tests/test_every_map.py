"""The main job on every bundled map and on SunSpec: added, read, changed, proven, and put back, each against registers decoded here.

Nothing here decodes with Chargehand: registers are taken apart by hand, from the inverters' own tables in tests/bench, and for
SunSpec by pysunspec2, the SunSpec Alliance's own library.
"""

import struct
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from homeassistant.config_entries import SOURCE_USER, ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.exceptions import ServiceValidationError
from pymodbus.client import AsyncModbusTcpClient
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.bench.sunspec_remote import sunspec_device
from tests.calls import act, find_entity
from tests.conftest import QUICK
from tests.core.registers.sunspec_images import common, image_of, model_of

MAPS = Path(__file__).parents[1] / "custom_components" / "chargehand" / "maps"

type Shown = Mapping[str, float | str]
"""What the user should see, by key."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Rig:
    """An inverter to add: its port, what it measures, and how many writes it has met."""

    port: int
    shown: Shown
    writes: Callable[[], Awaitable[int]]
    bench: Bench | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """A schedule to apply, in the house's time, and the registers that it must be, by first address."""

    charge: Sequence[Mapping[str, object]]
    discharge: Sequence[Mapping[str, object]]
    registers: Mapping[int, Sequence[int]]
    acting: Callable[[Sequence[int]], frozenset[tuple[int, ...]]]
    """The windows that can act, each in one tuple, of the registers that the bench says it acted on."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Case:
    """One map."""

    id: str
    map: str
    serial: str
    zone: str
    rig: Callable[[], AsyncIterator[Rig]]
    job: Job | None = None
    pause: str = ""
    """What the map says of the pause between requests, where it is too long for a test; it is shortened."""


def number(words: Sequence[int], form: str, *, low_first: bool = False) -> float:
    """A number of these registers in a format of `struct`."""
    octets = struct.pack(f">{len(words)}H", *(reversed(words) if low_first else words))
    (value,) = struct.unpack(f">{form}", octets)
    return float(value)


def teasel_shown(words: Sequence[int]) -> Shown:
    """What the Teasel's input registers from 400 say, by its table in tests/bench/teasel.py."""
    at = {400 + index: word for index, word in enumerate(words)}
    return {
        "battery_level": at[444],
        "battery_power": -number([at[440], at[441]], "i"),
        "battery_voltage": at[443] / 10,
        "battery_temperature": number([at[445]], "h") / 10,
        "inverter_state": ("standby", "running", "fault")[at[460]],
        "grid_power": number([at[422], at[423]], "i"),
        "grid_frequency": at[426] / 100,
        "load_power": number([at[420], at[421]], "i"),
        "solar_power": number([at[424], at[425]], "I"),
        "battery_energy_charged": number([at[508], at[509]], "I") / 10,
        "grid_energy_imported": number([at[504], at[505]], "I") / 10,
        "workshop_loop_current": number([at[431]], "h") / 100,
    }


def burdock_shown(at: Sequence[int]) -> Shown:
    """What the Burdock's input registers from 0 say, by its table in tests/bench/burdock.py."""
    assert at[20] == 1, "powers are in tens of watts"
    return {
        "battery_level": at[25] / 10,
        "battery_power": number(at[21:22], "h") * 10,
        "battery_voltage": at[26] / 1000,
        "battery_temperature": at[28] / 10 - 40,
        "inverter_state": ("asleep", "awake", "tripped")[at[29] >> 4 & 7],
        "grid_power": -number(at[22:23], "h") * 10,
        "grid_frequency": number(at[52:54], "f", low_first=True),
        "load_power": number(at[23:24], "h") * 10,
        "solar_power": number(at[24:25], "h") * 10,
        "battery_energy_charged": number(at[40:42], "I", low_first=True) / 1000,
        "grid_energy_imported": number(at[44:46], "I", low_first=True) / 1000,
        "workshop_loop_current": "unknown",
    }


def larkfen_shown(at: Mapping[int, int]) -> Shown:
    """What the Larkfen's input registers say, by its document: register 30340 is 339 here."""
    return {
        "battery_level": at[339],
        "battery_power": number([at[343], at[344]], "i") * 100,
        "battery_voltage": at[341] / 10,
        "battery_temperature": number([at[345]], "h") / 10,
        "inverter_state": {2: "on_grid"}[at[310]],
        "grid_power": -number([at[360], at[361]], "i"),
        "solar_power": number([at[370], at[371]], "I") + number([at[372], at[373]], "I"),
        "solar_energy": (at[380] << 16 | at[390]) / 10,
        "load_energy": (at[381] << 16 | at[391]) / 10,
    }


def pebblemoor_shown(at: Mapping[int, int]) -> Shown:
    """What the Pebblemoor's input registers say, by its document: an absolute power and a direction, low words first but for E_in."""
    sign = {0: 0, 1: -1, 2: 1}[at[0x21]]
    return {
        "battery_level": at[0x23] / 10,
        "battery_power": sign * at[0x20],
        "battery_voltage": at[0x22] / 100,
        "battery_temperature": at[0x24] - 40,
        "grid_power": number([at[0x26], at[0x27]], "i", low_first=True),
        "battery_energy_charged": number([at[0x28], at[0x29]], "I") / 10,
        "battery_energy_discharged": number([at[0x2A], at[0x2B]], "I", low_first=True) / 10,
        "inverter_state": ("off", "idle", "running")[at[0x30] & 0xF],
    }


def oxwhistle_shown(at: Mapping[int, int]) -> Shown:
    """What the Oxwhistle's holding registers say, by its document: register 401 is 400 here."""
    return {
        "battery_level": at[402],
        "battery_power": number([at[403]], "h"),
        "battery_current": number([at[404]], "h") / 100,
        "battery_voltage": at[401] / 100,
        "battery_temperature": at[400] / 10 - 100,
        "inverter_state": {2: "running"}[at[30]],
        "grid_power": sum(number([at[one]], "h") for one in (420, 421, 422)),
        "solar_power": at[410] + at[411],
        "grid_energy_imported": number([at[430], at[431]], "I", low_first=True) / 10,
    }


async def with_holes(
    inverter: str,
    stretches: Mapping[int, int],
    shown: Callable[[Mapping[int, int]], Shown],
    *,
    table: str = "input",
    solar: bool = True,
) -> AsyncIterator[Rig]:
    """As `on_bench`, for one whose registers have holes: `stretches` are those it has, by the first of them."""
    async with await Bench.start(**QUICK, inverter=inverter) as bench:
        await bench.house(load=9340, solar=1230)
        await bench.battery(level=63)
        at: dict[int, int] = {}
        for first, count in stretches.items():
            words = await bench.registers(table, first, count)
            await bench.set(first, words, table=table)
            at |= dict(enumerate(words, first))
        assert all(shown(at)[key] for key in ("battery_power", "grid_power", *(["solar_power"] if solar else ())))

        async def writes() -> int:
            return sum(request["function"] in (6, 16) for request in await bench.journal())

        yield Rig(port=bench.port, shown=shown(at), writes=writes, bench=bench)


async def on_bench(
    inverter: str, first: int, count: int, shown: Callable[[Sequence[int]], Shown]
) -> AsyncIterator[Rig]:
    """A bench inverter at noon in the sun, whose readings then hold still: registers are compared, not moments."""
    async with await Bench.start(**QUICK, inverter=inverter) as bench:
        # More than the battery gives: with a grid at 0, no sign could be wrong.
        await bench.house(load=9340, solar=1230)
        await bench.battery(level=63)
        words = await bench.registers("input", first, count)
        assert all(shown(words)[key] for key in ("battery_power", "grid_power", "load_power", "solar_power"))
        await bench.set(first, words, table="input")

        async def writes() -> int:
            return sum(request["function"] in (6, 16) for request in await bench.journal())

        yield Rig(port=bench.port, shown=shown(words), writes=writes, bench=bench)


async def on_sunspec() -> AsyncIterator[Rig]:
    """A SunSpec device whose registers pysunspec2 wrote down."""
    inverter = model_of(103, W=-1500, W_SF=0, PhVphA=2316, V_SF=-1, Hz=4998, Hz_SF=-2, St=4)
    battery = model_of(802, SoC=875, SoC_SF=-1, V=512, V_SF=-1)
    meter = model_of(203, W=1700, W_SF=0, TotWhImp=54321, TotWhExp=9, TotWh_SF=2)
    points = {one.model_id: one.points for one in (inverter, battery, meter)}
    async with sunspec_device() as device:
        await device.put(40000, image_of([common(), inverter, battery, meter]))
        shown = {
            "battery_level": points[802]["SoC"].cvalue,
            "battery_voltage": points[802]["V"].cvalue,
            "grid_voltage": points[103]["PhVphA"].cvalue,
            "grid_frequency": points[103]["Hz"].cvalue,
            "grid_energy_imported": points[203]["TotWhImp"].cvalue / 1000,
            "inverter_state": "mppt",
        }
        yield Rig(port=device.port, shown=shown, writes=device.writes)


def teasel_acting(registers: Sequence[int]) -> frozenset[tuple[int, ...]]:
    """Windows of four registers; none while disarmed, when the bench shows no registers."""
    windows = [tuple(registers[at : at + 4]) for at in range(0, len(registers), 4)]
    return frozenset(window for window in windows if window[0] != window[3])


def burdock_acting(registers: Sequence[int]) -> frozenset[tuple[int, ...]]:
    """Charge windows with a current, discharge windows whose bit is on, in the order of the bench's own list."""
    active, *rest = registers
    charge = [tuple(rest[at : at + 4]) for at in range(0, 16, 4)]
    starts, powers, levels = rest[16:20], rest[20:22], rest[22:24]
    discharge = [(*starts[2 * at : 2 * at + 2], powers[at], levels[at]) for at in (0, 1) if active >> at & 1]
    return frozenset(window for window in (*charge, *discharge) if window[2] and window[0] < window[1])


def larkfen_acting(registers: Sequence[int]) -> frozenset[tuple[int, ...]]:
    """Periods whose bit is on, each with the limits of its kind: word, times of two charge periods and a discharge one, limits."""
    word, times, limits = registers[0], registers[1:7], registers[7:11]
    periods = [(*times[2 * at : 2 * at + 2], *(limits[2:] if at == 2 else limits[:2])) for at in range(3)]
    return frozenset(one for at, one in enumerate(periods) if word >> (2 + at) & 1 and one[0] != 0xFFFF)


def pebblemoor_acting(registers: Sequence[int]) -> frozenset[tuple[int, ...]]:
    """Slots of six registers that are neither off nor of no day or duration; none while the scheduler is disabled."""
    slots = [tuple(registers[at : at + 6]) for at in range(0, len(registers), 6)]
    return frozenset(slot for slot in slots if slot[0] and slot[1] and slot[3])


def oxwhistle_acting(registers: Sequence[int]) -> frozenset[tuple[int, ...]]:
    """The whole list, which acts as one; none while it is off."""
    return frozenset([tuple(registers)] if registers else ())


CASES = (
    Case(
        id="teasel",
        map="teasel_t5",
        serial="T5-AM-2611-0042",
        zone="Europe/London",
        rig=lambda: on_bench("teasel", 400, 200, teasel_shown),
        job=Job(
            charge=[{"start": "23:10", "end": "03:40", "power": 3000.0, "stop_level": 95.0}],
            discharge=[{"start": "17:00", "end": "18:30", "power": 1250.0, "stop_level": 35.0}],
            registers={
                734: [1],
                740: [2310, 3000, 95, 340, *[0] * 12],
                764: [1700, 1250, 35, 1830, *[0] * 4],
            },
            acting=teasel_acting,
        ),
    ),
    Case(
        id="burdock",
        map="burdock_b3",
        serial="B3-AM-2611-0042",
        # An hour ahead of UTC all year (IANA time zone database), so that the clock's time is never the house's.
        zone="Africa/Lagos",
        rig=lambda: on_bench("burdock", 0, 100, burdock_shown),
        job=Job(
            charge=[{"start": "23:10", "end": "03:40", "current": 60.0, "stop_level": 95.0}],
            discharge=[{"start": "17:00", "end": "18:30", "power": 1200.0, "stop_level": 35.0}],
            registers={
                102: [1 | 1 << 12],
                # 22:10 to the end of the day, and 00:00 to 02:40, UTC, at 120 half amperes.
                120: [22 * 60 + 10, 23 * 60 + 59, 120, 95],
                124: [0, 2 * 60 + 40, 120, 95],
                128: [0, 0, 0, 100, 0, 0, 0, 100],
                # Hour and minute of 16:00 and 17:30, UTC.
                140: [0x1000, 0x111E, 0, 0],
                # The other window is unused; its limits stay, since writing them would only wear.
                150: [120, 100],
                160: [35, 20],
            },
            acting=burdock_acting,
        ),
    ),
    Case(
        id="larkfen",
        pause="pause_ms: 300",
        map="larkfen_lf5",
        serial="LF5-AM-2611-0042",
        zone="Europe/London",
        rig=lambda: with_holes("larkfen", {310: 1, 339: 9, 360: 2, 370: 4, 380: 2, 390: 2, 400: 4}, larkfen_shown),
        job=Job(
            charge=[
                {"start": "23:10", "end": "03:40", "power": 3500.0, "stop_level": 90.0},
                {"start": "12:00", "end": "13:05", "power": 3500.0, "stop_level": 90.0},
            ],
            discharge=[{"start": "17:00", "end": "18:30", "power": 1250.0, "stop_level": 35.0}],
            registers={
                # Charge periods 1 and 2 and discharge period 1 beside feed-in limit, buzzer, grid charge and a foreign bit.
                709: [0b1001_0011_1110],
                # Hour and minute; powers in % of 5000 W, once for all periods of a kind.
                719: [0x170A, 0x0328, 0x0C00, 0x0D05, 0x1100, 0x121E, 70, 90, 25, 35],
                789: [0],
            },
            acting=larkfen_acting,
        ),
    ),
    Case(
        id="pebblemoor",
        map="pebblemoor_pm8",
        serial="PM8-AM-2611-00000042",
        zone="Europe/London",
        rig=lambda: with_holes("pebblemoor", {0x20: 5, 0x26: 6, 0x30: 1}, pebblemoor_shown, solar=False),
        job=Job(
            charge=[{"start": "23:10", "end": "03:40", "power": 3000.0, "stop_level": 95.0}],
            discharge=[{"start": "17:00", "end": "18:30", "power": 1250.0, "stop_level": 35.0}],
            registers={
                0x2F1: [0x55AA],
                # Slots 0 and 4: mode, every day, start and duration in minutes, W, 0.1 %. The others are off.
                0x300: [1, 0x7F, 1390, 270, 3000, 950, *[0] * 18],
                0x318: [2, 0x7F, 1020, 90, 1250, 350, *[0] * 6],
            },
            acting=pebblemoor_acting,
        ),
    ),
    Case(
        id="oxwhistle",
        map="oxwhistle_ow4",
        serial="OW4-A-0042",
        zone="Europe/London",
        rig=lambda: with_holes("oxwhistle", {30: 1, 400: 5, 410: 2, 420: 3, 430: 2}, oxwhistle_shown, table="holding"),
        job=Job(
            charge=[
                {"start": "12:00", "end": "13:05", "power": 2000.0, "stop_level": 60.0},
                {"start": "23:10", "end": "03:40", "power": 3000.0, "stop_level": 95.0},
            ],
            discharge=[],
            registers={
                829: [0xFF],
                # Two times to spare stay where they were, 04:30 and 07:00; in between is what part 2 had.
                830: [340, 430, 700, 1200, 1305, 2310],
                840: [4600, 4600, 4600, 2000, 4600, 3000],
                850: [20, 20, 20, 60, 20, 95],
                # Bit 1 of part 6, a generator's, is as it was.
                860: [0, 0, 0, 1, 0, 0b11],
            },
            acting=oxwhistle_acting,
        ),
    ),
    Case(id="sunspec", map="sunspec", serial="S5-AM-2611-0042", zone="Europe/London", rig=on_sunspec),
)


@pytest.fixture(params=CASES, ids=lambda case: case.id)
async def case(request: pytest.FixtureRequest, hass: HomeAssistant, socket_enabled: None) -> Case:
    """A map, and the house in its time zone."""
    await hass.config.async_set_time_zone(request.param.zone)
    chosen: Case = request.param
    return chosen


@pytest.fixture
async def rig(case: Case) -> AsyncIterator[Rig]:
    """Its inverter."""
    async with asynccontextmanager(case.rig)() as running:
        yield running


@pytest.fixture
async def added(hass: HomeAssistant, case: Case, rig: Rig, tmp_path: Path) -> AsyncIterator[MockConfigEntry]:
    """The inverter, added as a user adds it, and allowed to be controlled."""
    if case.pause:
        hass.config.config_dir = str(tmp_path)
        text = (MAPS / f"{case.map}.yaml").read_text(encoding="utf-8")
        assert text.count(case.pause) == 1
        (tmp_path / "chargehand").mkdir()
        (tmp_path / "chargehand" / f"{case.map}.yaml").write_text(text.replace(case.pause, "pause_ms: 5"))
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    data = {"host": "127.0.0.1", "port": rig.port, "framing": "tcp", "register_map": case.map}
    form = await hass.config_entries.flow.async_configure(form["flow_id"], data)
    assert form["step_id"] == "confirm", form.get("errors")
    done = await hass.config_entries.flow.async_configure(form["flow_id"], {"allow_control": True})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done()
    entry = done["result"]
    assert entry.state is ConfigEntryState.LOADED
    yield entry
    await hass.config_entries.async_unload(entry.entry_id)
    await hass.async_block_till_done()


async def holding(port: int, blocks: Mapping[int, Sequence[int]]) -> dict[int, list[int]]:
    """The same stretches of registers as they are now, over a connection of its own."""
    async with AsyncModbusTcpClient("127.0.0.1", port=port) as client:
        return {
            first: (await client.read_holding_registers(first, count=len(values))).registers
            for first, values in blocks.items()
        }


async def test_every_map_does_the_main_job(hass: HomeAssistant, case: Case, rig: Rig, added: MockConfigEntry) -> None:
    assert added.unique_id == case.serial
    ids = {key: find_entity(hass, "sensor", key, case.serial) for key in rig.shown}
    states = {key: hass.states.get(found).state for key, found in ids.items() if found is not None}
    seen = {key: state if isinstance(rig.shown[key], str) else float(state) for key, state in states.items()}
    assert seen == {
        key: value if isinstance(value, str) else pytest.approx(value, rel=1e-6) for key, value in rig.shown.items()
    }
    assert await rig.writes() == 0
    if case.job is None:
        with pytest.raises(ServiceValidationError, match="no schedule"):
            await act(hass, added, "apply_schedule", charge=[])
        assert await rig.writes() == 0
        return

    job = case.job
    assert rig.bench is not None
    before = await holding(rig.port, job.registers)
    assert before != job.registers
    schedule_before = await act(hass, added, "get_schedule")
    acted = len(await rig.bench.acted())
    (was,) = {job.acting(one["windows"]) for one in (await rig.bench.acted())[-1:]}

    receipt = await act(hass, added, "apply_schedule", charge=job.charge, discharge=job.discharge)
    assert (receipt["outcome"], receipt["adjusted"]) == ("confirmed", [])
    assert await holding(rig.port, job.registers) == job.registers
    assert receipt["requests"]["writes"] == await rig.writes()
    passed = [job.acting(one["windows"]) for one in (await rig.bench.acted())[acted:]]
    now = passed[-1]
    assert now != was
    assert all(windows <= was or windows <= now for windows in passed), "it acted on windows of one schedule at a time"
    shown = await act(hass, added, "get_schedule")
    assert (shown["charge"], shown["discharge"]) == (job.charge, job.discharge)

    again = await act(hass, added, "apply_schedule", charge=job.charge, discharge=job.discharge)
    assert (again["outcome"], again["registers_written"]) == ("unchanged", 0)
    assert receipt["requests"]["writes"] == await rig.writes()

    restored = await act(hass, added, "restore_schedule")
    assert restored["outcome"] == "confirmed"
    assert await holding(rig.port, job.registers) == before
    assert await act(hass, added, "get_schedule") == schedule_before


async def test_every_clock_is_read_and_set(hass: HomeAssistant, case: Case, rig: Rig, added: MockConfigEntry) -> None:
    if rig.bench is None:
        with pytest.raises(ServiceValidationError, match="no clock"):
            await act(hass, added, "set_clock")
        return
    # What the clock should show, by the house's own clock and the keeping that the bench's table names.
    keeps = UTC if case.id == "burdock" else ZoneInfo(case.zone)
    wrong = datetime.now(keeps).replace(tzinfo=None) + timedelta(hours=20, seconds=40)
    await rig.bench.clock(local=wrong)
    answer = await act(hass, added, "set_clock")
    assert answer["offset_before"] == pytest.approx(20 * 3600 + 40, abs=2)
    assert answer["offset_after"] == pytest.approx(0, abs=2)
    shown = datetime.fromisoformat((await rig.bench.clock())["clock"])
    assert abs(shown - datetime.now(keeps).replace(tzinfo=None)) < timedelta(seconds=2)


OWN_SUNSPEC = """\
chargehand_map: 1
title: My own way to read SunSpec
maker: Comfrey
model: C2
source: SunSpec model 802, by hand
readings:
  battery_level: {holding: 40133, scale_at: {holding: 40178}, unit: "%"}
"""


async def test_a_users_own_sunspec_map_hides_the_built_in_one(
    hass: HomeAssistant, socket_enabled: None, tmp_path: Path
) -> None:
    """802 begins at 40122, after the marker and models 1 and 103; its SoC is register 11, SoC_SF 56 (pysunspec2)."""
    hass.config.config_dir = str(tmp_path)
    (tmp_path / "chargehand").mkdir()
    (tmp_path / "chargehand" / "sunspec.yaml").write_text(OWN_SUNSPEC)
    async with asynccontextmanager(on_sunspec)() as rig:
        form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
        assert form["data_schema"] is not None
        maps = form["data_schema"].schema["register_map"].config["options"]
        assert [one["label"] for one in maps if one["value"] == "sunspec"] == ["My own way to read SunSpec"]
        data = {"host": "127.0.0.1", "port": rig.port, "framing": "tcp", "register_map": "sunspec"}
        form = await hass.config_entries.flow.async_configure(form["flow_id"], data)
        assert form["step_id"] == "confirm", form.get("errors")
        shown = form["description_placeholders"]
        assert shown is not None
        assert (shown["maker"], shown["model"], shown["level"]) == ("Comfrey", "C2", "87.5 %")
        done = await hass.config_entries.flow.async_configure(form["flow_id"], {"allow_control": False})
        await hass.async_block_till_done()
        entry = done["result"]
        assert set(entry.runtime_data.inverter.map.readings) == {"battery_level"}
        await hass.config_entries.async_unload(entry.entry_id)
