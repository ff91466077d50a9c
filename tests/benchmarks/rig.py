"""A bench in its own process, and an inverter on a line to it without Home Assistant."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from zoneinfo import ZoneInfo

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line
from custom_components.chargehand.core.registers import RegisterMap, load_map
from custom_components.chargehand.core.schedule.request import ScheduleRequest, WindowRequest
from tests.bench.remote import Bench

TEASEL = Path(__file__).parents[2] / "custom_components/chargehand/maps/teasel_t5.yaml"

QUICK: dict[str, str | float] = {"baud": 921600, "turnaround_ms": 0}
"""A line that takes next to no time: for figures about the processor."""

BAUD, TURNAROUND_MS = 9600, 30
USUAL: dict[str, str | float] = {"baud": BAUD, "turnaround_ms": TURNAROUND_MS, "gateway": "queueing"}
"""The line of most houses (common practice, no source): for figures about time."""


async def let_logger_poll(bench: Bench, *, polls: bool = True) -> None:
    """Let the data logger poll 60 registers every second, or no longer."""
    await bench.logger(every_s=1.0 if polls else 0.0, table="input", first=420, count=60)


@asynccontextmanager
async def inverter_on(bench: Bench, register_map: RegisterMap) -> AsyncIterator[Inverter]:
    """The bench's unit 1 on a connection of its own, closed at the end."""
    gateway = Gateway(Endpoint(framing=Framing.TCP, host=bench.host, port=bench.port))
    rules = register_map.line
    line = Line(gateway, unit=1, timeout_ms=rules.timeout_ms, pause_ms=rules.pause_ms)
    try:
        yield Inverter(register_map, line, ZoneInfo("Europe/London"))
    finally:
        gateway.close()


@asynccontextmanager
async def teasel(**bench: str | float) -> AsyncIterator[tuple[Bench, Inverter]]:
    """A bench and its inverter by the bundled map."""
    async with await Bench.start(**bench) as running, inverter_on(running, load_map(TEASEL)) as inverter:
        yield running, inverter


def three_windows(turn: int) -> ScheduleRequest:
    """A schedule of three charge windows; that of the next turn differs from it in all of them."""
    odd = turn % 2
    return ScheduleRequest(
        charge=[
            WindowRequest(start=start, end=end, power=1000 + 10 * place + odd, stop_level=90 + odd)
            for place, (start, end) in enumerate(
                ((f"01:1{odd}", f"03:2{odd}"), (f"05:3{odd}", f"06:4{odd}"), (f"13:0{odd}", f"15:5{odd}"))
            )
        ]
    )


FIRST_WINDOW, WINDOW_REGISTERS = 740, 12
"""Where the Teasel keeps its first three charge windows."""


def registers_of_three_windows(turn: int) -> list[int]:
    """The same by hand, as the Teasel keeps it: start, power in W, level in %, end."""
    odd = turn % 2
    return [
        *(110 + odd, 1000 + odd, 90 + odd, 320 + odd),
        *(530 + odd, 1010 + odd, 90 + odd, 640 + odd),
        *(1300 + odd, 1020 + odd, 90 + odd, 1550 + odd),
    ]
