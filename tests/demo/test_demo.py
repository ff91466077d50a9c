"""The demo says at once what keeps it from starting, before it makes anything anew."""

import asyncio
import fcntl
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from scripts.alder_mill.paths import HOUSE

ROOT = Path(__file__).parents[2]
LOCK = HOUSE.with_suffix(".lock")


async def demo(*arguments: str) -> tuple[int | None, str]:
    """Run the demo. Return its exit code and what it said of failing."""
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "scripts.alder_mill", *arguments, cwd=ROOT, stderr=asyncio.subprocess.PIPE
    )
    _, errors = await process.communicate()
    return process.returncode, errors.decode()


async def test_a_port_that_is_taken_is_told_with_the_way_to_another_one(socket_enabled: None) -> None:
    server = await asyncio.start_server(lambda _reader, writer: writer.close(), "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    code, said = await demo("--once", "--port", str(port))
    server.close()
    assert code == 1
    assert f"port {port}" in said
    assert "--port" in said


@pytest.mark.parametrize("port", ["0", "web"])
async def test_what_is_no_port_is_refused(port: str) -> None:
    code, said = await demo("--port", port)
    assert code == 2
    assert "1 to 65535" in said


async def test_a_second_demo_leaves_the_first_one_s_house_alone(socket_enabled: None, unused_tcp_port: int) -> None:
    LOCK.parent.mkdir(exist_ok=True)
    with LOCK.open("w") as lock:
        # A demo that really runs in this clone holds it already.
        with suppress(BlockingIOError):
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        code, said = await demo("--once", "--port", str(unused_tcp_port))
    assert code == 1
    assert "another demo" in said
