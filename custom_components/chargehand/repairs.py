"""The repair of a schedule that was changed elsewhere: keep theirs, or put mine back."""

from typing import Any

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError

from .coordinator import ChargehandConfigEntry
from .failures import committing, translated


async def async_create_fix_flow(
    hass: HomeAssistant, issue_id: str, data: dict[str, str | int | float | None] | None
) -> RepairsFlow:
    """The flow for an issue; only one kind can be fixed here."""
    return ChangedElsewhereFlow(str((data or {}).get("entry_id")))


class ChangedElsewhereFlow(RepairsFlow):
    """Asks which of two schedules is to be, and does it."""

    def __init__(self, entry_id: str) -> None:
        """Repair the schedule of this entry."""
        self._entry_id = entry_id

    async def async_step_init(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Ask."""
        return self.async_show_menu(step_id="init", menu_options=["keep", "put_back"])

    async def async_step_keep(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Keep what the inverter holds now."""
        return await self._do("keep")

    async def async_step_put_back(self, user_input: dict[str, Any] | None = None) -> RepairsFlowResult:
        """Put the schedule back that was confirmed last."""
        return await self._do("put_back")

    async def _do(self, what: str) -> RepairsFlowResult:
        entry: ChargehandConfigEntry | None = self.hass.config_entries.async_get_entry(self._entry_id)
        if entry is None or entry.state is not ConfigEntryState.LOADED:
            return self.async_abort(reason="not_running")
        coordinator = entry.runtime_data
        try:
            if what == "keep":
                with translated(coordinator):
                    await coordinator.keep_schedule("repair")
            else:
                with committing(coordinator, "repair"):
                    await coordinator.put_back_schedule("repair")
        except HomeAssistantError as fault:
            return self.async_abort(reason="failed", description_placeholders={"reason": str(fault)})
        return self.async_create_entry(data={})
