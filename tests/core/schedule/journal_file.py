"""A commit's journal as a file of its own, on disk when `write` returns, and readable by whoever comes next."""

import json
import os
from pathlib import Path

from custom_components.chargehand.core.schedule.journal import Entry


class JournalFile:
    """A journal in one file. It is written beside and moved into place, so that a crash leaves the old one or the new one."""

    def __init__(self, path: Path) -> None:
        self.path = path

    async def write(self, entry: Entry) -> None:
        beside = self.path.with_suffix(".new")
        with beside.open("w") as file:
            json.dump(entry.as_dict(), file)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(self.path)

    async def clear(self) -> None:
        self.path.unlink(missing_ok=True)

    @property
    def unfinished(self) -> Entry | None:
        return self.read()

    def read(self) -> Entry | None:
        """The unfinished commit, if there is one."""
        return Entry.from_dict(json.loads(self.path.read_text())) if self.path.exists() else None
