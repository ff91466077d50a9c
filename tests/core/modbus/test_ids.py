"""Ids have 16 bits: they are counted round, and a gateway whose own ids meet ours by chance is not taken to give back ours."""

import asyncio
import secrets
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field

import pytest

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, NoAnswer
from tests.bench.framing import mbap
from tests.core.modbus.peers import serving, value_at

pytestmark = pytest.mark.usefixtures("socket_enabled")

NEAR_THE_END = 0xFFF0
TIMEOUT_MS = 150


@dataclass
class Numbering:
    """A gateway whose answers have the id that `number` makes of the request's; those to `late` ids come with the next one's."""

    number: Callable[[int], int]
    late: set[int] = field(default_factory=set)
    seen: list[int] = field(default_factory=list)

    async def feed(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        held = b""
        with suppress(ConnectionError, asyncio.IncompleteReadError):
            while True:
                # A read by Modbus TCP: 7 bytes of header, function, address, count.
                request = await reader.readexactly(12)
                asked = int.from_bytes(request[:2])
                value = value_at(int.from_bytes(request[8:10])).to_bytes(2)
                answer = mbap(self.number(asked), request[6], bytes((request[7], 2)) + value)
                again = asked in self.seen
                self.seen.append(asked)
                if asked in self.late:
                    held += b"" if again else answer
                else:
                    writer.write(held + answer)
                    held = b""
        writer.close()


@asynccontextmanager
async def line_to(peer: Numbering) -> AsyncIterator[Line]:
    async with serving(peer.feed) as port:
        gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=Framing.TCP))
        yield Line(gateway, unit=1, timeout_ms=TIMEOUT_MS, retries=1)
        gateway.close()


async def read_all(line: Line, reads: int) -> int:
    """Return how many reads got no answer, and check that none got a wrong one."""
    unanswered = 0
    for address in range(reads):
        try:
            assert await line.read("holding", address, 1) == (value_at(address),)
        except NoAnswer:
            unanswered += 1
    return unanswered


@pytest.fixture
def near_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a connection begin to count shortly before the last id, as after half a week of polls."""
    monkeypatch.setattr(secrets, "randbelow", lambda most: NEAR_THE_END if most > 1000 else 0)


@pytest.mark.usefixtures("near_the_end")
async def test_ids_go_round_on_one_connection_and_late_answers_around_that_are_not_taken() -> None:
    peer = Numbering(lambda asked: asked, late={0xFFFE, 0xFFFF, 0, 1})
    async with line_to(peer) as line:
        assert await read_all(line, 30) == len(peer.late)
    assert sorted(set(peer.seen), key=lambda id_: (id_ - NEAR_THE_END) % 0x10000) == [
        (NEAR_THE_END + 1 + count) % 0x10000 for count in range(30)
    ], "one connection, each id once"


@pytest.mark.usefixtures("near_the_end")
@pytest.mark.parametrize(
    "number",
    [lambda _: 0, lambda _: NEAR_THE_END + 5, lambda asked: (asked + 0x8000) % 0x10000],
    ids=["always 0", "always the same", "counted in step, half a round away"],
)
async def test_a_gateway_with_ids_of_its_own_is_served_on_when_ours_have_met_them(number: Callable[[int], int]) -> None:
    async with line_to(Numbering(number)) as line:
        assert await read_all(line, 60) == 0


@pytest.mark.parametrize(
    ("retries", "ways", "unanswered"), [(1, ["now", "later", "now", "late", ""], 1), (0, ["now", "later", "late"], 2)]
)
async def test_an_answer_that_is_still_to_come_casts_no_doubt_on_the_ids(
    retries: int, ways: list[str], unanswered: int
) -> None:
    """A request that was sent again may be answered twice; the second answer, or a late one, comes to one that has none of its own."""
    connections, late = 0, b""
    way = iter(ways)

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        nonlocal connections, late
        connections += 1
        with suppress(ConnectionError, asyncio.IncompleteReadError):
            while True:
                request = await reader.readexactly(12)
                answer = request[:5] + b"\x05\x01\x03\x02" + value_at(int.from_bytes(request[8:10])).to_bytes(2)
                match next(way, "now"):
                    case "now":
                        writer.write(answer)
                    case "later":
                        late = answer
                    case "late":
                        writer.write(late)
        writer.close()

    async with serving(serve) as port:
        gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=Framing.TCP))
        line = Line(gateway, unit=1, timeout_ms=TIMEOUT_MS, retries=retries)
        assert await read_all(line, 5) == unanswered
        assert connections == 1, "its ids are believed still: nothing has to end with the connection"
        gateway.close()
