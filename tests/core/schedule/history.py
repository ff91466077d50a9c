"""A small model of one inverter's schedule: what may be true of it while commits, faults, other hands and restarts go on."""

import asyncio
from collections import Counter
from typing import override

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from custom_components.chargehand.core.modbus import LineError
from custom_components.chargehand.core.registers import Address, RegisterMap
from custom_components.chargehand.core.schedule.commit import NotTaken, Uncertain
from custom_components.chargehand.core.schedule.image import masks_of, upon
from custom_components.chargehand.core.schedule.journal import Entry, Verdict, judge
from tests.bench.teasel import CONTROL_WORD, WINDOWS

from .changes import AFTER, ARMED, BEFORE, DISARMED, NEAR, Registers, Window, holding, unused
from .mishaps import MISHAPS, Mishap
from .paper import Paper
from .stand import Seen, Stand, Stands
from .truth import Untrue, acting, acting_of, check_addresses, difference, image_of, same

type Windows = tuple[Window, ...]

TARGETS: tuple[Windows, ...] = (
    BEFORE,
    AFTER,
    NEAR,
    (*AFTER[:3], *BEFORE[3:]),
    tuple(map(unused, BEFORE)),
    (*BEFORE[:2], *AFTER[2:]),
)
"""Sets of six windows to commit; none overlap."""

PLAIN = tuple(one for one in MISHAPS if one.puts == "nothing")
"""Mishaps that leave nothing behind that nobody asked for; other hands have a rule of their own."""

mishaps = st.none() | st.tuples(st.sampled_from(PLAIN), st.integers(1, 12), st.booleans())
"""None, or what goes wrong, at which request, and whether ever after."""

type Trouble = tuple[Mishap, int, bool] | None


