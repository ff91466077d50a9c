"""An inverter whose data logger is served on a free port."""

import socket
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from typing import Any

import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.conftest import AddInverter
from tests.core.logger_port.port_rig import Client, client

type Settled = dict[str, Any]


@pytest.fixture
def free_port(socket_enabled: None) -> int:
    """A port that nobody uses."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


@pytest.fixture
def settled(free_port: int) -> Settled:
    """The option as the form keeps it."""
    return {
        "port": float(free_port),
        "hosts": ["127.0.0.1"],
        "framing": "tcp",
        "writes": "pass",
        "fresh_seconds": 0.0,
    }


@pytest.fixture
def add_served(bench: Bench, add_inverter: AddInverter, settled: Settled) -> Callable[..., Awaitable[MockConfigEntry]]:
    """Add the bench, polled once and then hardly ever, with another option or two."""

    async def add(**other: Any) -> MockConfigEntry:
        options = {"fast_seconds": 600, "slow_seconds": 3600, "data_logger": settled | other}
        return await add_inverter(bench.port, **options)

    return add


@pytest.fixture
def logger(free_port: int) -> Callable[[], AbstractAsyncContextManager[Client]]:
    """Connect a data logger."""

    @asynccontextmanager
    async def connect() -> AsyncIterator[Client]:
        async with client(free_port) as connected:
            yield connected

    return connect
