"""How often something is read."""

from enum import StrEnum


class Poll(StrEnum):
    """How often something is read."""

    FAST = "fast"
    SLOW = "slow"
    ONCE = "once"
