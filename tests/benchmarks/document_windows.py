"""Features of the documents that are about windows. Each check raises what is wrong, or returns.

What an inverter holds is compared with registers worked by hand from its document; what it acts on is what the bench says. Larkfen:
40720 is register 719 on the wire. 23:10 is 0x170A there, 03:40 is 0x0328.
"""

from custom_components.chargehand.core.schedule import Rejected, ScheduleRequest, WindowRequest

from .document_rig import NIGHT, NOON, SLOT_SIZE, SLOTS, Wrong, changed, equal, on_bench, text_of

_ENABLE, _CHARGE_1, _CHARGE_POWER = 709, 719, 725
_SCHEDULER = 0x2F1
_EVERY_DAY = 0x7F
_EVENING = WindowRequest(start="17:00", end="18:30", power=1500, stop_level=35)


async def hour_in_the_high_byte() -> None:
    """00:30 to 04:45 are 0x001E and 0x042D."""
    async with on_bench("larkfen") as rig:
        window = (await rig.inverter.read_schedule()).charge[0]
        equal("start and end in minutes", (window.start, window.end), (30, 285))
        await rig.charges(NIGHT)
        await rig.holds(_CHARGE_1, [0x170A, 0x0328])


async def bits_beside_foreign_ones() -> None:
    """Bits 2, 3 and 4 are the windows'; those of the first charge and the discharge window are set, all others stay as they were."""
    async with on_bench("larkfen") as rig:
        for foreign in (0b1010_1001_0000_0001, 0b0101_0111_1010_0010):
            await rig.bench.set(_ENABLE, [foreign])
            await rig.applies(NIGHT, discharge=[_EVENING])
            await rig.holds(_ENABLE, [foreign | 1 << 2 | 1 << 4])
            equal(
                "at 23:30 and 17:30",
                [await rig.does_at(time) for time in ("23:30", "17:30")],
                [
                    ("charge", "charge 1"),
                    ("discharge", "discharge 1"),
                ],
            )
            await rig.applies()
            equal("at 23:30, without windows", (await rig.does_at("23:30"))[1], "")
            held = (await rig.bench.registers("holding", _ENABLE))[0]
            equal("foreign bits", held & ~0b11100, foreign)


async def unused_is_ffff() -> None:
    """As the factory sets it. A window that is taken off does nothing; where the map has no bits for that, it is marked so."""
    async with on_bench("larkfen") as rig:
        second = (await rig.inverter.read_schedule()).charge[1]
        if second.used or not second.readable:
            raise Wrong(f"0xFFFF reads as {second}")
        await rig.charges(NIGHT, NOON)
        await rig.holds(_CHARGE_1, [0x170A, 0x0328, 0x0C00, 0x0E00])
        equal("at 13:00", (await rig.does_at("13:00"))[1], "charge 2")
        await rig.charges(NIGHT)
        equal("at 13:00, taken off", (await rig.does_at("13:00"))[1], "")
    async with on_bench("larkfen", changed(text_of("larkfen"), r",?\s*\bactive: ?\{[^}]*\}", "")) as rig:
        await rig.bench.set(_ENABLE, [0b11100])
        await rig.charges(NIGHT, NOON)
        await rig.charges(NIGHT)
        await rig.holds(_CHARGE_1, [0x170A, 0x0328, 0xFFFF, 0xFFFF])
        equal("at 13:00, marked", (await rig.does_at("13:00"))[1], "")


async def one_limit_for_all() -> None:
    """Two windows with one power and level; with two powers they cannot be on it, and nothing is written."""
    async with on_bench("larkfen") as rig:
        await rig.charges(NIGHT, NOON)
        windows = (await rig.inverter.read_schedule()).charge
        equal("limits", [(one.power, one.stop_level) for one in windows], [(3000, 95)] * 2)
        before = await rig.bench.registers("holding", _CHARGE_1, 10)
        other = WindowRequest(start="12:00", end="14:00", power=1000, stop_level=95)
        try:
            await rig.inverter.apply(ScheduleRequest(charge=[NIGHT, other]))
        except Rejected:
            await rig.holds(_CHARGE_1, before)
        else:
            raise Wrong("two powers were taken")


async def limit_in_percent() -> None:
    """60 % of 5000 W are 3000 W; 2500 W are 50 %."""
    async with on_bench("larkfen") as rig:
        equal("power in W", (await rig.inverter.read_schedule()).charge[0].power, 3000)
        await rig.charges(WindowRequest(start="23:10", end="03:40", power=2500, stop_level=95))
        await rig.holds(_CHARGE_POWER, [50, 95])
        await rig.does_at("23:30")
        equal("W that it charges with", (await rig.bench.acting())["watts"], 2500)


async def two_magic_values() -> None:
    """55AAH and AA55H; anything else is neither."""
    async with on_bench("pebblemoor") as rig:
        equal("armed by 55AAH", (await rig.inverter.read_schedule()).armed, True)
        await rig.applies(NIGHT, armed=False)
        await rig.holds(_SCHEDULER, [0xAA55])
        equal("armed by AA55H", (await rig.inverter.read_schedule()).armed, False)
        equal("at 23:30, disabled", (await rig.does_at("23:30"))[1], "")
        await rig.applies(NIGHT)
        await rig.holds(_SCHEDULER, [0x55AA])
        equal("task at 23:30", (await rig.does_at("23:30"))[0], "charge")
        await rig.bench.set(_SCHEDULER, [0x1234])
        equal("armed by 1234H", (await rig.inverter.read_schedule()).armed, None)


