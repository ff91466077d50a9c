"""The repairs of a schedule that is no longer what was asked for: changed elsewhere, or moved by a change of summer time."""

from collections.abc import Awaitable, Callable
from typing import Any

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError

from .actions import committing, translated
from .changes import Commits, held_text
from .coordinator import ChargehandConfigEntry
from .messages import SUMMER_TIME, text


async def async_create_fix_flow(
    hass: HomeAssistant, issue_id: str, data: dict[str, str | int | float | None] | None
) -> RepairsFlow:
    """Return the flow for an issue."""
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

    async def _do(
        self, what: Callable[[Commits, str], Awaitable[object]], *, writes: bool = False
    ) -> RepairsFlowResult:
        """Do one of the two, and show what the inverter holds then."""
        entry: ChargehandConfigEntry | None = self.hass.config_entries.async_get_entry(self._entry_id)
        if entry is None or entry.state is not ConfigEntryState.LOADED:
            return self.async_abort(reason="not_running")
        coordinator, by = entry.runtime_data, text("by_repair")
        try:
            with committing(coordinator, by) if writes else translated(coordinator):
                await what(coordinator.commits, by)
                held = held_text(coordinator.inverter, coordinator.storage.confirmed)
        except HomeAssistantError as fault:
            return self.async_abort(reason="failed", description_placeholders={"reason": str(fault)})
        return self.async_create_entry(
            data={},
            description="written" if writes else "kept",
            description_placeholders={"inverter": entry.title, "held": held},
        )


class ChangedElsewhereFlow(_ScheduleFlow):
    """Keep theirs, or put mine back."""

    menu = ("keep", "put_back")

    async def async_step_keep(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Keep what the inverter holds now."""
        return await self._do(Commits.keep)

    async def async_step_put_back(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Put the schedule back that was confirmed last."""
        return await self._do(Commits.put_back, writes=True)


class SummerTimeFlow(_ScheduleFlow):
    """Let the windows move in the house's day, or move them back."""

    menu = ("stay", "move")

    async def async_step_stay(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Leave the inverter's times as they are."""
        return await self._do(Commits.keep)

    async def async_step_move(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Write the house's times again at which the windows were confirmed."""
        return await self._do(Commits.put_confirmed, writes=True)
