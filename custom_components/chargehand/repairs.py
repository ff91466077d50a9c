"""The repairs of a schedule that is no longer what was asked for: changed elsewhere, or moved by a change of summer time."""

from collections.abc import Awaitable
from typing import Any

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError

from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .failures import committing, translated
from .issues import SUMMER_TIME

BY = "repair"


async def async_create_fix_flow(
    hass: HomeAssistant, issue_id: str, data: dict[str, str | int | float | None] | None
) -> RepairsFlow:
    """The flow for an issue."""
    entry_id = str((data or {}).get("entry_id"))
    return SummerTimeFlow(entry_id) if issue_id.startswith(SUMMER_TIME) else ChangedElsewhereFlow(entry_id)


class _ScheduleFlow(RepairsFlow):
    """Asks which of two schedules is to be, and does it."""

    menu: tuple[str, str]
    """What keeps the one that the inverter holds, and what writes the other."""

    def __init__(self, entry_id: str) -> None:
        """Repair the schedule of this entry."""
        self._entry_id = entry_id

    async def async_step_init(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Ask."""
        return self.async_show_menu(step_id="init", menu_options=list(self.menu))

    async def _keep(self) -> RepairsFlowResult:
        """Take what the inverter holds for what is wanted."""
        coordinator = self._coordinator()
        if coordinator is None:
            return self.async_abort(reason="not_running")
        try:
            with translated(coordinator):
                await coordinator.commits.keep(BY)
        except HomeAssistantError as fault:
            return self.async_abort(reason="failed", description_placeholders={"reason": str(fault)})
        return self.async_create_entry(data={})

    async def _write(self) -> RepairsFlowResult:
        """Put the other one on the inverter."""
        coordinator = self._coordinator()
        if coordinator is None:
            return self.async_abort(reason="not_running")
        try:
            with committing(coordinator, BY):
                await self.other(coordinator)
        except HomeAssistantError as fault:
            return self.async_abort(reason="failed", description_placeholders={"reason": str(fault)})
        return self.async_create_entry(data={})

    def other(self, coordinator: ChargehandCoordinator) -> Awaitable[object]:
        """The commit of the other one."""
        raise NotImplementedError

    def _coordinator(self) -> ChargehandCoordinator | None:
        entry: ChargehandConfigEntry | None = self.hass.config_entries.async_get_entry(self._entry_id)
        return None if entry is None or entry.state is not ConfigEntryState.LOADED else entry.runtime_data


class ChangedElsewhereFlow(_ScheduleFlow):
    """Keep theirs, or put mine back."""

    menu = ("keep", "put_back")

    async def async_step_keep(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Keep what the inverter holds now."""
        return await self._keep()

    async def async_step_put_back(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Put the schedule back that was confirmed last."""
        return await self._write()

    def other(self, coordinator: ChargehandCoordinator) -> Awaitable[object]:
        """What was confirmed last."""
        return coordinator.commits.put_back(BY)


class SummerTimeFlow(_ScheduleFlow):
    """Let the windows move in the house's day, or move them back."""

    menu = ("stay", "move")

    async def async_step_stay(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Leave the inverter's times as they are."""
        return await self._keep()

    async def async_step_move(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Write the house's times again."""
        return await self._write()

    def other(self, coordinator: ChargehandCoordinator) -> Awaitable[object]:
        """The house's times at which the windows were confirmed."""
        return coordinator.commits.put_confirmed(BY)
