"""A test's end of the control port: start the bench as a process, order it about, end it."""

import asyncio
import json
import os
import signal
import socket
import subprocess
import sys
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager, suppress
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Self, cast

from tests.bench.protocol import Acted, Acting, BatteryState, ClockState, Entry, Json, Stats

_ROOT = Path(__file__).parents[2]
_ENDS_WITHIN_S = 5.0
_LONGEST_ANSWER = 16 * 1024 * 1024


class BenchError(Exception):
    """The bench did not start, or refused a command; says why."""


@cache
def _nursery() -> socket.socket:
    """Return where this process orders its benches; the nursery ends with it, when the socket closes."""
    near, far = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    with far:
        number = far.fileno()
        subprocess.Popen([sys.executable, "-m", "tests.bench.nursery", str(number)], pass_fds=[number], cwd=_ROOT)
    return near


class Orders:
    """The orders that a running bench takes at its control port."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._reader = reader
        self._writer = writer
        self._turn = asyncio.Lock()

    @classmethod
    @asynccontextmanager
    async def at(cls, port: int) -> AsyncIterator[Orders]:
        """Order about a bench that somebody else has started, and ends."""
        reader, writer = await asyncio.open_connection("127.0.0.1", port, limit=_LONGEST_ANSWER)
        try:
            yield cls(reader, writer)
        finally:
            writer.close()

    async def ask(self, do: str, **fields: object) -> dict[str, Json]:
        """Give any command and return its answer. Raises BenchError for one that is refused."""
        async with self._turn:
            self._writer.write(json.dumps({"do": do} | fields).encode() + b"\n")
            answer: dict[str, Json] = json.loads(await self._reader.readline() or b'{"error": "the bench is gone"}')
        if "error" in answer:
            raise BenchError(f"{do}: {answer['error']}")
        return answer

    async def registers(self, table: str, first: int, count: int = 1, *, unit: int = 1) -> list[int]:
        """Return raw registers, straight from memory; table `kept`: the holding ones that the inverter acts on."""
        answer = await self.ask("registers", table=table, first=first, count=count, unit=unit)
        return cast("list[int]", answer["values"])

    async def set(self, first: int, values: Sequence[int], *, table: str = "holding", unit: int = 1) -> None:
        """Write memory as the inverter's own panel does; input registers show what is set from then on."""
        await self.ask("set", table=table, first=first, values=list(values), unit=unit)

    async def measure_again(self, *, unit: int = 1) -> None:
        """Let input registers show what is measured again."""
        await self.ask("set", table="input", unit=unit)

    async def clock(
        self, local: datetime | None = None, *, drift_seconds_per_day: float | None = None, unit: int = 1
    ) -> ClockState:
        """Set the inverter's clock (local time, no zone) or its drift, and return what it shows."""
        text = None if local is None else local.isoformat()
        answer = await self.ask("clock", local=text, drift_seconds_per_day=drift_seconds_per_day, unit=unit)
        return cast("ClockState", answer)

    async def advance(self, seconds: float) -> None:
        """Move simulated time on."""
        await self.ask("advance", seconds=seconds)

    async def speed(self, speed: float) -> None:
        """Set the simulated seconds per real second from now on."""
        await self.ask("speed", speed=speed)

    async def battery(
        self,
        *,
        level: float | None = None,
        temperature: float | None = None,
        sensor: bool | None = None,
        unit: int = 1,
    ) -> BatteryState:
        """Set level (%), temperature (degC, of the air too) or whether its sensor works, and return the exact state."""
        order = {"level": level, "temperature": temperature, "sensor": sensor, "unit": unit}
        return cast("BatteryState", await self.ask("battery", **order))

    async def house(
        self,
        *,
        load: float | Sequence[float] | None = None,
        solar: float | Sequence[float] | None = None,
        unit: int = 1,
    ) -> None:
        """Set load and solar power in W: one value, or 24 by the hour."""
        await self.ask("house", load=load, solar=solar, unit=unit)

    async def fault(self, kind: str, **order: object) -> None:
        """Order a fault; the fields are in README.md."""
        await self.ask("fault", kind=kind, **order)

    async def clear_faults(self) -> None:
        """Forget all orders."""
        await self.ask("clear_faults")

    async def journal(self, since: int = 0) -> list[Entry]:
        """Return every request that reached the inverter, after number `since`."""
        return cast("list[Entry]", (await self.ask("journal", since=since))["journal"])

    async def acted(self, since: int = 0, *, unit: int = 1) -> list[Acted]:
        """Return every schedule on which the inverter has acted, after the first `since`."""
        return cast("list[Acted]", (await self.ask("acted", since=since, unit=unit))["acted"])

    async def logger(
        self, *, every_s: float = 10.0, table: str = "input", first: int = 420, count: int = 60, unit: int = 1
    ) -> None:
        """Let the data logger poll; every 0 s turns it off, a count of 0 keeps it connected and quiet."""
        await self.ask("logger", every_s=every_s, table=table, first=first, count=count, unit=unit)

    async def logger_overwrite(
        self, first: int, values: Sequence[int], *, at: datetime | None = None, unit: int = 1
    ) -> None:
        """Let the data logger write, now or when the inverter's clock shows `at`."""
        when = None if at is None else at.isoformat()
        await self.ask("logger_overwrite", first=first, values=list(values), at=when, unit=unit)

    async def logger_state(self) -> dict[str, int]:
        """Return how many polls, answers and overwrites there were."""
        return cast("dict[str, int]", await self.ask("logger_state"))

    async def gateway(
        self,
        *,
        down: bool | None = None,
        restart: bool = False,
        answers_after_ms: float | None = None,
        own_transaction_ids: bool | None = None,
    ) -> None:
        """Take the gateway down or up, restart it, delay its answers, let it number them itself."""
        await self.ask(
            "gateway",
            down=down,
            restart=restart,
            answers_after_ms=answers_after_ms,
            own_transaction_ids=own_transaction_ids,
        )

    async def inverter(self, *, answers: bool, unit: int = 1) -> None:
        """Silence a unit, or let it answer again."""
        await self.ask("inverter", answers=answers, unit=unit)

    async def restart_inverter(self, *, unit: int = 1) -> None:
        """Restart a unit: what it was not told to save is lost."""
        await self.ask("inverter", restart=True, unit=unit)

    async def acting(self, *, unit: int = 1) -> Acting:
        """Return what the inverter does now, and by which window."""
        return cast("Acting", await self.ask("acting", unit=unit))

    async def stats(self) -> Stats:
        """Return what the line has carried."""
        return cast("Stats", await self.ask("stats"))


