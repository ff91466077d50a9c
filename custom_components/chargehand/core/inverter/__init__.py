"""One inverter: what is read of it, what is written to it, and what was known of it last."""

from .acting_windows import FOLLOWED, acting, clock_ahead, level_of
from .commit_registers import ScaleMoved
from .energy_integral import Sample, energy_between
from .inverter import Inverter
from .known_values import KnownValues
from .line_share import MOST, LineShare, line_share, percent
from .poll_rates import PollRates
from .polling import Polled
from .reads import NotSupported
from .snapshot import CLOCK, SCHEDULE, ReadingValue, Snapshot
from .subscriptions import Subscription, Subscriptions

__all__ = [
    "CLOCK",
    "FOLLOWED",
    "MOST",
    "SCHEDULE",
    "Inverter",
    "KnownValues",
    "LineShare",
    "NotSupported",
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
    "percent",
]
