"""Another hand at the running demo: the inverter's own panel, and the gateway's plug."""

import json
import re
import socket
from typing import Any

from tests.bench.teasel import CHARGE, DISCHARGE, WINDOW_REGISTERS

from .faults import DemoFailed
from .paths import PORTS

SIDES = {"charge": CHARGE, "discharge": DISCHARGE}
ORDER = re.compile(r"(charge|discharge) (?:([01]\d|2[0-3]):([0-5]\d)-([01]\d|2[0-3]):([0-5]\d)|off)")


def change_window(order: str) -> str:
    """Change the first window of a side behind Chargehand's back. Return in words what has changed. Raises DemoFailed."""
    side, *times = ORDER.fullmatch(order).groups()  # type: ignore[union-attr] - the command line has checked it
    first = SIDES[side][0].start
    where = {"table": "holding", "first": first, "unit": 1}
    held: list[int] = ask("registers", **where, count=WINDOW_REGISTERS)["values"]
    start, power, stop_level, end = held
    new_start, new_end = (0, 0) if times[0] is None else (int("".join(times[:2])), int("".join(times[2:])))
    ask("set", **where, values=[new_start, power, stop_level, new_end])
    return f"Another hand has changed {side} window 1 on the inverter: {_shown(start, end)} -> {_shown(new_start, new_end)}."


def move_gateway(where: str) -> str:
    """Let the gateway be away or back. Return in words what has happened. Raises DemoFailed."""
    ask("gateway", down=where == "away")
    return "The gateway is away." if where == "away" else "The gateway is back."


def ask(do: str, **fields: object) -> dict[str, Any]:
    """Give the running demo's bench a command of tests/bench/README.md, and return its answer. Raises DemoFailed."""
    try:
        port = json.loads(PORTS.read_text())["control"]
        with socket.create_connection(("127.0.0.1", port), timeout=10) as line, line.makefile("rw") as talk:
            talk.write(json.dumps({"do": do} | fields) + "\n")
            talk.flush()
            answer: dict[str, Any] = json.loads(talk.readline())
    except (OSError, ValueError) as fault:
        raise DemoFailed("no demo runs in this clone; start one with scripts/demo") from fault
    if "error" in answer:
        raise DemoFailed(f"bench, {do}: {answer['error']}")
    return answer


def _shown(start: int, end: int) -> str:
    if start == end:
        return "off"
    return "-".join(f"{edge // 100:02}:{edge % 100:02}" for edge in (start, end))
