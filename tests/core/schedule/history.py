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

from .case_bench import CaseBench, CaseBenches, Seen
from .changes import AFTER, ARMED, BEFORE, DISARMED, NEAR, Registers, Window, holding, unused
from .journal_file import JournalFile
from .outcome_checks import OutcomeWrong, acting, acting_of, check_addresses, difference, image_of, same
from .request_faults import REQUEST_FAULTS, RequestFault

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

PLAIN = tuple(one for one in REQUEST_FAULTS if one.puts == "nothing")
"""Request faults that leave nothing behind that nobody asked for; other hands have a rule of their own."""

request_faults = st.none() | st.tuples(st.sampled_from(PLAIN), st.integers(1, 12), st.booleans())
"""None, or what goes wrong, at which request, and whether ever after."""

type Trouble = tuple[RequestFault, int, bool] | None


class History(RuleBasedStateMachine):
    """One bench and its model: `known` is what it holds, None while that is open."""

    def __init__(self, benches: CaseBenches, register_map: RegisterMap, ends: Counter[str]) -> None:
        super().__init__()
        self._loop = benches.loop
        self._map = register_map
        self._ends = ends
        self._taken = benches.take()
        self._bench: CaseBench = self._loop.run_until_complete(self._taken.__aenter__())
        self._journal = JournalFile(self._bench.folder / "history.json")
        self.known: Registers | None = None

    @initialize(windows=st.sampled_from(TARGETS), armed=st.booleans())
    def start(self, windows: Windows, armed: bool) -> None:
        """No commit is open; the inverter holds one of the schedules."""
        self.known = holding(ARMED if armed or self._map.id.startswith("bare") else DISARMED, windows)
        self._loop.run_until_complete(self._journal.clear())
        self._loop.run_until_complete(self._bench.hold(self.known))

    @rule(windows=st.sampled_from(TARGETS), armed=st.booleans(), trouble=request_faults)
    def commit(self, windows: Windows, armed: bool, trouble: Trouble) -> None:
        """A user asks for a schedule, and something may go wrong."""
        self._loop.run_until_complete(self._commit(windows, armed or self._map.id.startswith("bare"), trouble))

    @rule(
        address=st.sampled_from([window.power for window in WINDOWS]),
        value=st.sampled_from((0, 123, BEFORE[0][1], AFTER[0][1])),
    )
    def other_hand(self, address: int, value: int) -> None:
        """Somebody sets a power at the inverter's own panel."""
        self._loop.run_until_complete(self._bench.remote.set(address, [value]))
        if self.known is not None:
            self.known = {**self.known, address: value}

    @precondition(lambda self: self._journal.read() is not None)
    @rule(trouble=request_faults)
    def restart(self, trouble: Trouble) -> None:
        """Chargehand starts anew, with what its journal holds."""
        self._loop.run_until_complete(self._restart(trouble))

    @invariant()
    def what_is_known_is_there(self) -> None:
        """Nothing changed but what somebody changed."""
        memory = self._loop.run_until_complete(self._bench.memory())
        if self.known is not None and memory != self.known:
            raise OutcomeWrong(f"unlike what was reported: {difference(memory, self.known)}")

    @override
    def teardown(self) -> None:
        self._loop.run_until_complete(self._bench.remote.clear_faults())
        self._loop.run_until_complete(self._taken.__aexit__(None, None, None))

    async def _order(self, trouble: Trouble) -> float:
        await self._bench.remote.clear_faults()
        if trouble is None:
            return 0.0
        request_fault, nth, forever = trouble
        await self._bench.remote.fault(request_fault.kind, nth=nth, count=None if forever else 1, **request_fault.order)
        return request_fault.settles_after

    async def _commit(self, windows: Windows, armed: bool, trouble: Trouble) -> None:
        before, was_open = await self._bench.memory(), self._journal.read()
        wanted = holding((before[CONTROL_WORD] & ~1) | armed, windows)
        # Half of an earlier commit is taken back before the next begins.
        began = before if was_open is None else self._taken_back(was_open, before)
        waits = await self._order(trouble)
        await self._bench.seen()
        try:
            async with self._bench.inverter(self._map, self._journal) as inverter:
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
        seen, kept = await self._bench.seen(), self._journal.read()
        self._check_record(seen, before, began, wanted)
        if end == "line" and (seen.writes or kept != was_open):
            raise OutcomeWrong("a fault of the line before any write, but something was written")
        if end in {"confirmed", "not taken"} and seen.writes and kept is not None:
            raise OutcomeWrong("proven, and the journal is kept")
        if end == "uncertain" and kept is None:
            raise OutcomeWrong("uncertain, and the journal is cleared")

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
        entry, memory = self._journal.read(), await self._bench.memory()
        if entry is None:
            return
        waits = await self._order(trouble)
        await self._bench.seen()
        try:
            async with self._bench.inverter(self._map, self._journal) as inverter:
                verdict, image = await inverter.settle(entry, may_write=True)
        except LineError:
            verdict, image = None, {}
        await asyncio.sleep(waits)
        seen, now = await self._bench.seen(), await self._bench.memory()
        before, after = (
            {**memory, **{at: value for (_, at), value in one.items()}} for one in (entry.before, entry.after)
        )
        self._check_record(seen, before, after, memory)
        self._ends[f"settled: {verdict or 'line'}"] += 1
        if verdict is not Verdict.BEFORE and verdict is not Verdict.MIXTURE and (seen.writes or now != memory):
            raise OutcomeWrong(f"settled as {verdict}, and written")
        if verdict is None or verdict is Verdict.MIXTURE:
            return
        if image != image_of(now, image):
            raise OutcomeWrong("settled with another image than the inverter's")
        if not same(now, {Verdict.AFTER: after, Verdict.BEFORE: before, Verdict.FOREIGN: memory}[verdict]):
            raise OutcomeWrong(f"settled as {verdict}, with {difference(now, before)}")
        self.known = now
        await self._journal.clear()

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
                raise OutcomeWrong(f"it acted on a mixture: {sorted(found)}")
