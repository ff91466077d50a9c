"""Processes that commit and are killed on the way. Run as a module it forks one for each job that it is given.

A job is a line of JSON on a connection; its answer is a line of JSON: `{"end": …}`, `killed` or how the commit ended.
Forking from a process that has everything loaded makes a killed process cost no more than a commit.
"""

import asyncio
import gc
import json
import os
import signal
import socketserver
import sys
from pathlib import Path
from typing import Any, TypedDict, override

from pymodbus.pdu import ModbusPDU

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, LineError
from custom_components.chargehand.core.registers import load_map
from custom_components.chargehand.core.schedule.commit import NotTaken, Uncertain
from custom_components.chargehand.core.schedule.journal import Entry

from .changes import changes_on
from .journal_file import JournalFile
from .quick_inverter import make_inverter

ON_ITS_WAY = 0.001
"""Seconds from asking to being killed: the request is on the line and has not been answered, or has just been."""


class Job(TypedDict):
    """What to do, and at which point on the way to be killed, from 1; 0: never."""

    port: int
    map: str
    change: str
    journal: str
    point: int
    settle: bool
    """Not the change, but settling the unfinished one in the journal."""


class KillPoint:
    """Counts the points at which a process may be killed, and kills it at one of them."""

    def __init__(self, point: int) -> None:
        self._left = point

    def reach(self) -> None:
        """Count one point, and kill the process where it is the last."""
        self._left -= 1
        if self._left == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    async def during(self, work: asyncio.Task[tuple[ModbusPDU, float]]) -> None:
        """Count one point a moment after work has begun."""
        self._left -= 1
        if self._left == 0:
            await asyncio.wait([work], timeout=ON_ITS_WAY)
            os.kill(os.getpid(), signal.SIGKILL)


class KillableGateway(Gateway):
    """A connection with points before a request, on its way, and after it."""

    def __init__(self, endpoint: Endpoint, kill: KillPoint) -> None:
        super().__init__(endpoint)
        self._kill = kill

    @override
    async def request(self, request: ModbusPDU, **terms: Any) -> tuple[ModbusPDU, float]:
        self._kill.reach()
        asked = super().request(request, **terms)
        work = asyncio.ensure_future(asked)
        await self._kill.during(work)
        answer = await work
        self._kill.reach()
        return answer


class KillableJournal(JournalFile):
    """A journal with points around what it does."""

    def __init__(self, path: Path, kill: KillPoint) -> None:
        super().__init__(path)
        self._kill = kill

    @override
    async def write(self, entry: Entry) -> None:
        self._kill.reach()
        await super().write(entry)
        self._kill.reach()

    @override
    async def clear(self) -> None:
        self._kill.reach()
        await super().clear()
        self._kill.reach()


async def commit(job: Job) -> str:
    """Do the job; return how it ended, if it is not killed before."""
    register_map = load_map(Path(job["map"]))
    kill = KillPoint(job["point"])
    journal = KillableJournal(Path(job["journal"]), kill)
    gateway = KillableGateway(Endpoint(host="127.0.0.1", port=job["port"], framing=Framing.TCP), kill)
    inverter = make_inverter(register_map, gateway, journal)
    (change,) = (one for one in changes_on(register_map.id) if one.name == job["change"])
    try:
        if job["settle"]:
            entry = journal.read()
            assert entry is not None
            verdict, _ = await inverter.settle(entry, may_write=True)
            return str(verdict)
        return str((await change.ask(inverter)).receipt.outcome)
    except (NotTaken, Uncertain, LineError) as end:
        return type(end).__name__
    finally:
        gateway.close()


class Jobs(socketserver.StreamRequestHandler):
    """One after another, the jobs of one connection, each in a process of its own."""

    @override
    def handle(self) -> None:
        for line in self.rfile:
            job: Job = json.loads(line)
            read_end, write_end = os.pipe()
            child = os.fork()
            if child == 0:
                os.write(write_end, asyncio.run(commit(job)).encode())
                os._exit(0)
            os.close(write_end)
            with os.fdopen(read_end) as pipe:
                end = pipe.read()
            _, status = os.waitpid(child, 0)
            self.wfile.write(json.dumps({"end": end if os.WIFEXITED(status) else "killed"}).encode() + b"\n")


class Forks(socketserver.ForkingMixIn, socketserver.TCPServer):
    """A process for each connection."""

    block_on_close = False


def serve() -> None:
    """Serve on loopback until standard input ends; the port is the first line of the output."""
    with Forks(("127.0.0.1", 0), Jobs) as server:
        print(server.server_address[1], flush=True)
        os.set_blocking(sys.stdin.fileno(), False)
        server.timeout = 0.5
        while sys.stdin.buffer.read() != b"":
            server.handle_request()


if __name__ == "__main__":
    gc.collect()
    gc.freeze()
    serve()