class Bench(Orders):
    """A running bench; `async with await Bench.start(...) as bench:` ends it."""

    def __init__(
        self,
        ports: dict[str, int],
        standard: tuple[asyncio.StreamReader, asyncio.StreamWriter],
        reader: asyncio.StreamReader,
        writer: asyncio.StreamWriter,
    ) -> None:
        self.host = "127.0.0.1"
        self.port = ports["port"]
        """The gateway's TCP port."""
        self.control = ports["control"]
        self.pid = ports["pid"]
        self._standard_out, self._standard_in = standard
        super().__init__(reader, writer)

    @classmethod
    async def start(cls, **options: str | float | bool | datetime | Sequence[int]) -> Self:
        """Start a bench; options are those of the command line (`turnaround_ms=5, gateway="single"`); port 0 at first."""
        arguments = ["--until-stdin-closes"]
        for name, value in ({"port": 0} | options).items():
            flag = "--" + name.replace("_", "-")
            match value:
                case bool():
                    arguments += [flag] if value else []
                case datetime():
                    arguments += [flag, value.isoformat()]
                case str() | int() | float():
                    arguments += [flag, str(value)]
                case _:
                    arguments += [flag, ",".join(map(str, value))]
        near, far = socket.socketpair()
        near.setblocking(False)
        with far:
            socket.send_fds(_nursery(), [json.dumps(arguments).encode()], [far.fileno()])
        standard = await asyncio.open_connection(sock=near)
        ports = json.loads(await standard[0].readline() or b'{"ended": "nothing"}')
        if "ended" in ports:
            standard[1].close()
            raise BenchError(f"the bench ended with {ports['ended']} instead of starting")
        reader, writer = await asyncio.open_connection("127.0.0.1", ports["control"], limit=_LONGEST_ANSWER)
        return cls(ports, standard, reader, writer)

    async def stop(self) -> None:
        """End the process, and return when it is gone."""
        self._writer.close()
        self._standard_in.write_eof()
        try:
            async with asyncio.timeout(_ENDS_WITHIN_S):
                await self._standard_out.read()
        except TimeoutError:
            with suppress(ProcessLookupError):
                os.kill(self.pid, signal.SIGKILL)
            await self._standard_out.read()
        self._standard_in.close()

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.stop()
