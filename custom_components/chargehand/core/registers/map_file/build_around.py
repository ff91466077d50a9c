"""The writes around a change, which the schedule, a control and the clock may have: `before_write` and `after_write`."""

from collections.abc import Iterator, Mapping
from typing import cast

from ..register_map import AfterWrite, BeforeWrite, WritesAround
from .build_points import Builder
from .document import Path_
from .format_around import AFTER_WRITE, BEFORE_WRITE
from .format_key import Key
from .sections import Section, checked


def build_around(builder: Builder, path: Path_, section: Section) -> WritesAround:
    """Return the writes that a section names around its changes; those with a mistake are left out, which is noted."""
    before = tuple(
        BeforeWrite(
            register=register,
            value=cast("int", row["write"]),
            reads=cast("int | None", row.get("reads")),
            lasts=cast("float | None", row.get("lasts")),
        )
        for register, row in _rows(builder, (*path, "before_write"), section, BEFORE_WRITE)
    )
    after = tuple(
        AfterWrite(
            register=register,
            value=cast("int", row["write"]),
            reads=cast("int | None", row.get("reads")),
            activates=bool(row["activates"]),
        )
        for register, row in _rows(builder, (*path, "after_write"), section, AFTER_WRITE)
    )
    return WritesAround(before=before, after=after)


def _rows(builder: Builder, path: Path_, section: Section, keys: Mapping[str, Key]) -> Iterator[tuple[int, Section]]:
    for index, item in enumerate(cast("list[object]", section.get(str(path[-1]), []))):
        where: Path_ = (*path, index)
        row = checked(builder.document, where, item, keys)
        register = None if row is None else builder.address((*where, "holding"), row["holding"])
        if row is not None and register is not None:
            yield register, row
