"""Features of the documents that are about registers written around a change: a save after it, an unlock before it.

40790 is the Larkfen's command, 789 on the wire. Each check raises what is wrong, or returns.
"""

from datetime import datetime

from custom_components.chargehand.core.schedule import NotTaken, ScheduleRequest, Uncertain, WindowRequest

from .document_rig import CLOCK_WITHIN_S, HOUSE, NIGHT, NOON, Wrong, equal, on_bench

_ENABLE, _CHARGE_1, _SAVE = 709, 719, 789
_UNLOCK = 0x2F0


async def saved_or_not_confirmed() -> None:
    """What is confirmed acts, and outlives a restart; where the command is refused, nothing is confirmed and the old schedule acts."""
    async with on_bench("larkfen") as rig:
        await rig.charges(NIGHT)
        await rig.bench.restart_inverter()
        await rig.holds(_CHARGE_1, [0x170A, 0x0328])
        equal("at 23:30", await rig.does_at("23:30"), ("charge", "charge 1"))
        await rig.bench.fault("exception", code=4, touches=_SAVE, count=None)
        try:
            outcome = (await rig.inverter.apply(ScheduleRequest(charge=[NOON]))).receipt.outcome
        except NotTaken, Uncertain:
            equal("at 13:00", (await rig.does_at("13:00"))[1], "")
        else:
            raise Wrong(f"{outcome} although the save command was refused")


async def controls_and_the_clock_are_saved() -> None:
    """Bit 8 allows charging from the grid; the clock is 40700 and the next two. Both outlive a restart of the inverter."""
    async with on_bench("larkfen") as rig:
        before = (await rig.bench.registers("kept", _ENABLE))[0]
        await rig.inverter.set_control("grid_charge", value=False)
        await rig.bench.clock(datetime.fromisoformat("2026-02-28T23:59:30"))
        await rig.inverter.set_clock()
        await rig.bench.restart_inverter()
        equal("enable word", await rig.bench.registers("kept", _ENABLE), [before & ~(1 << 8)])
        shown = datetime.fromisoformat((await rig.bench.clock())["clock"])
        off = (shown - datetime.now(HOUSE).replace(tzinfo=None)).total_seconds()
        if abs(off) > CLOCK_WITHIN_S:
            raise Wrong(f"the clock is {off:.0f} s off after a restart")


async def a_lost_answer_to_the_save_is_no_doubt() -> None:
    """The inverter has saved, and its answer is lost: what is told as confirmed acts."""
    async with on_bench("larkfen") as rig:
        await rig.bench.fault("answer_lost", touches=_SAVE)
        await rig.charges(NIGHT)
        await rig.bench.restart_inverter()
        equal("at 23:30", await rig.does_at("23:30"), ("charge", "charge 1"))


async def unlocked_before_each_change() -> None:
    """Locked at first, and again after 60 s; refused with 04, or with 01."""
    for code in (4, 1):
        async with on_bench("pebblemoor", locked_exception=code) as rig:
            for end, minutes in (("03:40", 270), ("04:40", 330)):
                equal("unlocked", await rig.bench.registers("holding", _UNLOCK), [0])
                await rig.charges(WindowRequest(start="23:10", end=end, power=3000, stop_level=95))
                slots = await rig.slots()
                if [1, 0x7F, 1390, minutes, 3000, 950] not in slots:
                    raise Wrong(f"no slot of {minutes} minutes: {slots}")
                await rig.bench.advance(61)
