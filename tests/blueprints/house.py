"""A house whose time is moved: a real Home Assistant with a blueprint's automation, and the bench keeping pace with it."""

import asyncio
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from importlib import import_module
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from freezegun.api import TickingDateTimeFactory
from homeassistant.components.automation.const import DOMAIN as AUTOMATION
from homeassistant.const import EVENT_HOMEASSISTANT_STARTED
from homeassistant.core import CoreState, HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.coordinator import ChargehandCoordinator
from tests.bench.remote import Bench
from tests.calls import device_id, hurry

LONDON = ZoneInfo("Europe/London")
FOLDER = Path(__file__).parents[2] / "blueprints" / "automation" / "chargehand"
STEP = timedelta(hours=9)
"""Longest step of the house's time; the bench runs on by the minute."""

QUIET_S = 4.0
"""Longer than a request may take, shorter than any wait of a blueprint and any poll here."""

QUIET_LOOKS, LOOK_S = 3, 0.005
"""Looks in a row that find the house at rest, and seconds between two of them."""

LOOKS = 1600
"""Looks at most: something may wait for moments all the time."""


def london(text: str) -> datetime:
    """A moment in the house's time."""
    return datetime.fromisoformat(text).replace(tzinfo=LONDON)


def _keeps(handle: asyncio.TimerHandle) -> bool:
    """Whether it only writes to disk what is known already."""
    return getattr(handle._callback, "__qualname__", "").startswith("Store.")


@dataclass(kw_only=True, slots=True)
class MovedHouse:
    """What a test does with it."""

    hass: HomeAssistant
    bench: Bench
    entry: MockConfigEntry
    clock: TickingDateTimeFactory
    told: list[dict[str, Any]] = field(default_factory=list)
    """What the user was told: title and message, in order."""

    patch: pytest.MonkeyPatch | None = None

    in_threads: set[asyncio.Future[Any]] = field(default_factory=set)
    """Work that was given to threads and is not done: no timer tells of it."""

    def now(self) -> datetime:
        """The house's time."""
        return datetime.now(UTC)

    async def automate(self, blueprint: str, **inputs: Any) -> str:
        """Put a blueprint into the house, as an import does, and an automation that uses it; return its entity."""
        await self.hass.async_add_executor_job(self._import, blueprint)
        given = {"inverter": device_id(self.hass, self.entry), "notify": TELL} | inputs
        use = {
            "id": blueprint,
            "alias": blueprint,
            "use_blueprint": {
                "path": f"chargehand/{blueprint}.yaml",
                "input": {name: value for name, value in given.items() if value is not None},
            },
        }
        assert await async_setup_component(self.hass, AUTOMATION, {AUTOMATION: [use]})
        await self.hass.async_block_till_done()
        entity = f"automation.{blueprint}"
        state = self.hass.states.get(entity)
        assert state is not None
        assert state.state == "on", "the automation is not usable"
        return entity

    def _import(self, blueprint: str) -> None:
        target = Path(self.hass.config.path("blueprints", "automation", "chargehand"))
        target.mkdir(parents=True, exist_ok=True)
        shutil.copy(FOLDER / f"{blueprint}.yaml", target)

    async def go(self, until: str | datetime, *, step: timedelta = STEP) -> None:
        """Let time pass in steps; inverter, timers and polls come along."""
        end = london(until) if isinstance(until, str) else until
        while (left := end.timestamp() - self.now().timestamp()) > 0.5:
            seconds = min(step.total_seconds(), left)
            # The inverter first: what is due in the house at that moment must not find it hours behind.
            await self.bench.advance(seconds)
            self.clock.move_to(self.now() + timedelta(seconds=seconds))
            await self.settle()

    async def settle(self) -> None:
        """Wait until nothing in the house is at work: all that is left waits for minutes, not for an answer."""
        quiet = 0
        for _ in range(LOOKS):
            await asyncio.sleep(LOOK_S)
            quiet = quiet + 1 if self.at_rest() else 0
            if quiet == QUIET_LOOKS:
                return

    def watch_threads(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Know from now on what is at work in threads."""
        self.patch = monkeypatch
        give = self.hass.loop.run_in_executor

        def given(*work: Any) -> asyncio.Future[Any]:
            future = give(*work)
            self.in_threads.add(future)
            future.add_done_callback(self.in_threads.discard)
            return future

        monkeypatch.setattr(self.hass.loop, "run_in_executor", given)

    def at_rest(self) -> bool:
        """Whether nothing is to be done at once, nothing is at work in a thread, and no request is out: its time-out would be near."""
        return not self.hass.loop._ready and not self.in_threads and self.wakes_in() > QUIET_S

    def wakes_in(self) -> float:
        """Seconds until the event loop has something to do by itself."""
        loop = self.hass.loop
        due = [handle.when() for handle in loop._scheduled if not handle.cancelled() and not _keeps(handle)]
        return (min(due) if due else float("inf")) - loop.time()

    async def start_with(self, blueprint: str, **inputs: Any) -> None:
        """Home Assistant starts at this moment, with the automation in its configuration."""
        self.hass.set_state(CoreState.starting)
        await self.automate(blueprint, **inputs)
        self.hass.set_state(CoreState.running)
        self.hass.bus.async_fire(EVENT_HOMEASSISTANT_STARTED)
        await self.settle()

    async def writes(self) -> int:
        """Write requests that have reached the inverter."""
        return len([one for one in await self.bench.journal() if one["function"] in (6, 16)])

    async def level(self) -> float:
        """The battery's level, in %, as the bench knows it."""
        return (await self.bench.battery())["level"]

    def hurry(self) -> None:
        """Let commits be less patient than an inverter that is slow to show a change would want it."""
        hurry(self.entry)

    def calculate_with(self, plan: Callable[[], dict[str, Any]] | None) -> None:
        """Stand in for the plan of tonight's charge: what it answers, or that it fails."""

        async def calculate(
            coordinator: ChargehandCoordinator, _asked: Mapping[str, Any], _most_kw: float | None
        ) -> tuple[ChargehandCoordinator, dict[str, Any]]:
            if plan is None:
                raise HomeAssistantError("no forecast")
            return coordinator, plan()

        assert self.patch is not None
        self.patch.setattr(import_module("custom_components.chargehand.actions.charge_tonight"), "calculate", calculate)


TELL = [{"event": "test_told", "event_data": {"title": "{{ title }}", "message": "{{ message }}"}}]
