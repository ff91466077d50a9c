"""Requests that the inverter leaves unanswered while it answers others: each try takes the line for a whole time-out."""

TIMES = 3
"""Silences to one request, with answers to others in between, after which it is paused."""

PAUSE_SECONDS = 30.0
"""How long it is then not asked, until it is tried once more."""

MOST_KEPT = 64


class Unanswered:
    """Which requests are paused. An inverter that answers nothing pauses none: it is away, and everything is tried until it is back."""

    def __init__(self) -> None:
        """Set up with nothing paused."""
        self._silences: dict[bytes, tuple[int, float]] = {}
        """By PDU: how often it got no answer, and when it did so last, on the event loop's clock."""

    def is_paused(self, pdu: bytes, now: float) -> bool:
        """Return whether a request is not to be asked now."""
        times, at = self._silences.get(pdu, (0, 0.0))
        return times >= TIMES and now < at + PAUSE_SECONDS

    def record(self, pdu: bytes, now: float, *, answered: bool, others_at: float) -> None:
        """Record what became of a request. `others_at` is when the inverter last answered any read."""
        times, at = self._silences.pop(pdu, (0, 0.0))
        if answered:
            return
        self._silences[pdu] = (times + 1 if not times or others_at > at else times), now
        if len(self._silences) > MOST_KEPT:
            del self._silences[next(iter(self._silences))]
