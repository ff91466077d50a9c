"""The charge that was stopped last, for whoever stopped it to start again. It is not kept over a restart."""

from collections.abc import Sequence

from ..core.schedule import Schedule, Window, charges


class StoppedCharge:
    """What was stopped, and who did it; nothing once anybody has armed the charge again or changed its windows."""

    def __init__(self) -> None:
        """Nothing was stopped yet."""
        self._kept: tuple[str | None, Sequence[Window]] | None = None
        self._left: Sequence[Window] = ()

    def keep(self, asker: str | None, charge: Sequence[Window], left: Sequence[Window]) -> None:
        """Keep all charge windows as they were before `asker` stopped them, and as that left them; None is somebody who is not known."""
        self._kept, self._left = (asker, charge), left

    def see(self, schedule: Schedule | None) -> None:
        """Take note of the schedule that the inverter holds now."""
        if schedule is not None and (charges(schedule) or tuple(schedule.charge) != tuple(self._left)):
            self._kept = None

    def hand_out(self, asker: str | None) -> Sequence[Window] | None:
        """Return the charge windows as they were before `asker` stopped them, once; None where there is nothing of it to start again."""
        if asker is None or self._kept is None or self._kept[0] != asker:
            return None
        (_, charge), self._kept = self._kept, None
        return charge
