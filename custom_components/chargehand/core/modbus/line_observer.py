"""What a line tells of the requests that pass through it."""

from typing import Protocol


class LineObserver(Protocol):
    """Learns what passes through a line."""

    def take_read(self, table: str, first: int, registers: tuple[int, ...], at: float) -> None:
        """Take registers that were read. They are not older than `at`, a time on the event loop's clock."""

    def take_write(self) -> None:
        """Take note that registers may become others, or may just have."""
