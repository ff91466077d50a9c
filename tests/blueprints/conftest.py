"""The house whose time is moved."""

from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from freezegun import freeze_time
from freezegun.api import TickingDateTimeFactory
from homeassistant.core import HomeAssistant, callback

from tests.bench.remote import Bench
from tests.blueprints.house import MovedHouse, london
from tests.conftest import QUICK, SERIAL, AddInverter

MAPS = {"teasel": "teasel_t5", "burdock": "burdock_b3"}
SERIALS = {"teasel": SERIAL, "burdock": "B3-AM-2611-0042"}

type MoveIn = Callable[..., Awaitable[MovedHouse]]


@pytest.fixture
async def move_in(
    hass: HomeAssistant,
    socket_enabled: None,
    add_inverter: AddInverter,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> AsyncIterator[MoveIn]:
    """A house at a moment of its time, with a bench whose clock shows the same."""
    hass.config.config_dir = str(tmp_path)
    opened: list[Bench] = []
    frozen = freeze_time("2026-01-10 12:00:00", tick=True)
    clock = frozen.start()
    assert isinstance(clock, TickingDateTimeFactory)

    async def begin(
        at: str, *, level: float = 40, load: float = 300, solar: float = 0, inverter: str = "teasel", **options: Any
    ) -> MovedHouse:
        moment = london(at)
        clock.move_to(moment)
        bench = await Bench.start(**QUICK, inverter=inverter, clock=moment.replace(tzinfo=None))
        opened.append(bench)
        await bench.battery(level=level)
        await bench.house(load=load, solar=solar)
        entry = await add_inverter(
            bench.port,
            register_map=MAPS[inverter],
            unique_id=SERIALS[inverter],
            fast_seconds=60,
            slow_seconds=60,
            **options,
        )
        house = MovedHouse(hass=hass, bench=bench, entry=entry, clock=clock)
        house.watch_threads(monkeypatch)
        hass.bus.async_listen("test_told", callback(lambda event: house.told.append(dict(event.data))))
        return house

    yield begin
    if hass.states.async_all("automation"):
        await hass.services.async_call("automation", "turn_off", {"entity_id": "all"}, blocking=True)
    frozen.stop()
    for bench in opened:
        await bench.stop()
