"""A register map's text as data in which every value knows its line. Refuses what could cost memory or run code."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import NoReturn

import yaml

from ...reasons import Reason
from ..register_map import MapInvalid, Problem, cure, mistake
from .plain_values import Unclear, plain_value

type Path_ = tuple[str | int, ...]
"""The way to a value: keys and list positions."""

LARGEST = 256 * 1024
"""Bytes of the largest file read: room for a map of two thousand points."""

DEEPEST = 20
"""Levels of keys and lists within one another; the format needs seven."""

FAST_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""PyYAML over libyaml, several times as fast; where it was built without, the one in Python."""

TAKEN_DIFFERENTLY = re.compile(r"\t|(?:^|[\s,\[{:-])[?!]", re.MULTILINE)
"""libyaml lets some of these stand where the loader in Python does not; a file must load everywhere or nowhere."""

NAMES = frozenset({"on", "off"})
"""Keys of the format that YAML 1.1 takes for truths."""

MOST_SUGGESTIONS = 200
"""Words of a file for which the nearest known one is looked for: with more, most of the file is wrong, and each costs time."""


def dotted(path: Path_) -> str:
    """Return a path as people write it: `schedule.charge.fields.start`, `line.no_read[0].from`."""
    text = ""
    for part in path:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


@dataclass(slots=True)
class Document:
    """The data of one file, the line of each of its values, and the problems found so far."""

    file: str
    data: dict[object, object] = field(default_factory=dict)
    lines: dict[Path_, int] = field(default_factory=dict)
    mistakes: int = 0
    """How often something was found wrong; one mistake may be found in several ways."""

    _problems: dict[Problem, None] = field(default_factory=dict)
    _doubts: dict[Problem, None] = field(default_factory=dict)
    _unclear: set[Path_] = field(default_factory=set)
    _suggestions: int = 0

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What is wrong, each mistake once."""
        return tuple(self._problems)

    def wrong(self, path: Sequence[str | int], reason: Reason, cure: Reason, *, line: int | None = None) -> None:
        """Note a problem at a path: in its line or that of the nearest thing above it, unless `line` says better.

        Where a value is unclear, what comes of taking it as a text is no mistake of its own.
        """
        where = tuple(path)
        self.mistakes += 1
        if where in self._unclear:
            return
        line = self.line_of(where) if line is None else line
        self._problems[Problem(file=self.file, line=line, key=dotted(where), reason=reason, cure=cure)] = None

    @property
    def doubts(self) -> tuple[Problem, ...]:
        """What is doubtful, in the order of the file."""
        return tuple(sorted(self._doubts, key=lambda problem: problem.line))

    def doubtful(self, path: Path_, reason: Reason, cure: Reason) -> None:
        """Note what works, and is likely not meant so."""
        doubt = Problem(
            file=self.file, line=self.line_of(path), key=dotted(path), reason=reason, cure=cure, is_doubt=True
        )
        self._doubts[doubt] = None

    def unclear(self, path: Path_, value: Unclear, line: int) -> None:
        """Note a value that can be read in two ways."""
        self.wrong(path, value.reason, value.cure, line=line)
        # A list of numbers is judged as a whole.
        self._unclear |= {path, path[:-1]} if path and isinstance(path[-1], int) else {path}

    def line_of(self, path: Path_) -> int:
        """Return the line of a path, or of the nearest thing above it that stands in the file."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)

    def nearest(self, word: object, known: Iterable[str]) -> str | None:
        """Return the known word that was most likely meant."""
        self._suggestions += 1
        if self._suggestions > MOST_SUGGESTIONS:
            return None
        near = get_close_matches(str(word)[:60], list(known), n=1, cutoff=0.6)
        return near[0] if near else None


def read_document(path: Path) -> Document:
    """Read a file. Raises MapInvalid when it is no YAML text that can be taken apart; OSError when it cannot be read."""
    file = path.name
    with path.open("rb") as opened:
        octets = opened.read(LARGEST + 1)
    if len(octets) > LARGEST:
        _refuse(file, 1, mistake("file_too_long"), cure("most_bytes", most=f"{LARGEST:,}"))
    try:
        text = octets.decode("utf-8")
    except UnicodeDecodeError as error:
        line = octets[: error.start].count(b"\n") + 1
        _refuse(file, line, mistake("no_utf8"), cure("save_as_utf8"))
    try:
        return _document(file, text)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        _refuse(file, mark.line + 1 if mark else 1, mistake("yaml", fault=_fault(error)), cure("yaml"))
    except yaml.YAMLError as error:
        line = text[: getattr(error, "position", 0)].count("\n") + 1
        _refuse(file, line, mistake("odd_characters"), cure("save_as_utf8"))


