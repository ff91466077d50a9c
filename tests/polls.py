"""Counting an inverter's polls, and what came of them."""

from dataclasses import dataclass
from typing import Any

from custom_components.chargehand.coordinator import ChargehandCoordinator
from custom_components.chargehand.core.modbus import LineError


@dataclass
class Polls:
    """Polls since this was made, or since it was cleared."""

    begun: int = 0
    answered: int = 0
    failed: int = 0

    def clear(self) -> None:
        self.begun = self.answered = self.failed = 0


def counted_polls(coordinator: ChargehandCoordinator) -> Polls:
    """Count a coordinator's polls from now on."""
    polls = Polls()
    really = coordinator.inverter.reader.poll

    async def poll(*asked: Any, **how: Any) -> Any:
        polls.begun += 1
        try:
            polled = await really(*asked, **how)
        except LineError:
            polls.failed += 1
            raise
        polls.answered += 1
        return polled

    coordinator.inverter.reader.poll = poll  # type: ignore[method-assign]
    return polls
