"""The draft: an edit of one window, applying all edits as one commit, dropping them."""

from datetime import timedelta
from functools import partial

from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError

from ..changes import NoDraft, ScheduleEvent
from ..const import AFTER_PAUSE, CONF_EDITS, CONF_EDITS_SECONDS, DEFAULT_EDITS_SECONDS
from ..coordinator import ChargehandConfigEntry, ChargehandCoordinator
from ..core.inverter import SCHEDULE, Subscription
from ..core.schedule import NotTaken, Receipt, Side, Uncertain
from ..messages import text
from .failures import committing, refused, translated


async def edit_window(
    coordinator: ChargehandCoordinator, side: Side, number: int, by: str, **settings: float | bool
) -> None:
    """Change one window of the draft; nothing is written to the inverter. Raises the platform's errors."""
    inverter, held = coordinator.inverter, coordinator.data.schedule
    points = inverter.points
    if points is None or held is None:
        raise refused("schedule_not_read")
    with translated(coordinator):
        await coordinator.drafts.edit(points, held, (side, number), settings, by, shift=inverter.shift())


async def apply_draft(coordinator: ChargehandCoordinator, by: str) -> Receipt:
    """Put the draft on the inverter as one commit, and return its receipt. Where that fails the draft stays. Raises the platform's errors."""
    if coordinator.drafts.draft is None:
        raise refused("no_draft")
    try:
        with committing(coordinator, by):
            return await coordinator.commits.apply_draft(by)
    except NoDraft as fault:
        # It was dropped while it waited for its turn.
        raise refused("no_draft") from fault
    except HomeAssistantError as fault:
        await coordinator.drafts.failed(str(fault))
        raise


async def discard_draft(coordinator: ChargehandCoordinator) -> None:
    """Drop the draft; the entities show again what the inverter holds."""
    await coordinator.drafts.end()


async def follow_drafts(hass: HomeAssistant, entry: ChargehandConfigEntry) -> None:
    """Apply drafts by themselves from now on, where the options say so."""
    coordinator, options, drafts = entry.runtime_data, entry.options, entry.runtime_data.drafts
    after_pause = options.get(CONF_EDITS) == AFTER_PAUSE
    seconds = timedelta(seconds=options.get(CONF_EDITS_SECONDS, DEFAULT_EDITS_SECONDS))

    @callback
    def look() -> None:
        # A draft that could not be applied for sure may turn out to be on the inverter.
        if drafts.kept is not None and drafts.kept.why is not None:
            hass.async_create_task(drafts.found(coordinator.data.schedule), "a draft may have been applied")

    await drafts.start(partial(_after_pause, coordinator), seconds if after_pause else None, coordinator.data.schedule)
    shown = frozenset({SCHEDULE})
    entry.async_on_unload(coordinator.async_add_listener(look, Subscription(needs=shown, shows=shown)))


async def _after_pause(coordinator: ChargehandCoordinator, by: str) -> None:
    """Apply the draft with nobody waiting for it. Report why it was refused."""
    try:
        await apply_draft(coordinator, by)
    except HomeAssistantError as fault:
        if fault.translation_key == "no_draft" or isinstance(fault.__cause__, NotTaken | Uncertain):
            # There is none any more, or the commit itself has reported the failure.
            return
        message = text("log_draft_failed", reason=str(fault).rstrip("."), by=by)
        coordinator.activity_log.record(ScheduleEvent.DRAFT_FAILED, message, reason=str(fault))