async def mode_of_a_slot() -> None:
    """Charging and discharging by the same registers; a slot that holds is no charge window."""
    async with on_bench("pebblemoor") as rig:
        await rig.applies(NIGHT, discharge=[_EVENING])
        slots = await rig.slots()
        used = sorted(slot for slot in slots if slot[0] and slot[3])
        wanted = [[1, _EVERY_DAY, 1390, 270, 3000, 950], [2, _EVERY_DAY, 1020, 90, 1500, 350]]
        equal("slots", used, wanted)
        equal("tasks", [(await rig.does_at(time))[0] for time in ("02:00", "17:30")], ["charge", "discharge"])
        at = slots.index(wanted[0])
        await rig.bench.set(SLOTS + SLOT_SIZE * at, [3, *wanted[0][1:]])
        charge = (await rig.inverter.read_schedule()).charge
        if any(window.used for window in charge) or not any(window.other_use for window in charge):
            raise Wrong(f"a slot that holds shows as {charge}")
        await rig.applies(NIGHT, discharge=[_EVENING])
        equal("task at 02:00, once more", (await rig.does_at("02:00"))[0], "charge")


async def weekdays_of_a_slot() -> None:
    """Bit 0 is Monday. A slot on fewer days is no daily window; what Chargehand writes is on every day."""
    async with on_bench("pebblemoor") as rig:
        for days, wanted in ((0x1F, (0, 1, 2, 3, 4)), (0x40, (6,)), (0, ()), (_EVERY_DAY, None)):
            await rig.bench.set(SLOTS, [1, days, 30, 240, 3000, 900])
            (window,) = [one for one in (await rig.inverter.read_schedule()).charge if one.start == 30]
            equal(f"days {days:#x}, daily", (window.days, window.daily), (wanted, wanted is None))
        await rig.bench.set(SLOTS, [1, 0x1F, 30, 240, 3000, 900])
        await rig.charges(WindowRequest(start="00:30", end="04:30", power=3000, stop_level=90))
        slots = await rig.slots()
        equal("charge slots", [slot for slot in slots if slot[0] == 1], [[1, _EVERY_DAY, 30, 240, 3000, 900]])


async def duration_instead_of_an_end() -> None:
    """30 and 240 minutes: 00:30 to 04:30; 23:10 to 03:40 are 270 minutes from 1390 on."""
    async with on_bench("pebblemoor") as rig:
        used = [window for window in (await rig.inverter.read_schedule()).charge if window.used]
        equal("start and end in minutes", [(one.start, one.end) for one in used], [(30, 270)])
        await rig.charges(NIGHT)
        slots = await rig.slots()
        equal("start and duration", [slot[2:4] for slot in slots if slot[0] == 1], [[1390, 270]])
        times = ("23:05", "23:10", "03:39", "03:40")
        equal("tasks", [(await rig.does_at(time))[0] == "charge" for time in times], [False, True, True, False])


async def slots_whole_all_else_single() -> None:
    """Function 16 with six registers from a slot's first on, function 6 everywhere else; none is refused."""
    async with on_bench("pebblemoor") as rig:
        await rig.applies(NIGHT, NOON, discharge=[_EVENING])
        await rig.applies(NIGHT, armed=False)
        writes = [entry for entry in await rig.bench.journal() if entry["function"] in {6, 16}]
        whole = [entry for entry in writes if entry["first"] >= SLOTS]
        if not whole:
            raise Wrong("no slot was written")
        for entry in writes:
            in_slots = entry["first"] >= SLOTS
            aligned = (entry["first"] - SLOTS) % SLOT_SIZE == 0 and entry["count"] == SLOT_SIZE
            right = entry["function"] == (16 if in_slots else 6) and (aligned or not in_slots)
            if not right or entry["answer"] != "written":
                raise Wrong(
                    f"function {entry['function']} with {entry['count']} from {entry['first']:#x}: {entry['answer']}"
                )


async def _parts(times: tuple[str, ...]) -> dict[str, tuple[bool, float, float]]:
    """Return for each time whether the grid charges then, and the part's power and level, once two windows were applied."""
    second = WindowRequest(start="12:00", end="14:00", power=1500, stop_level=60)
    async with on_bench("oxwhistle") as rig:
        await rig.charges(NIGHT, second)
        shown = [window for window in (await rig.inverter.read_schedule()).charge if window.used]
        equal("windows read back", sorted((one.start, one.end) for one in shown), [(720, 840), (1390, 220)])
        found = {}
        for time in times:
            await rig.does_at(time)
            acting = await rig.bench.acting()
            found[time] = acting["from_grid"], acting["watts"], acting["until"]
        return found


async def list_of_times() -> None:
    """23:10 to 03:40 and 12:00 to 14:00 charge, over midnight too; the rest of the day does not."""
    charging = {"23:10": True, "23:55": True, "00:00": True, "03:35": True, "12:00": True, "13:55": True}
    idle = {"23:05": False, "03:40": False, "07:00": False, "11:55": False, "14:00": False, "18:00": False}
    found = await _parts((*charging, *idle))
    equal("charging from the grid", {time: part[0] for time, part in found.items()}, charging | idle)


async def limits_of_each_part() -> None:
    """Each window has its own power and level. What lies between keeps those of a part that did not charge: 4600 W, 20 %."""
    wanted = {
        "00:30": (True, 3000, 95),
        "13:00": (True, 1500, 60),
        "06:00": (False, 4600, 20),
        "20:00": (False, 4600, 20),
    }
    equal("grid, power, level", await _parts(tuple(wanted)), wanted)
