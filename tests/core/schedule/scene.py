"""A commit whose process is killed, and the start after it."""

import asyncio

from custom_components.chargehand.core.registers import RegisterMap
from custom_components.chargehand.core.schedule.journal import Verdict
from tests.bench.teasel import CHARGE

from .case import check_verdict
from .case_bench import CaseBench, settle
from .changes import Change
from .journal_file import JournalFile
from .killable_process import Job
from .outcome_checks import OutcomeWrong, check_acted, check_addresses, difference, image_of, same
from .process_client import ProcessClient

LANDS = 0.02
"""Seconds in which a request that a killed process has sent reaches the inverter."""

STRANGE = 777
"""A power that no commit here writes."""


class Scene:
    """One change on one map, at one bench, with processes to be killed."""

    def __init__(
        self, change: Change, register_map: RegisterMap, map_path: str, bench: CaseBench, by: ProcessClient
    ) -> None:
        self.change = change
        self.register_map = register_map
        self.bench = bench
        self.journal = JournalFile(bench.folder / "journal.json")
        self._map_path = map_path
        self._by = by

    async def send(self, point: int, *, settle: bool = False) -> str:
        """Let a process commit, or settle, and be killed at a point."""
        job = Job(
            port=self.bench.remote.port,
            map=self._map_path,
            change=self.change.name,
            journal=str(self.journal.path),
            point=point,
            settle=settle,
        )
        end = await self._by.send(job)
        await asyncio.sleep(LANDS)
        return end

    async def begin(self) -> None:
        """What was before, and no journal."""
        await self.journal.clear()
        await self.bench.hold(self.change.before)

    async def recover(self, *, foreign: bool = False) -> str:
        """Start anew and return what was found. Raises OutcomeWrong."""
        memory, seen, entry = await self.bench.memory(), await self.bench.seen(), self.journal.read()
        check_acted(seen.acted, self.change, "nothing")
        check_addresses(seen.requests, self.register_map)
        if entry is None:
            # Killed before the first write, or after the end was proven.
            if not same(memory, self.change.before if not seen.writes else self.change.after):
                raise OutcomeWrong(
                    f"{len(seen.writes)} writes, no journal, and {difference(memory, self.change.before)}"
                )
            return "no journal"
        if foreign:
            await self.bench.remote.set(CHARGE[1].power, [STRANGE])
            await self.bench.seen()
            memory = await self.bench.memory()
        verdict, image = await settle(self.bench, self.register_map, entry)
        now, seen = await self.bench.memory(), await self.bench.seen()
        check_verdict(verdict, self.change, memory, now, seen, foreign="power" if foreign else "nothing")
        check_acted(seen.acted, self.change, "nothing" if not foreign else "values")
        check_addresses(seen.requests, self.register_map)
        if image != image_of(now, image):
            raise OutcomeWrong("settled with another image than the inverter's")
        if foreign != (verdict is Verdict.FOREIGN):
            raise OutcomeWrong(f"settled as {verdict}")
        was_mixture = not (same(memory, self.change.before) or same(memory, self.change.after))
        return "put back" if was_mixture and verdict is Verdict.BEFORE else str(verdict)
