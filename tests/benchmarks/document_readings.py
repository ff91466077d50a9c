"""Features of the documents that are about readings, identity and the clock. Each check raises what is wrong, or returns.

Expected values are worked by hand from the documents, or are what the bench says; 3xxxx registers count from 30001.
"""

from datetime import datetime

from custom_components.chargehand.core.registers import MapInvalid

from .document_rig import CLOCK_WITHIN_S, HOUSE, Rig, Wrong, changed, equal, map_of, on_bench, text_of


async def numbers_from_1() -> None:
    """Battery level is 30340; the map counts from 1, and the number as it stands in the document is refused with what to do."""
    async with on_bench("larkfen") as rig:
        await rig.shows(339, [57], "battery_level", 57)
    try:
        map_of("larkfen", changed(text_of("larkfen"), r"battery_level: \{input: 340", "battery_level: {input: 30340"))
    except MapInvalid as invalid:
        if "340" not in str(invalid).replace("30340", ""):
            raise Wrong(f"30340 is refused without saying that 340 is meant: {invalid}") from invalid
    else:
        raise Wrong("30340 is taken as it stands")


async def signed_32_bit_in_tenths_of_kw() -> None:
    """30 is 3.0 kW out of the battery, 0xFFFFFFE2 is -30."""
    async with on_bench("larkfen") as rig:
        await rig.shows(343, [0, 30], "battery_power", 3000)
        await rig.shows(343, [0xFFFF, 0xFFE2], "battery_power", -3000)
        await rig.shows(343, [1, 0], "battery_power", 6_553_600)


async def either_table_serves() -> None:
    """The same readings from 403xx and 404xx."""
    keys = ("battery_level", "battery_power", "solar_power", "load_energy", "grid_power")
    text = changed(text_of("larkfen"), r"input: (3\d\d|4\d\d)\b", r"holding: \1")
    text = changed(text, r"table: input, words", "table: holding, words")
    async with on_bench("larkfen") as rig:
        await rig.bench.house(load=640, solar=900)
        by_input = await rig.reads(*keys)
    async with on_bench("larkfen", text) as rig:
        await rig.bench.house(load=640, solar=900)
        equal("by holding registers", await rig.reads(*keys), by_input)
        if any(entry["function"] == 4 for entry in await rig.bench.journal()):
            raise Wrong("input registers were read")


async def _holes_are_found_once(make: str) -> None:
    if "no_read" in text_of(make):
        raise Wrong("the map lists its holes")
    async with on_bench(make) as rig:
        keys = sorted(rig.inverter.map.readings)
        await rig.reads(*keys)
        asked = len(await rig.bench.journal())
        await rig.reads(*keys)
        again = await rig.bench.journal(since=asked)
        if any(entry["answer"] != "values" for entry in again):
            raise Wrong("the second poll asks for a hole again")


async def holes_of_the_larkfen() -> None:
    """Every reading comes in the first poll; the second asks for no hole."""
    await _holes_are_found_once("larkfen")


async def holes_of_the_pebblemoor() -> None:
    """The same."""
    await _holes_are_found_once("pebblemoor")


async def sum_of_the_larkfens_strings() -> None:
    """30371-74: 65 536 + 2 W and 1000 W."""
    async with on_bench("larkfen") as rig:
        await rig.shows(370, [1, 2, 0, 1000], "solar_power", 66_538)


async def sum_of_the_oxwhistles_phases() -> None:
    """421-423: 1000 - 200 - 30 W, bought is positive; 411 and 412: the roofs."""
    async with on_bench("oxwhistle") as rig:
        await rig.shows(420, [1000, 0x10000 - 200, 0x10000 - 30], "grid_power", 770)
        await rig.shows(410, [1200, 345], "solar_power", 1545)


async def words_apart() -> None:
    """30382 and 30392: 1 and 53 496 are 119 032 tenths of a kWh."""
    async with on_bench("larkfen") as rig:
        equal("load_energy", await rig.read("load_energy"), 11_903.2)
        await rig.bench.set(380, [2], table="input")
        await rig.bench.set(390, [1], table="input")
        equal("solar_energy", await rig.read("solar_energy"), 13_107.3)


async def sometimes_none() -> None:
    """30346 is 0x7FFF while the sensor is lost; the readings beside it stay."""
    async with on_bench("larkfen") as rig:
        await rig.bench.battery(level=61, temperature=-7.5)
        equal("battery_temperature", await rig.read("battery_temperature"), -7.5)
        await rig.bench.battery(sensor=False)
        equal("readings", await rig.reads("battery_temperature", "battery_level"), [None, 61])


