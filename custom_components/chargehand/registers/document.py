"""A register map's text as data in which every value knows its line. Refuses what could cost memory or run code."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import NoReturn

import yaml
from yaml.constructor import SafeConstructor

from .problems import MapInvalid, Problem

type Path_ = tuple[str | int, ...]
"""The way to a value: keys and list positions."""

LARGEST = 256 * 1024
"""Bytes of the largest file read: room for a map of two thousand points."""

DEEPEST = 20
"""Levels of keys and lists within one another; the format needs seven."""

FAST_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""PyYAML over libyaml, several times as fast; where it was built without, the one in Python."""

TAKEN_DIFFERENTLY = re.compile(r"[\t?!]")
"""libyaml lets some of these stand where the loader in Python does not; a file must load everywhere or nowhere."""

TEXT_TAG = "tag:yaml.org,2002:str"

LARGEST_WHOLE = 2**64
"""No register holds more; a number of a hundred thousand digits would only cost time."""


def dotted(path: Path_) -> str:
    """A path as people write it: `schedule.charge.fields.start`, `line.no_read[0].from`."""
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
    problems: list[Problem] = field(default_factory=list)

    def wrong(self, path: Sequence[str | int], reason: str, cure: str, *, line: int | None = None) -> None:
        """Note a problem at a path: in its line or that of the nearest thing above it, unless `line` says better."""
        where = tuple(path)
        line = self.line_of(where) if line is None else line
        problem = Problem(file=self.file, line=line, key=dotted(where), reason=reason, cure=cure)
        if problem not in self.problems:
            self.problems.append(problem)

    def line_of(self, path: Path_) -> int:
        """The line of a path, or of the nearest thing above it that stands in the file."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)


def read_document(path: Path) -> Document:
    """Read a file. Raises MapInvalid when it is no YAML text that can be taken apart; OSError when it cannot be read."""
    document = Document(path.name)
    with path.open("rb") as file:
        octets = file.read(LARGEST + 1)
    if len(octets) > LARGEST:
        _refuse(document, 1, "", "the file is too long", f"a register map has at most {LARGEST:,} bytes")
    try:
        text = octets.decode("utf-8")
    except UnicodeDecodeError as error:
        line = octets[: error.start].count(b"\n") + 1
        _refuse(document, line, "", "this is not UTF-8 text", "save the file as plain UTF-8 text")
    try:
        root = _root(document, text)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        _refuse(document, mark.line + 1 if mark else 1, "", _reason(error), "check indentation, colons and quotes")
    except yaml.YAMLError as error:
        line = text[: getattr(error, "position", 0)].count("\n") + 1
        _refuse(document, line, "", "there are characters that no text file has", "save the file as plain UTF-8 text")
    if root is None:
        _refuse(document, 1, "", "the file is empty", "begin with: chargehand_map: 1")
    data = _convert(document, root, ())
    if not isinstance(data, dict):
        _refuse(document, 1, "", "the file is not a set of keys with values", "begin with: chargehand_map: 1")
    document.data = data
    return document


def _refuse(document: Document, line: int, key: str, reason: str, cure: str) -> NoReturn:
    raise MapInvalid([Problem(file=document.file, line=line, key=key, reason=reason, cure=cure)])


def _reason(error: yaml.MarkedYAMLError) -> str:
    return " ".join(part for part in (error.context, error.problem) if part)


def _root(document: Document, text: str) -> yaml.Node | None:
    try:
        return _compose(document, text, yaml.SafeLoader if TAKEN_DIFFERENTLY.search(text) else FAST_LOADER)
    except yaml.YAMLError:
        # libyaml has other words for the same mistake; whichever loader is there, an author reads the same.
        return _compose(document, text, yaml.SafeLoader)


def _compose(document: Document, text: str, loader: type[yaml.SafeLoader]) -> yaml.Node | None:
    """The node tree, after the events were seen to hold no anchor, alias or tag and not to nest without end."""
    depth = 0
    for event in yaml.parse(text, Loader=loader):
        line = event.start_mark.line + 1 if event.start_mark else 1
        if getattr(event, "anchor", None):
            _refuse(document, line, "", "anchors and aliases (& and *) are not taken", "write the values out")
        tag: str | None = getattr(event, "tag", None)
        if tag:
            _refuse(document, line, "", f"tags are not taken ({tag[:60]})", "write the value without a tag")
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            if depth > DEEPEST:
                _refuse(document, line, "", "this nests too deeply", "keep to the keys of the format")
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
    return yaml.compose(text, Loader=loader)


def _convert(document: Document, node: yaml.Node, path: Path_) -> object:
    document.lines.setdefault(path, node.start_mark.line + 1)
    if isinstance(node, yaml.MappingNode):
        found: dict[object, object] = {}
        for key_node, value_node in node.value:
            line = key_node.start_mark.line + 1
            if not isinstance(key_node, yaml.ScalarNode):
                _refuse(document, line, dotted(path), "a list or set stands where a key should", "give each key a name")
            key = _scalar(key_node)
            here = (*path, str(key))
            if here in document.lines:
                document.wrong(here, "this key stands twice", "keep one of them", line=line)
                continue
            document.lines[here] = line
            found[key] = _convert(document, value_node, here)
        return found
    if isinstance(node, yaml.SequenceNode):
        return [_convert(document, item, (*path, index)) for index, item in enumerate(node.value)]
    return _scalar(node)


def _scalar(node: yaml.Node) -> object:
    """A plain value; what YAML would read as something odd (a date that does not exist, a merge key) stays a text."""
    text = str(node.value)
    if node.tag == TEXT_TAG:
        return text
    try:
        value: object = SafeConstructor().construct_object(node)
    except ValueError, yaml.YAMLError:
        return text
    return text if isinstance(value, int) and abs(value) > LARGEST_WHOLE else value
