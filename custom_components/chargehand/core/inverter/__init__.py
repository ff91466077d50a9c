"""One inverter: reading it, changing it, and a snapshot of what was read last."""

from .acting_windows import FOLLOWED, acting, clock_ahead, level_of
from .change_state import ChangeState
from .commit_registers import ScaleMoved
from .energy_integral import Sample, energy_between
from .holes import Holes, PointsRefused, listed
from .inverter import Inverter
from .known_values import KnownValues
from .line_share import MOST, LineShare, line_share, percent
from .poll_rates import PollRates
from .polling import Polled
from .snapshot import CLOCK, SCHEDULE, ReadingValue, Snapshot
from .subscriptions import Subscription, Subscriptions
from .supported import NotSupported

__all__ = [
    "CLOCK",
    "FOLLOWED",
    "MOST",
    "SCHEDULE",
    "ChangeState",
    "Holes",
    "Inverter",
    "KnownValues",
    "LineShare",
    "NotSupported",
    "PointsRefused",
    "PollRates",
    "Polled",
    "ReadingValue",
    "Sample",
    "ScaleMoved",
    "Snapshot",
    "Subscription",
    "Subscriptions",
    "acting",
    "clock_ahead",
    "energy_between",
    "level_of",
    "line_share",
    "listed",
    "percent",
]