class History(RuleBasedStateMachine):
    """One stand and its model: `known` is what it holds, None while that is open."""

    def __init__(self, stands: Stands, register_map: RegisterMap, ends: Counter[str]) -> None:
        super().__init__()
        self._loop = stands.loop
        self._map = register_map
        self._ends = ends
        self._taken = stands.take()
        self._stand: Stand = self._loop.run_until_complete(self._taken.__aenter__())
        self._paper = Paper(self._stand.folder / "history.json")
        self.known: Registers | None = None

    @initialize(windows=st.sampled_from(TARGETS), armed=st.booleans())
    def start(self, windows: Windows, armed: bool) -> None:
        """No commit is open; the inverter holds one of the schedules."""
        self.known = holding(ARMED if armed or self._map.id.startswith("bare") else DISARMED, windows)
        self._loop.run_until_complete(self._paper.clear())
        self._loop.run_until_complete(self._stand.hold(self.known))

    @rule(windows=st.sampled_from(TARGETS), armed=st.booleans(), trouble=mishaps)
    def commit(self, windows: Windows, armed: bool, trouble: Trouble) -> None:
        """A user asks for a schedule, and something may go wrong."""
        self._loop.run_until_complete(self._commit(windows, armed or self._map.id.startswith("bare"), trouble))

    @rule(
        address=st.sampled_from([window.power for window in WINDOWS]),
        value=st.sampled_from((0, 123, BEFORE[0][1], AFTER[0][1])),
    )
    def other_hand(self, address: int, value: int) -> None:
        """Somebody sets a power at the inverter's own panel."""
        self._loop.run_until_complete(self._stand.bench.set(address, [value]))
        if self.known is not None:
            self.known = {**self.known, address: value}

    @precondition(lambda self: self._paper.read() is not None)
    @rule(trouble=mishaps)
    def restart(self, trouble: Trouble) -> None:
        """Chargehand starts anew, with what its journal holds."""
        self._loop.run_until_complete(self._restart(trouble))

    @invariant()
    def what_is_known_is_there(self) -> None:
        """Nothing changed but what somebody changed."""
        memory = self._loop.run_until_complete(self._stand.memory())
        if self.known is not None and memory != self.known:
            raise Untrue(f"unlike what was said: {difference(memory, self.known)}")

    @override
    def teardown(self) -> None:
        self._loop.run_until_complete(self._stand.bench.clear_faults())
        self._loop.run_until_complete(self._taken.__aexit__(None, None, None))

    async def _order(self, trouble: Trouble) -> float:
        await self._stand.bench.clear_faults()
        if trouble is None:
            return 0.0
        mishap, nth, forever = trouble
        await self._stand.bench.fault(mishap.kind, nth=nth, count=None if forever else 1, **mishap.order)
        return mishap.settles_after

    async def _commit(self, windows: Windows, armed: bool, trouble: Trouble) -> None:
        before, was_open = await self._stand.memory(), self._paper.read()
        wanted = holding((before[CONTROL_WORD] & ~1) | armed, windows)
        # Half of an earlier commit is taken back before the next begins.
        began = before if was_open is None else self._taken_back(was_open, before)
        waits = await self._order(trouble)
        await self._stand.seen()
        try:
            async with self._stand.inverter(self._map, self._paper) as inverter:
                await inverter.put_image({at: wanted[at[1]] for at in self._addresses})
        except NotTaken:
            end, self.known = "not taken", began
        except Uncertain:
            end, self.known = "uncertain", None
        except LineError:
            end, self.known = "line", before
        else:
            end, self.known = "confirmed", wanted
        self._ends[end] += 1
        await asyncio.sleep(waits)
        seen, kept = await self._stand.seen(), self._paper.read()
        self._check_record(seen, before, began, wanted)
        if end == "line" and (seen.writes or kept != was_open):
            raise Untrue("a fault of the line before any write, but something was written")
        if end in {"confirmed", "not taken"} and seen.writes and kept is not None:
            raise Untrue("proven, and the journal is kept")
        if end == "uncertain" and kept is None:
            raise Untrue("uncertain, and the journal is cleared")

    def _taken_back(self, entry: Entry, memory: Registers) -> Registers:
        """What the inverter holds once half of this commit is taken back; as it is, when it is not half of it."""
        assert self._map.schedule is not None
        image = image_of(memory, entry.before)
        if judge(entry, image, masks_of(self._map.schedule)) is not Verdict.MIXTURE:
            return memory
        return {
            **memory,
            **{at: value for (_, at), value in upon(entry.before, image, masks_of(self._map.schedule)).items()},
        }

    async def _restart(self, trouble: Trouble) -> None:
        entry, memory = self._paper.read(), await self._stand.memory()
        if entry is None:
            return
        waits = await self._order(trouble)
        await self._stand.seen()
        try:
            async with self._stand.inverter(self._map, self._paper) as inverter:
                verdict, image = await inverter.settle(entry, may_write=True)
        except LineError:
            verdict, image = None, {}
        await asyncio.sleep(waits)
        seen, now = await self._stand.seen(), await self._stand.memory()
        before, after = (
            {**memory, **{at: value for (_, at), value in one.items()}} for one in (entry.before, entry.after)
        )
        self._check_record(seen, before, after, memory)
        self._ends[f"settled: {verdict or 'line'}"] += 1
        if verdict is not Verdict.BEFORE and verdict is not Verdict.MIXTURE and (seen.writes or now != memory):
            raise Untrue(f"settled as {verdict}, and written")
        if verdict is None or verdict is Verdict.MIXTURE:
            return
        if image != image_of(now, image):
            raise Untrue("settled with another image than the inverter's")
        if not same(now, {Verdict.AFTER: after, Verdict.BEFORE: before, Verdict.FOREIGN: memory}[verdict]):
            raise Untrue(f"settled as {verdict}, with {difference(now, before)}")
        self.known = now
        await self._paper.clear()

    @property
    def _addresses(self) -> tuple[Address, ...]:
        assert self._map.schedule is not None
        return self._map.schedule.addresses

    def _check_record(self, seen: Seen, *whole: Registers) -> None:
        """The inverter acted on no mixture of these."""
        check_addresses(seen.requests, self._map)
        for one in seen.acted:
            found = acting(one["windows"], armed=one["armed"])
            if not any(found <= acting_of(registers) for registers in whole):
                raise Untrue(f"it acted on a mixture: {sorted(found)}")
