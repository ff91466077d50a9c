"""The Teasel's registers as tests name them: their addresses, and windows as their registers."""

from datetime import datetime, timedelta

from tests.bench.remote import Orders
from tests.bench.teasel import CHARGE, INPUT_POINTS, WINDOW_REGISTERS, Window

ARMED, BUZZER = 0b001, 0b100
"""Bits of the control word."""

INPUT_AT = {name: point.first for name, point in INPUT_POINTS.items()}
"""The first register of each reading."""

UNUSED = [0] * WINDOW_REGISTERS


def registers(start: str, end: str, power: int, stop_level: int) -> list[int]:
    """A window's registers: times are decimal hours and minutes."""
    return [int(start.replace(":", "")), power, stop_level, int(end.replace(":", ""))]


def far_from(now: datetime) -> list[int]:
    """A window that begins ten hours from now."""
    start, end = (now + timedelta(hours=hours) for hours in (10, 12))
    return registers(f"{start:%H}:00", f"{end:%H}:00", 2000, 100)


FACTORY = registers("22:40", "02:20", 2000, 100)
"""The first charge window as it leaves the factory; the others are unused."""


TONIGHT = [{"start": "01:00", "end": "05:00", "power": 3000, "stop_level": 95}]
WANTED = registers("01:00", "05:00", 3000, 95)
"""The same as the inverter holds it."""

LATER = [{"start": "02:10", "end": "06:20", "power": 1800, "stop_level": 90}]
LATER_HELD = registers("02:10", "06:20", 1800, 90)

EVENING = [{"start": "17:00", "end": "19:00", "power": 4000, "stop_level": 30}]
"""To discharge."""
EVENING_HELD = registers("17:00", "19:00", 4000, 30)


async def held(bench: Orders, window: Window = CHARGE[0]) -> list[int]:
    """The registers of a window, straight from memory."""
    return await bench.registers("holding", window.start, WINDOW_REGISTERS)
