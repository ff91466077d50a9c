"""A value that cannot be written down."""

from ...reasons import Reason


class ValueRefused(ValueError):
    """A value cannot be written to the inverter. `reason` carries the key of a text, and what goes into it."""

    def __init__(self, key: str, **values: object) -> None:
        """Keep the reason, with its values as text."""
        self.reason = Reason.of(key, **values)
        super().__init__(str(self.reason))
