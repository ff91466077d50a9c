"""A house whose date and time are set by a test, while the line's pauses and time-outs run in real time."""

from datetime import UTC, datetime, timedelta, tzinfo
from types import SimpleNamespace

import pytest
from homeassistant.helpers import event
from homeassistant.util import dt as dt_util

from custom_components.chargehand.core.inverter import inverter


class HouseTime:
    """What Home Assistant and Chargehand take for now: it stands still until it is moved."""

    def __init__(self, patch: pytest.MonkeyPatch, start: datetime) -> None:
        self.now = start

        class Told(datetime):
            @classmethod
            def now(cls, tz: tzinfo | None = None) -> datetime:
                return self.now.astimezone(tz)

        patch.setattr(dt_util, "utcnow", lambda: self.now.astimezone(UTC))
        patch.setattr(dt_util, "now", lambda zone=None: self.now.astimezone(zone or dt_util.get_default_time_zone()))
        patch.setattr(inverter, "datetime", Told)
        # Timers are set for moments too: by real time, those of an earlier day would be due at once, and again and again.
        patch.setattr(event, "time", SimpleNamespace(time=self.timestamp))
        patch.setattr(event, "time_tracker_timestamp", self.timestamp)
        patch.setattr(event, "time_tracker_utcnow", lambda: self.now.astimezone(UTC))

    def timestamp(self) -> float:
        return self.now.timestamp()

    def move_to(self, moment: datetime) -> None:
        self.now = moment

    def pass_by(self, **time: float) -> None:
        self.now += timedelta(**time)