async def offset_of_the_pebblemoor() -> None:
    """65 is 25 degC, 28 is -12."""
    async with on_bench("pebblemoor") as rig:
        await rig.shows(0x24, [65], "battery_temperature", 25)
        await rig.shows(0x24, [28], "battery_temperature", -12)


async def offset_of_the_oxwhistle() -> None:
    """1250 is 25.0 degC, 876 is -12.4."""
    async with on_bench("oxwhistle") as rig:
        await rig.shows(400, [1250], "battery_temperature", 25.0)
        await rig.shows(400, [876], "battery_temperature", -12.4)


async def direction_in_a_register() -> None:
    """0x0021: 1 charging, 2 discharging, 0 idle; another value is no direction."""
    async with on_bench("pebblemoor") as rig:
        for direction, wanted in ((1, -3210), (2, 3210), (0, 0), (3, None)):
            await rig.bench.set(0x20, [3210 if direction else 0, direction], table="input")
            equal(f"power in direction {direction}", await rig.read("battery_power"), wanted)


async def state_in_some_bits() -> None:
    """0x0030, bits 0-3; the reason above changes nothing."""
    async with on_bench("pebblemoor") as rig:
        seen = []
        for state in (0, 1, 2, 7):
            await rig.bench.set(0x30, [0xA0 | state], table="input")
            seen.append(await rig.read("inverter_state"))
            await rig.shows(0x30, [0x10 | state], "inverter_state", seen[-1])
        if None in seen or len(set(seen)) != 4:
            raise Wrong(f"states 0, 1, 2, 7 are {seen}")
        await rig.shows(0x30, [0xA3], "inverter_state", None)


async def text_with_its_low_byte_first() -> None:
    """The bench's first one."""
    async with on_bench("pebblemoor") as rig:
        equal("serial number", (await rig.inverter.reader.identify()).get("serial_number"), "PM8-AM-2611-00000042")


async def word_order_that_differs() -> None:
    """65 537 and 131 073 are the same words in either order; here 1 and 2: high first 65 538, low first 131 073, times 100 Wh."""
    async with on_bench("pebblemoor") as rig:
        await rig.shows(0x28, [1, 2], "battery_energy_charged", 6553.8)
        await rig.shows(0x2A, [1, 2], "battery_energy_discharged", 13_107.3)
        await rig.shows(0x26, [0xF1F0, 0xFFFF], "grid_power", -3600)


async def _weekday(rig: Rig) -> int:
    return (await rig.bench.registers("holding", 0x203))[0]


async def clock_in_bcd_with_the_weekday() -> None:
    """Set by the bench three days wrong and with a weekday of its own, it shows the house's time and day after it was set."""
    async with on_bench("pebblemoor") as rig:
        await rig.bench.clock(datetime.fromisoformat("2026-02-28T23:59:30"))
        await rig.bench.set(0x203, [(datetime.now(HOUSE).isoweekday() + 3) % 7])
        _, after = await rig.inverter.set_clock()
        if abs(after) > CLOCK_WITHIN_S:
            raise Wrong(f"the clock is {after:.0f} s off after it was set")
        shown = datetime.fromisoformat((await rig.bench.clock())["clock"])
        now = datetime.now(HOUSE)
        off = (shown - now.replace(tzinfo=None)).total_seconds()
        if abs(off) > CLOCK_WITHIN_S:
            raise Wrong(f"the bench's clock is {off:.0f} s off after it was set")
        equal("weekday (0 is Sunday)", await _weekday(rig), shown.isoweekday() % 7)


async def fault_bits_from_1() -> None:
    """Bit 53 is the fifth of the fourth register, bit 20 the fourth of the second; lower 16 bits first."""
    async with on_bench("oxwhistle") as rig:
        for words, number in (
            ([0, 0, 0, 1 << 4], 53),
            ([0, 1 << 3, 0, 0], 20),
            ([1, 0, 0, 0], 1),
            ([0, 0, 0, 1 << 15], 64),
        ):
            await rig.bench.set(34, words, table="input")
            shown = await rig.read("alarms")
            if not isinstance(shown, tuple) or len(shown) != 1 or not shown[0].endswith(f" {number}"):
                raise Wrong(f"bit {number} shows as {shown}")
