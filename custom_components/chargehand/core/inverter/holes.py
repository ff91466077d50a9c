"""What is known of registers that an inverter does not have: no later read asks for them."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from ..modbus import Refused
from ..registers import Batch, LineRules, RegisterMap, Span, spans_of
from .polling import all_groups
from .split_read import Found, within

NO_SUCH_REGISTERS = {2, 3}
"""Exceptions for registers that do not exist: 02 by the standard (Modbus Application Protocol V1.1b3, section 7), 03 by common practice."""

SOONEST, LATEST = timedelta(seconds=10), timedelta(hours=1)
"""When to ask again for a point that was refused: after the first time, doubled each time up to the last. A part of the inverter that
is just starting may refuse what it has a minute later."""


class PointsRefused(Refused):
    """The inverter refuses registers that the map asks for, each read on its own."""

    def __init__(self, code: int, registers: str) -> None:
        """Initialize the error with the exception code, and with the registers as the map's file counts them."""
        super().__init__(code)
        self.registers = registers


@dataclass(frozen=True, kw_only=True, slots=True)
class _RefusedPoint:
    code: int
    wait: timedelta
    again_at: datetime


class Holes:
    """The registers of one inverter that reads leave out. It starts without any; what is found stays until the inverter is set up anew."""

    def __init__(self, register_map: RegisterMap, now: Callable[[], datetime]) -> None:
        """Set up for the inverter of a map. `now` returns an aware time."""
        self.rules = register_map.line
        """The map's rules; their longest read is shorter than the map's if the inverter answers none of that length."""

        self.found: frozenset[Span] = frozenset()
        """Registers that nobody asked for, one or more of which the inverter does not have."""

        self.barred: frozenset[Span] = frozenset()
        """Registers that no read may contain whole together with others."""

        self.version = 0
        """Counts the changes of what is known."""

        self._map = register_map
        self._now = now
        self._apart: frozenset[Span] = frozenset()
        self._points: dict[Span, _RefusedPoint] = {}

    @property
    def points(self) -> frozenset[Span]:
        """Return the registers that the map asks for and the inverter refuses."""
        return frozenset(self._points)

    def learn(self, found: Found, code: int) -> None:
        """Take what a split read has found after a refusal with this exception code."""
        now = self._now()
        self.found |= frozenset(found.holes)
        # What lies in a hole and is known to be missing explains the whole of it.
        explained = {*self.found, *found.points}
        self.found = frozenset(
            hole for hole in self.found if not any(span != hole and within(span, hole) for span in explained)
        )
        self._apart |= frozenset(found.apart)
        for span in found.points:
            known = self._points.get(span)
            wait = SOONEST if known is None else min(2 * known.wait, LATEST)
            self._points[span] = _RefusedPoint(code=code, wait=wait, again_at=now + wait)
        rules = self.rules
        if found.longest is not None:
            self.rules = replace(rules, longest_read=max(found.longest, self._longest_span()))
        self._update(changed=self.rules != rules)

    def answered(self, batch: Batch) -> None:
        """Forget the refusals of points that a read has brought after all."""
        if self._points:
            self._points = {span: point for span, point in self._points.items() if not within(span, batch.span)}
            self._update()

    def skipped(self) -> frozenset[Span]:
        """Return the refused points that it is too early to ask for again."""
        if not self._points:
            return frozenset()
        now = self._now()
        return frozenset(span for span, point in self._points.items() if now < point.again_at)

    def refusal(self, spans: Iterable[Span]) -> PointsRefused:
        """Return the error for points that were refused before."""
        refused = tuple(spans)
        return PointsRefused(self._points[refused[0]].code, listed(refused, self._map.line))

    @property
    def keys(self) -> Mapping[str, frozenset[Span]]:
        """Return what of the map cannot be read because its registers are refused, each with these registers."""
        points = self.points
        needed = {key: frozenset(spans_of(groups)) & points for key, groups in all_groups(self._map)}
        return {key: spans for key, spans in needed.items() if spans}

    @property
    def unlisted(self) -> tuple[Span, ...]:
        """Return the registers among those found that the map does not mention, in order: the map may leave them out by `no_read`."""
        named = {address for _, groups in all_groups(self._map) for group in groups for address in group}
        found = {(span.table, at) for span in self.found for at in range(span.first, span.last + 1)}
        return spans_of([tuple(found - named)])

    @property
    def longest_read(self) -> int | None:
        """Return how many registers a read may have, if the inverter answers fewer than the map says."""
        return None if self.rules.longest_read == self._map.line.longest_read else self.rules.longest_read

    def _update(self, *, changed: bool = False) -> None:
        barred = self.found | self._apart | self.points
        if changed or barred != self.barred:
            self.barred = barred
            self.version += 1

    def _longest_span(self) -> int:
        """Return the registers of the longest span that has to come in one read."""
        spans = spans_of(group for _, groups in all_groups(self._map) for group in groups)
        return max(span.last - span.first + 1 for span in spans)


def listed(spans: Iterable[Span], rules: LineRules) -> str:
    """Return registers as the map's file counts them: `holding 706, 740–755, input 350`."""
    registers = {(span.table, at) for span in spans for at in range(span.first, span.last + 1)}
    base = rules.first_number
    texts: dict[str, list[str]] = {}
    for span in spans_of([tuple(registers)]):
        last = "" if span.first == span.last else f"–{span.last + base}"
        texts.setdefault(span.table, []).append(f"{span.first + base}{last}")
    return ", ".join(f"{table} {', '.join(numbers)}" for table, numbers in sorted(texts.items()))
