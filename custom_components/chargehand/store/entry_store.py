"""The one file in which an inverter's entry keeps what has to outlive a restart.

Each section is an object's own: it reads what was kept of it and says what is to be kept. A section that cannot be understood leaves the
others alone, and one that nobody has taken up stays in the file as it is.
"""

import logging
from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.storage import Store

from ..const import DOMAIN

_LOGGER = logging.getLogger(__name__)

VERSION = 1

type Kept = Mapping[str, Any]
"""A section's data, as JSON has it."""


class EntryStore:
    """One entry's file in Home Assistant's storage."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Prepare; `load` reads the file."""
        self._hass = hass
        self._store = Store[dict[str, Any]](hass, VERSION, f"{DOMAIN}.{entry_id}", atomic_writes=True)
        self._kept: dict[str, Any] = {}
        """By section, what is in the file, or goes into it at the next write."""

        self._keepers: dict[str, Callable[[], Kept]] = {}
        self._changed: set[str] = set()
        """Sections whose keeper is asked at the next write: a commit must not pay for making hundreds of nights into data."""

        self._due: float | None = None
        """When the next write is due, on the event loop's clock."""

        self._closed = False

    async def load(self) -> None:
        """Read the file."""
        self._kept = dict(await self._read())

    def section(self, name: str) -> Section:
        """Return the section of this name."""
        return Section(self, name)

    def found(self, name: str) -> Kept:
        """Return what was kept of a section; empty where there was nothing, or nothing that is a section."""
        return _section(self._kept, name)

    def keep(self, name: str, keeper: Callable[[], Kept]) -> None:
        """Ask `keeper` for what is to be kept of a section, each time that it has changed."""
        self._keepers[name] = keeper
        self._changed.add(name)

    def write_soon(self, name: str, seconds: float) -> None:
        """Write a section that has changed, in so many seconds at the latest."""
        self._changed.add(name)
        due = self._hass.loop.time() + seconds
        # The platform puts off a write that waits when another is asked for; the earlier one counts.
        if not self._closed and (self._due is None or due < self._due):
            self._due = due
            self._store.async_delay_save(self._data, seconds)

    async def write_now(self, name: str) -> None:
        """Write a section that has changed now. A disk that takes nothing is logged; `on_disk` says whether it did."""
        self._changed.add(name)
        if not self._closed:
            await self._write()

    async def _write(self) -> None:
        try:
            await self._store.async_save(self._data())
        except OSError:
            # The store logs a disk that takes nothing, but not a folder that is gone.
            _LOGGER.exception("What is kept of an inverter could not be written")

    async def on_disk(self, name: str) -> Kept:
        """Return a section as a restart would read it; empty where the file cannot be read."""
        with suppress(HomeAssistantError):
            return _section(await self._read(), name)
        return {}

    async def close(self) -> None:
        """Write every section a last time: from now on the file is the next start's."""
        self._changed.update(self._keepers)
        await self._write()
        self._closed = True

    async def remove(self) -> None:
        """Delete the file; the inverter was removed."""
        await self._store.async_remove()

    async def _read(self) -> Mapping[str, Any]:
        # A store gives what waits to be written before what is on disk.
        data = await Store[dict[str, Any]](self._hass, VERSION, self._store.key).async_load()
        return data if isinstance(data, Mapping) else {}

    def _data(self) -> dict[str, Any]:
        self._due = None
        self._kept.update((name, self._keepers[name]()) for name in self._changed)
        self._changed.clear()
        return dict(self._kept)


def _section(sections: Mapping[str, Any], name: str) -> Kept:
    kept = sections.get(name)
    return kept if isinstance(kept, Mapping) else {}


class Section:
    """One object's part of an entry's file."""

    def __init__(self, store: EntryStore, name: str) -> None:
        """Stand for the section of this name."""
        self._store = store
        self._name = name

    @property
    def found(self) -> Kept:
        """What was kept of it when the file was read."""
        return self._store.found(self._name)

    def keep(self, keeper: Callable[[], Kept]) -> None:
        """Ask `keeper` for what is to be kept, each time that it has changed."""
        self._store.keep(self._name, keeper)

    def write_soon(self, seconds: float) -> None:
        """Write what has changed, in so many seconds at the latest."""
        self._store.write_soon(self._name, seconds)

    async def write_now(self) -> None:
        """Write what has changed now. A disk that takes nothing is logged."""
        await self._store.write_now(self._name)

    async def on_disk(self) -> Kept:
        """Return the section as a restart would read it."""
        return await self._store.on_disk(self._name)
