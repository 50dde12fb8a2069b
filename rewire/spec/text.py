"""From bytes to a tree of texts, lists and mappings, each with its place.

YAML is read event by event with libyaml where the wheel has it. Every scalar
stays the text that was typed; nothing is turned into a number or a boolean.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NoReturn

import yaml

from rewire.spec.report import SHOWN_FAULTS, Report, shown

LARGEST_BYTES = 16 * 1024 * 1024
"""A file larger than this is refused."""

_DEEPEST = 40
_MOST_VALUES = 3_000_000
_MOST_ALIASED = 100_000
_PLAIN_TAGS = {None, "!", *(f"tag:yaml.org,2002:{kind}" for kind in ("str", "seq", "map"))}
_Loader: Any = getattr(yaml, "CLoader", yaml.Loader)
_QUOTE = "put text that holds ': ', ' #' or a comma in quotes"


class Unreadable(Exception):
    """Reading cannot go on; the report says why."""


@dataclass(slots=True)
class Scalar:
    """A text; ``bare`` if nothing stands there at all (``note:`` and no more).

    ``cut`` if a comment begins right behind it that may have been meant as text.
    """

    text: str
    line: int
    column: int
    bare: bool = False
    size: int = 1
    cut: bool = False


@dataclass(slots=True)
class Sequence:
    """A list."""

    items: list[Node]
    line: int
    column: int
    size: int = 1


@dataclass(slots=True)
class Mapping:
    """A mapping; ``keys`` holds where each key stands."""

    entries: dict[str, Node]
    keys: dict[str, Scalar]
    line: int
    column: int
    inline: bool = False
    size: int = 1


Node = Scalar | Sequence | Mapping


def parse(data: bytes, report: Report, first: str = "rewire: 1") -> Mapping:
    """The mapping that a file holds.

    Args:
        data: the file's bytes.
        report: receives faults; some leave a tree that can be looked at further.
        first: what such a file begins with.

    Raises:
        Unreadable: there is no tree to look at; the report has the reason.
    """
    text = _decoded(data, report)
    _refuse_tabs(text, report)
    builder = _Builder(report, text)
    root = builder.document(text, first)
    if not isinstance(root, Mapping):
        report.fault(report.place(root.line, root.column), "the file holds no mapping of keys")
        raise Unreadable
    return root


def plain(node: Node) -> Any:
    """The same tree as texts, lists and dicts only; what is empty is an empty text."""
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Sequence):
        return [plain(item) for item in node.items]
    return {key: plain(value) for key, value in node.entries.items()}


def _decoded(data: bytes, report: Report) -> str:
    start = report.place(1, 1)
    if len(data) > LARGEST_BYTES:
        report.fault(start, "the file is over 16 MiB", "a spec is a few hundred lines of text")
        raise Unreadable
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        good = data[: error.start].decode("utf-8")
        line, column = good.count("\n") + 1, len(good) - good.rfind("\n")
        message = f"byte 0x{data[error.start]:02x} is not UTF-8"
        report.fault(report.place(line, column), message, "save the file as UTF-8 text")
        raise Unreadable from None
    return text.removeprefix("\ufeff")


def _refuse_tabs(text: str, report: Report) -> None:
    found = [m.end() for m in re.finditer(r"^ *\t(?=[ \t]*[^\s])", text, re.MULTILINE)]
    for end in found[:SHOWN_FAULTS]:
        line_start = text.rfind("\n", 0, end) + 1
        place = report.place(text.count("\n", 0, end) + 1, end - line_start)
        report.fault(place, "a tab in the indent", "indent with spaces")
    if found:
        raise Unreadable


@dataclass(slots=True)
class _Open:
    """A list or mapping that has begun; ``key`` waits for its value."""

    node: Sequence | Mapping
    anchor: str | None
    key: Scalar | None = None
    twice: bool = False


@dataclass(slots=True)
class _Builder:
    report: Report
    source: str
    stack: list[_Open] = field(default_factory=list)
    anchors: dict[str, Node | None] = field(default_factory=dict)
    root: Node | None = None
    values: int = 0
    aliased: int = 0
    commented: dict[int, str] = field(default_factory=dict)
    """Line (from 0) → its text, where a comment begins behind something."""

    def __post_init__(self) -> None:
        """Find the lines with comments once."""
        if " #" in self.source:
            lines = enumerate(self.source.split("\n"))
            self.commented = {number: line for number, line in lines if " #" in line}

    def document(self, text: str, first: str) -> Node:
        """The one document of the stream."""
        try:
            for event in _events(text):
                self._take(event)
        except yaml.YAMLError as error:
            self._syntax(error)
        if self.root is None:
            self._stop(1, 1, "the file is empty", f"start with '{first}'")
        return self.root

    def _take(self, event: Any) -> None:
        if isinstance(event, yaml.ScalarEvent):
            self._scalar(event)
        elif isinstance(event, (yaml.SequenceStartEvent, yaml.MappingStartEvent)):
            self._begin(event)
        elif isinstance(event, (yaml.SequenceEndEvent, yaml.MappingEndEvent)):
            self._end()
        elif isinstance(event, yaml.AliasEvent):
            self._alias(event)
        elif isinstance(event, yaml.DocumentStartEvent) and self.root is not None:
            self._stop(*_at(event), "a second document begins here", "one file holds one swap")

    def _scalar(self, event: Any) -> None:
        line, column = _at(event)
        self._check_tag(event, line, column)
        text = event.value
        if not text.isprintable() and _CONTROL.search(text):
            self._stop(line, column, "a control character in a text", "take it out")
        node = Scalar(text, line, column, bare=not text and event.implicit[0])
        if event.anchor is not None:
            self.anchors[event.anchor] = node
        if self.commented and event.implicit[0]:
            self._watch_comment(node, event.end_mark)
        self._put(node, event.implicit[0])

    def _begin(self, event: Any) -> None:
        line, column = _at(event)
        self._check_tag(event, line, column)
        if len(self.stack) >= _DEEPEST:
            self._stop(line, column, f"lists and mappings nested over {_DEEPEST} deep")
        node: Sequence | Mapping
        if isinstance(event, yaml.SequenceStartEvent):
            node = Sequence([], line, column)
        else:
            node = Mapping({}, {}, line, column, bool(event.flow_style))
        if event.anchor is not None:
            self.anchors[event.anchor] = None
        self.stack.append(_Open(node, event.anchor))

    def _end(self) -> None:
        done = self.stack.pop()
        if done.anchor is not None:
            self.anchors[done.anchor] = done.node
        self._put(done.node, is_plain=False)

    def _alias(self, event: Any) -> None:
        line, column = _at(event)
        target = self.anchors.get(event.anchor)
        if target is None:
            self._stop(line, column, f"alias {shown('*' + event.anchor)} stands for nothing here")
        self.aliased += target.size
        if self.aliased > _MOST_ALIASED:
            self._stop(line, column, "aliases (*) repeat too much", "write it out")
        self._put(target, is_plain=False)

    def _put(self, node: Node, is_plain: bool) -> None:
        self.values += 1
        if self.values > _MOST_VALUES:
            self._stop(node.line, node.column, f"more than {_MOST_VALUES} values in one file")
        if not self.stack:
            self.root = node
            return
        top = self.stack[-1]
        top.node.size += node.size
        if isinstance(top.node, Sequence):
            top.node.items.append(node)
        elif top.key is None:
            self._key(top, node, is_plain)
        else:
            if not top.twice:
                top.node.entries[top.key.text] = node
            top.key = None

    def _key(self, top: _Open, node: Node, is_plain: bool) -> None:
        assert isinstance(top.node, Mapping)
        if not isinstance(node, Scalar):
            self._stop(node.line, node.column, "a list or mapping used as a key", _QUOTE)
        place = self.report.place(node.line, node.column)
        if is_plain and node.text == "<<":
            self._stop(node.line, node.column, "merge keys (<<) are not read", "write the keys out")
        top.key = node
        top.twice = node.text in top.node.keys
        if top.twice:
            first = top.node.keys[node.text]
            message = f"key {shown(node.text)} given twice"
            self.report.fault(place, message, f"it stands in line {first.line} already")
            return
        top.node.keys[node.text] = node

    def _check_tag(self, event: Any, line: int, column: int) -> None:
        if event.tag not in _PLAIN_TAGS:
            self._stop(line, column, f"tag {shown(event.tag)} is not read", "leave the tag out")

    def _watch_comment(self, node: Scalar, end: Any) -> None:
        """A comment that begins right behind a text with no blank after # was hardly meant."""
        line = self.commented.get(end.line, "")
        if not _CUT.match(line, end.column):
            return
        node.cut = True
        if node.text:
            message = f"{shown(node.text)} ends at ' #', which starts a comment; {_QUOTE}"
            self.report.notice(self.report.place(node.line, node.column), message)

    def _syntax(self, error: yaml.YAMLError) -> None:
        mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
        problem = getattr(error, "problem", None) or "not readable as YAML"
        if mark is None:
            position = getattr(error, "position", 0)
            line = self.source.count("\n", 0, position) + 1
            column = position - self.source.rfind("\n", 0, position)
            self._stop(line, max(column, 1), _reason(error), "take it out")
        said = _WORDING.get(problem, f"not readable as YAML: {problem}")
        hint = None if said is _TOO_DEEP else self._quote_hint(mark.line)
        self._stop(mark.line + 1, mark.column + 1, said, hint)

    def _quote_hint(self, line: int) -> str:
        near = self.source.split("\n")[max(line - 1, 0) : line + 1]
        cut = any(re.search(r"\s#", text) for text in near)
        return f"' #' cuts a line short: {_QUOTE}" if cut else _QUOTE

    def _stop(self, line: int, column: int, message: str, hint: str | None = None) -> NoReturn:
        self.report.fault(self.report.place(line, column), message, hint)
        raise Unreadable


_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufffe\uffff]")
_CUT = re.compile(r"[ \t]+#[^\s#]")
_TOO_DEEP = "lists and mappings are nested too deep"
_WORDING = {
    "exceeded maximum nesting depth": _TOO_DEEP,
    "mapping values are not allowed in this context": "a second ': ' in one line",
    "mapping values are not allowed here": "a second ': ' in one line",
    "could not find expected ':'": "a key without ':'",
    "did not find expected key": "the lines before this do not hang together",
    "did not find expected ',' or '}'": "a mapping in {…} is broken here",
    "did not find expected ',' or ']'": "a list in […] is broken here",
    "did not find expected '-' indicator": "the lines of this list do not line up",
    "found unexpected end of stream": "the file ends inside a quoted text",
    "found character that cannot start any token": "this character cannot begin a text",
}


def _reason(error: yaml.YAMLError) -> str:
    return f"not readable as YAML: {getattr(error, 'reason', None) or 'bad character'}"


def _events(text: str) -> Iterator[Any]:
    loader = _Loader(text)
    try:
        while loader.check_event():
            yield loader.get_event()
    finally:
        loader.dispose()


def _at(event: Any) -> tuple[int, int]:
    mark = event.start_mark
    return mark.line + 1, mark.column + 1
