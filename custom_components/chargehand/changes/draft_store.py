"""Keeps a draft over restarts."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Self

from ..core.schedule import Draft
from ..store import Section


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class KeptDraft:
    """A draft, and what goes with it. Each edit makes another one, so they compare by identity."""

    draft: Draft
    by: str
    """Who edited it last."""

    since: datetime
    """When it was begun, in UTC."""

    why: str | None = None
    """Why it could not be applied, since the last edit."""

    due: datetime | None = None
    """When it is applied by itself, in UTC; None: when somebody presses the button."""

    def as_dict(self) -> dict[str, Any]:
        """Return the same as JSON data."""
        due = None if self.due is None else self.due.isoformat()
        since = self.since.isoformat()
        return {"draft": self.draft.as_dict(), "by": self.by, "since": since, "why": self.why, "due": due}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Self:
        """Return what `as_dict` was made of. Raises KeyError, TypeError or ValueError for anything else."""
        due = None if data["due"] is None else datetime.fromisoformat(data["due"])
        since = datetime.fromisoformat(data["since"])
        return cls(draft=Draft.from_dict(data["draft"]), by=str(data["by"]), since=since, why=data["why"], due=due)


class DraftStore:
    """One inverter's draft."""

    def __init__(self, section: Section) -> None:
        """Read what was kept; no draft where there is none, or where it cannot be understood."""
        self.kept: KeptDraft | None = None
        self._section = section
        with suppress(AttributeError, KeyError, TypeError, ValueError):
            self.kept = KeptDraft.from_dict(section.found["kept"])
        section.keep(self._data)

    async def save(self, kept: KeptDraft | None) -> None:
        """Write to disk now. A disk that takes nothing is logged: the draft then ends with this run of Home Assistant."""
        self.kept = kept
        await self._section.write_now()

    def _data(self) -> dict[str, Any]:
        return {"kept": None if self.kept is None else self.kept.as_dict()}
