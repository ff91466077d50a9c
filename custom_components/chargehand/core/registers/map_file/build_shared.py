"""Limits that all windows of a side have in common, made from their section."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from ..register_map import Limit, WindowPoints, cure, mistake
from .build_limits import limit_point
from .build_points import Builder
from .build_windows import field_length
from .document import Path_
from .format import LIMITS, SHARED_LIMIT
from .kinds import shown
from .sections import checked


def with_shared(builder: Builder, path: Path_, side: object, windows: Sequence[WindowPoints]) -> list[WindowPoints]:
    """Return the windows of a side with the limits that they share; what is wrong with these is noted."""
    if not isinstance(side, dict) or "shared" not in side:
        return list(windows)
    here: Path_ = (*path, "shared")
    data = side["shared"]
    if not isinstance(data, dict) or not data:
        builder.document.wrong(
            here, mistake("no_keys", value=shown(data)), cure("keys_such_as", keys="power, stop_level")
        )
        return list(windows)
    limits: dict[str, Any] = _limits(builder, here, data)
    for name in limits:
        if any(getattr(window, name) is not None for window in windows):
            builder.document.wrong((*here, name), mistake("own_and_shared", key=name), cure("keep_one"))
            return list(windows)
    return [replace(window, **limits) for window in windows]


def _limits(builder: Builder, path: Path_, data: Mapping[object, object]) -> dict[str, Limit]:
    document = builder.document
    limits: dict[str, Limit] = {}
    for name, value in data.items():
        where: Path_ = (*path, str(name))
        if name not in LIMITS:
            near = document.nearest(name, LIMITS)
            right = cure("meant", near=near) if near else cure("known_here", keys=", ".join(LIMITS))
            document.wrong(where, mistake("not_shared"), right)
            continue
        row = checked(document, where, value, {**SHARED_LIMIT, **LIMITS[str(name)]})
        if row is None:
            continue
        first = builder.address((*where, "holding"), row["holding"], field_length(str(name), row))
        builder.check_length(where, field_length(str(name), row))
        limit = None if first is None else limit_point(builder, where, str(name), row, first)
        if limit is not None:
            limits[str(name)] = replace(limit, shared=True)
    return limits
