"""Loading a register map: from a file to a `RegisterMap`, or to everything that is wrong with it. Blocks; call it off the loop."""

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, cast

from ..register_map import LineRules, MapInvalid, RegisterMap, Span, Table, cure, mistake
from .build_limits import powers_of
from .build_points import Builder
from .build_readings import build_reading
from .build_schedule import build_schedule
from .build_values import build_clock, build_control, build_identity
from .document import Document, Path_, read_document
from .format import CLOCK, FORMAT, LINE, MAP, RESERVED, SCHEDULE, SPAN
from .format_key import Key
from .format_of_values import CONTROL, IDENTITY, READING
from .kinds import is_whole, shown
from .overlaps import check_overlaps
from .sections import Section, checked

SLUG = re.compile(r"[a-z][a-z0-9_]*")
LONGEST_NAME = 60


def load_map(path: Path) -> RegisterMap:
    """Load and check one file. Raises MapInvalid with every problem found, OSError when the file cannot be read."""
    document = read_document(path)
    _check_version(document)
    data = document.data
    head = checked(document, (), data, MAP) or {}
    given = data.get("line", {})
    line = checked(document, ("line",), given, LINE)
    # Where the line section has a mistake of its own, addresses still count as it says: one mistake, one message.
    builder = Builder(document, line or {**_defaults(LINE), **(given if isinstance(given, dict) else {})})
    rules = _line(builder, line) if line is not None else LineRules()
    identity = _each(builder, "identity", IDENTITY, build_identity)
    readings = _each(builder, "readings", READING, build_reading)
    if data.get("readings") == {}:
        document.wrong(("readings",), mistake("no_reading"), cure("one_reading", example="battery_level: {input: N}"))
    builder.powers = powers_of(readings.values(), identity.values())
    controls = _each(builder, "controls", CONTROL, build_control)
    _check_names(document)
    clock = _one(document, "clock", CLOCK, lambda section: build_clock(builder, section))
    schedule = _one(document, "schedule", SCHEDULE, lambda section: build_schedule(builder, section, controls))
    if schedule is not None and schedule.armed_by is not None:
        controls[schedule.armed_by.control.key] = schedule.armed_by.control
    made = RegisterMap(
        id=path.stem,
        title=str(head.get("title")),
        maker=str(head.get("maker")),
        model=str(head.get("model")),
        source=str(head.get("source")),
        line=rules,
        identity=tuple(identity.values()),
        readings=MappingProxyType(readings),
        controls=MappingProxyType(controls),
        clock=clock,
        schedule=schedule,
    )
    check_overlaps(document, made, builder.base)
    if document.problems:
        raise MapInvalid(document.problems)
    return replace(made, doubts=document.doubts)


def _defaults(keys: Mapping[str, Key]) -> Section:
    return {name: key.default for name, key in keys.items()}


def _check_version(document: Document) -> None:
    """Stop at a file of another version: nothing else in it can be judged. Raises MapInvalid."""
    version = document.data.get("chargehand_map")
    if is_whole(version) and version != FORMAT:
        document.wrong(
            ("chargehand_map",),
            mistake("other_format", version=shown(version)),
            cure("this_format", version=FORMAT),
        )
        raise MapInvalid(document.problems)


def _check_names(document: Document) -> None:
    """Note controls that are called like a reading: both would be the same entity."""
    readings, controls = document.data.get("readings"), document.data.get("controls")
    if isinstance(readings, dict) and isinstance(controls, dict):
        for key in controls:
            if key in readings:
                document.wrong(("controls", str(key)), mistake("name_of_reading"), cure("control_is_read"))


def _each[Built](
    builder: Builder, name: str, keys: Mapping[str, Key], build: Callable[[Builder, str, Path_, Section], Built | None]
) -> dict[str, Built]:
    """Every item of a section that is as it should be; the problems of the others are noted."""
    document = builder.document
    if name not in document.data:
        return {}
    data = document.data[name]
    if not isinstance(data, dict):
        reason = mistake("nothing") if data is None else mistake("no_keys", value=shown(data))
        document.wrong((name,), reason, cure("by_name", example="NAME: {input: N, type: u16}"))
        return {}
    found: dict[str, Built] = {}
    for key, value in data.items():
        path: Path_ = (name, str(key))
        if not isinstance(key, str) or not SLUG.fullmatch(key) or len(key) > LONGEST_NAME:
            document.wrong(path, mistake("unusable_name"), cure("small_letters"))
            continue
        if RESERVED.fullmatch(key):
            document.wrong(path, mistake("own_name"), cure("other_name"))
            continue
        section = checked(document, path, value, keys)
        built = build(builder, key, path, section) if section is not None else None
        if built is not None:
            found[key] = built
    return found


def _one[Built](
    document: Document, name: str, keys: Mapping[str, Key], build: Callable[[Section], Built | None]
) -> Built | None:
    if name not in document.data:
        return None
    section = checked(document, (name,), document.data[name], keys)
    return build(section) if section is not None else None


def _line(builder: Builder, line: Section) -> LineRules:
    spans: list[Span] = []
    for index, item in enumerate(cast("list[object]", line["no_read"])):
        path: Path_ = ("line", "no_read", index)
        section = checked(builder.document, path, item, SPAN)
        if section is None:
            continue
        first = builder.address((*path, "from"), section["from"], 1, str(section["table"]))
        last = builder.address((*path, "to"), section["to"], 1, str(section["table"]))
        if first is None or last is None:
            continue
        if last < first:
            builder.document.wrong((*path, "to"), mistake("to_before_from"), cure("swap"))
            continue
        spans.append(Span(table=Table(str(section["table"])), first=first, last=last))
    own = {key: value for key, value in line.items() if key not in {"numbering", "word_order", "no_read"}}
    return LineRules(numbering=str(line["numbering"]), **cast("dict[str, Any]", own), no_read=tuple(spans))