def _refuse(file: str, line: int, reason: Reason, cure: Reason, *, key: str = "") -> NoReturn:
    raise MapInvalid([Problem(file=file, line=line, key=key, reason=reason, cure=cure)])


def _fault(error: yaml.MarkedYAMLError) -> str:
    return " ".join(part for part in (error.context, error.problem) if part)


def _document(file: str, text: str) -> Document:
    try:
        return _taken(file, text, yaml.SafeLoader if TAKEN_DIFFERENTLY.search(text) else FAST_LOADER)
    except yaml.YAMLError:
        # libyaml has other words for the same mistake; whichever loader is there, an author reads the same.
        return _taken(file, text, yaml.SafeLoader)


def _taken(file: str, text: str, loader: type[yaml.SafeLoader]) -> Document:
    """Return the one document of a text, taken apart event by event."""
    document = Document(file)
    events = _sound(file, yaml.parse(text, Loader=loader))
    first = next(events, None)
    data = None if first is None else _value(document, events, first, ())
    # There may be more than belongs there.
    for _ in events:
        pass
    if data is None:
        _refuse(file, 1, mistake("file_empty"), cure("begin"))
    if not isinstance(data, dict):
        _refuse(file, 1, mistake("file_without_keys"), cure("begin"))
    document.data = data
    return document


def _sound(file: str, events: Iterable[yaml.Event]) -> Iterator[yaml.Event]:
    """Yield the events that make values, seen to be of one document, to hold no anchor, alias or tag and not to nest without end."""
    depth = documents = 0
    for event in events:
        if isinstance(event, yaml.NodeEvent):
            if event.anchor:
                _refuse(file, _line(event), mistake("anchor"), cure("write_values_out"))
            tag: str | None = getattr(event, "tag", None)
            if tag:
                _refuse(file, _line(event), mistake("tag", tag=tag[:60]), cure("no_tag"))
            if isinstance(event, yaml.CollectionStartEvent):
                depth += 1
                if depth > DEEPEST:
                    _refuse(file, _line(event), mistake("too_deep"), cure("keep_to_format"))
            yield event
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
            yield event
        elif isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                _refuse(file, _line(event), mistake("second_document"), cure("yaml"))


def _line(event: yaml.Event) -> int:
    return event.start_mark.line + 1 if event.start_mark else 1


def _value(document: Document, events: Iterator[yaml.Event], event: yaml.Event, path: Path_) -> object:
    document.lines.setdefault(path, _line(event))
    if isinstance(event, yaml.ScalarEvent):
        value, fault = _scalar(event)
        if fault is not None:
            document.unclear(path, fault, _line(event))
        return value
    if isinstance(event, yaml.MappingStartEvent):
        return _mapping(document, events, path)
    items: list[object] = []
    for item in events:
        if isinstance(item, yaml.SequenceEndEvent):
            break
        items.append(_value(document, events, item, (*path, len(items))))
    return items


def _mapping(document: Document, events: Iterator[yaml.Event], path: Path_) -> dict[object, object]:
    found: dict[object, object] = {}
    for event in events:
        if isinstance(event, yaml.MappingEndEvent):
            break
        line = _line(event)
        if not isinstance(event, yaml.ScalarEvent):
            _refuse(document.file, line, mistake("no_key"), cure("name_keys"), key=dotted(path))
        key, fault = (event.value, None) if _is_name(event.value, path) else _scalar(event)
        here = (*path, str(key))
        if key in found or here in document.lines:
            document.wrong(here, mistake("key_twice"), cure("keep_one"), line=line)
            _value(Document(document.file), events, next(events), here)
            continue
        document.lines[here] = line
        if fault is not None:
            document.unclear(here, fault, line)
        found[key] = _value(document, events, next(events), here)
    return found


def _is_name(key: str, path: Path_) -> bool:
    """Whether a key is one of the format's where it stands, though YAML 1.1 takes it for a truth: no key of a control or window is one."""
    return key in NAMES and path[:1] in {("controls",), ("schedule",)} and path[-1] != "labels"


def _scalar(event: yaml.ScalarEvent) -> tuple[object, Unclear | None]:
    """Return the value of a scalar; one that is unclear stays a text."""
    if not event.implicit[0]:
        return event.value, None
    try:
        return plain_value(event.value), None
    except Unclear as fault:
        return event.value, fault
