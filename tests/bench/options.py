"""The command line."""

import argparse
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tests.bench.burdock import BURDOCK
from tests.bench.larkfen import LARKFEN
from tests.bench.make import Make
from tests.bench.oxwhistle import OXWHISTLE
from tests.bench.pebblemoor import PEBBLEMOOR
from tests.bench.plant import AfterWrite
from tests.bench.request import WRITE_MASK
from tests.bench.teasel import TEASEL

_MAKES = {
    "teasel": TEASEL,
    "burdock": BURDOCK,
    "larkfen": LARKFEN,
    "pebblemoor": PEBBLEMOOR,
    "oxwhistle": OXWHISTLE,
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Options:
    """What the bench is to be; times in seconds."""

    make: Make
    host: str
    port: int
    control: int
    baud: int
    turnaround: float
    frame_gap: float
    mbap: bool
    gateway: str
    gateway_timeout: float
    own_transaction_ids: bool
    start: datetime
    """Local time of the house."""
    utc: datetime
    """The same moment in UTC, without a zone too."""
    seed: int
    speed: float
    units: tuple[int, ...]
    after_write: AfterWrite
    until_stdin_closes: bool


def read_options(arguments: list[str]) -> Options:
    """Read the options from the command line. Ends the process with a message for wrong ones."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description="A battery inverter, invented.")
    parser.add_argument("--inverter", choices=_MAKES, default="teasel", help="which one (default %(default)s)")
    parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default %(default)s)")
    parser.add_argument("--port", type=int, required=True, help="the gateway's TCP port; 0 = any free one")
    parser.add_argument("--control", type=int, default=0, help="control port on loopback; 0 = any free one")
    parser.add_argument("--baud", type=_positive, default=9600, help="of the serial line (default %(default)s)")
    parser.add_argument("--turnaround-ms", type=float, default=20.0, help="of the inverter (default %(default)s)")
    parser.add_argument(
        "--frame-gap-ms", type=float, default=0.0, help="a request sooner after a frame is not answered"
    )
    parser.add_argument("--framing", choices=("tcp", "rtu_over_tcp"), help="default tcp; transparent: rtu_over_tcp")
    parser.add_argument("--gateway", choices=("queueing", "transparent", "single"), default="queueing")
    parser.add_argument("--gateway-timeout-ms", type=float, default=2000.0, help="until it answers 0B (%(default)s)")
    parser.add_argument("--own-transaction-ids", action="store_true", help="answers carry the gateway's own count")
    parser.add_argument("--clock", type=datetime.fromisoformat, help="local time at start (default: now)")
    parser.add_argument("--time-zone", type=_zone, default="Europe/London", help="of the house (default %(default)s)")
    parser.add_argument("--seed", type=int, default=1, help="of all chance (default %(default)s)")
    parser.add_argument("--speed", type=float, default=1.0, help="simulated seconds per second (default %(default)s)")
    parser.add_argument("--units", type=_units, default="1", help="unit addresses, by commas (default %(default)s)")
    parser.add_argument("--missing", type=_missing, default={}, help="it has none of these: input:431-439,holding:713")
    parser.add_argument("--mask-write", action="store_true", help="it knows function 22")
    parser.add_argument("--locked-exception", type=int, choices=(1, 4), default=4, help="of a write to what is locked")
    parser.add_argument("--deaf-after-write-ms", type=float, default=0.0, help="no answer for so long after a write")
    parser.add_argument("--busy-after-write-ms", type=float, default=0.0, help="then answers 06 for so long")
    parser.add_argument("--until-stdin-closes", action="store_true", help="end when standard input ends")
    parsed = parser.parse_args(arguments)
    if parsed.gateway == "transparent" and parsed.framing == "tcp":
        parser.error("a transparent gateway passes serial frames: give --framing rtu_over_tcp")
    if parsed.gateway == "transparent" and parsed.frame_gap_ms:
        parser.error("--frame-gap-ms is for gateways that queue")
    if parsed.clock and parsed.clock.tzinfo:
        parser.error("--clock is local time without a zone")
    start = parsed.clock.replace(tzinfo=parsed.time_zone) if parsed.clock else datetime.now(parsed.time_zone)
    return Options(
        make=_as_asked(
            _without(_MAKES[parsed.inverter], parsed.missing),
            mask_write=parsed.mask_write,
            locked=parsed.locked_exception,
        ),
        host=parsed.host,
        port=parsed.port,
        control=parsed.control,
        baud=parsed.baud,
        turnaround=parsed.turnaround_ms / 1000,
        frame_gap=parsed.frame_gap_ms / 1000,
        mbap=parsed.framing != "rtu_over_tcp" and parsed.gateway != "transparent",
        gateway=parsed.gateway,
        gateway_timeout=parsed.gateway_timeout_ms / 1000,
        own_transaction_ids=parsed.own_transaction_ids,
        start=start.replace(tzinfo=None),
        utc=start.astimezone(UTC).replace(tzinfo=None),
        seed=parsed.seed,
        speed=parsed.speed,
        units=parsed.units,
        after_write=AfterWrite(deaf=parsed.deaf_after_write_ms / 1000, busy=parsed.busy_after_write_ms / 1000),
        until_stdin_closes=parsed.until_stdin_closes,
    )


def _as_asked(make: Make, *, mask_write: bool, locked: int) -> Make:
    """Return a make with what the options change in it."""
    writes = make.writes | {WRITE_MASK} if mask_write else make.writes
    return replace(make, writes=writes, lock=make.lock and replace(make.lock, code=locked))


def _positive(text: str) -> int:
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError("must be above 0")
    return value


def _zone(text: str) -> ZoneInfo:
    try:
        return ZoneInfo(text)
    except ZoneInfoNotFoundError, ValueError:
        raise argparse.ArgumentTypeError(f"unknown time zone {text}; give one like Europe/London") from None


def _without(make: Make, missing: dict[str, frozenset[int]]) -> Make:
    """Return a make without some of its registers."""
    nothing: frozenset[int] = frozenset()
    return replace(
        make,
        input=frozenset(make.input) - missing.get("input", nothing),
        holding=frozenset(make.holding) - missing.get("holding", nothing),
    )


def _missing(text: str) -> dict[str, frozenset[int]]:
    """Return registers by table."""
    found: dict[str, frozenset[int]] = {}
    for part in text.split(","):
        table, _, registers = part.partition(":")
        first, _, last = registers.partition("-")
        if table not in {"input", "holding"}:
            raise argparse.ArgumentTypeError(f"{part}: give a table and registers like input:431-439")
        found[table] = found.get(table, frozenset()) | frozenset(range(int(first), int(last or first) + 1))
    return found


def _units(text: str) -> tuple[int, ...]:
    units = tuple(int(part) for part in text.split(","))
    if len(set(units)) != len(units) or not all(1 <= unit <= 247 for unit in units):
        raise argparse.ArgumentTypeError("units are different numbers from 1 to 247")
    return units
