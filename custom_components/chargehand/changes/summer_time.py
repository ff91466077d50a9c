"""Names windows that act at other times of the house's day since its clocks changed and the inverter's did not."""

from collections.abc import Sequence

from homeassistant.core import callback

from ..core.inverter import Inverter
from ..core.schedule import Change, changes
from ..messages import SUMMER_TIME, changes_text
from .activity_log import ActivityLog
from .storage import Storage


@callback
def name_summer_time(log: ActivityLog, inverter: Inverter, storage: Storage) -> None:
    """Raise the issue where the confirmed schedule is another in the house's time of now, else clear it."""
    confirmed, shift = storage.confirmed, storage.confirmed_shift
    moved: Sequence[Change] = ()
    if confirmed is not None and shift is not None and shift != inverter.shift():
        moved = changes(inverter.schedule_of(confirmed, shift), inverter.schedule_of(confirmed))
    if moved:
        log.raise_issue(SUMMER_TIME, changes=changes_text(moved))
    else:
        log.clear_issues(SUMMER_TIME)
