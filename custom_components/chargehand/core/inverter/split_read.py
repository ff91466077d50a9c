"""Splitting a read that the inverter refuses, to find out which of its registers do not exist."""

from collections.abc import Awaitable, Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..registers import Batch, Span

type Answers = Callable[[Batch], Awaitable[bool]]
"""Sends a read, keeps its registers, and returns whether the inverter has answered it or refused it for them. Raises LineError."""

type _Part = list[Span]
"""Spans in order, each of which must come in one read."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """Why an inverter has refused a read."""

    holes: tuple[Span, ...] = ()
    """Registers that nobody asked for, between others that exist: somewhere in each is one that does not."""

    points: tuple[Span, ...] = ()
    """Registers that were asked for and are refused on their own."""

    apart: tuple[Span, ...] = ()
    """Registers that exist, follow on one another, and yet do not come in one read."""

    longest: int | None = None
    """The longest read that was answered, if the inverter refuses a longer one only for its length."""


async def split_read(refused: Sequence[Span], answers: Answers) -> Found:
    """Find out why a read was refused that was to bring these spans of one table, and read what of them exists.

    Takes at most 3 reads for each span. The widest stretch that nobody asked for is where a read is split first, because
    documents leave out whole ranges. Raises LineError, whatever `answers` raises, without having found anything.
    """
    split = _Split(answers)
    await split.take_apart(list(refused))
    return await split.result()


class _Split:
    """One refused read that is being split."""

    def __init__(self, answers: Answers) -> None:
        self._answers = answers
        self._parts: list[_Part] = []
        """What was read: all spans of a part in one read."""

        self._points: list[Span] = []
        self._refused: list[Span] = []
        self._unexplained: list[tuple[_Part, _Part]] = []
        """Parts that were answered each, and refused in one read."""

        self._longest = 0

    async def take_apart(self, part: _Part) -> None:
        """Read the two sides of what was refused as a whole."""
        self._refused.append(_whole(part))
        outer = outermost(part)
        if len(outer) == 1:
            self._points.append(outer[0])
            # A span within it may exist all the same.
            if inner := [span for span in part if span != outer[0]]:
                await (self.take_apart(inner) if _whole(inner) == outer[0] else self._try(inner))
            return
        at = _widest_gap(outer)
        left = [span for span in part if span.last <= outer[at - 1].last]
        right = [span for span in part if span.last > outer[at - 1].last]
        if await self._try(left) & await self._try(right):
            self._unexplained.append((left, right))

    async def result(self) -> Found:
        """Return what was found, after a read across each seam between two parts that were answered."""
        holes: list[Span] = []
        apart: list[Span] = []
        parts = sorted(self._parts, key=lambda part: part[0].first)
        too_long = False
        for left, right in pairwise(parts):
            before, after = outermost(left)[-1], outermost(right)[0]
            seam = _whole([before, after])
            if any(within(point, seam) for point in self._points):
                continue
            # The read that was refused first is sent again if it is the seam: one refusal alone proves nothing.
            if any(within(refused, seam) for refused in self._refused[1:]) or not await self._send(seam):
                gap = Span(table=seam.table, first=before.last + 1, last=after.first - 1)
                if gap.first <= gap.last:
                    holes.append(gap)
                else:
                    apart.append(seam)
            elif (left, right) in self._unexplained:
                # All of it exists. If it is answered now, the refusal was a passing one.
                whole = _whole([*left, *right])
                too_long = (whole != seam and not await self._send(whole)) or too_long
        return Found(
            holes=tuple(holes),
            points=tuple(self._points),
            apart=tuple(apart),
            longest=self._longest if too_long else None,
        )

    async def _try(self, part: _Part) -> bool:
        if await self._send(_whole(part)):
            self._parts.append(part)
            return True
        await self.take_apart(part)
        return False

    async def _send(self, span: Span) -> bool:
        count = span.last - span.first + 1
        answered = await self._answers(Batch(span.table, span.first, count))
        if answered:
            self._longest = max(self._longest, count)
        return answered


def outermost(spans: Iterable[Span]) -> list[Span]:
    """Return the spans of one table in order, without those that lie within another."""
    kept: list[Span] = []
    for span in sorted(spans, key=lambda span: (span.first, -span.last)):
        if not kept or span.last > kept[-1].last:
            kept.append(span)
    return kept


def within(inner: Span, outer: Span) -> bool:
    """Return whether all registers of one span are in the other."""
    return inner.table is outer.table and outer.first <= inner.first and inner.last <= outer.last


def _whole(spans: Sequence[Span]) -> Span:
    """Return the registers from the first to the last of some spans of one table."""
    return Span(table=spans[0].table, first=min(span.first for span in spans), last=max(span.last for span in spans))


def _widest_gap(outer: Sequence[Span]) -> int:
    """Return where to split: before the span that the widest gap leads to, of equally wide ones the one in the middle."""
    middle = len(outer) / 2
    return max(range(1, len(outer)), key=lambda at: (outer[at].first - outer[at - 1].last, -abs(at - middle)))
