"""From bytes to a tree of texts, lists and mappings, each with its place.

YAML is read event by event with libyaml where the wheel has it. Every scalar
stays the text that was typed; nothing is turned into a number or a boolean.
"""

from __future__ import annotations

import errno
import os
import re
import select
import stat
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any, NoReturn

import yaml

from rewire.reading.faults import SHOWN_FAULTS, Fault, Report, SpecError
from rewire.reading.slips import QUOTE, Spot, Stumble, slip_of, yaml_lines
from rewire.records.parts import Place
from rewire.words.wording import shown

LARGEST_BYTES = 16 * 1024 * 1024
"""A file larger than this is refused."""

_PATIENCE = 10.0
_DEEPEST = 40
_MOST_VALUES = 3_000_000
_MOST_ALIASED = 100_000
_PLAIN_TAGS = {None, "!", *(f"tag:yaml.org,2002:{kind}" for kind in ("str", "seq", "map"))}
_Loader: Any = getattr(yaml, "CLoader", yaml.Loader)
_MINUS = re.compile(
    "(\\b[A-Za-z][A-Za-z0-9_-]{0,80}\\.)[\u2010-\u2014\u2212](?=[\\s,\\]}:\"']|$)"
    "|((?:[{,]|^)[ \\t]{0,80})[\u2010-\u2014\u2212](?=[ \\t]{0,80}:)",
    re.MULTILINE,
)
"""A lug called minus, ``M1.-`` or the key ``-``, with a sign that typesetting made of it."""
_AMERICAN = {"colour": "color", "licence": "license", "polarised": "polarized"}
_WIRE_ITEMS = {"from": 0, "to": 1, "colour": 2}
_LATER = "the rest is judged once this is mended"


class Unreadable(Exception):
    """Reading cannot go on; the report says why."""


@dataclass(slots=True)
class Scalar:
    """A text; ``bare`` if nothing stands there at all (``note:`` and no more).

    ``cut`` if a comment begins right behind it that may have been meant as text.
    ``torn``, here and below, if it is not what was written: that was faulted and left out.
    """

    text: str
    line: int
    column: int
    bare: bool = False
    size: int = 1
    cut: bool = False
    torn: bool = False


@dataclass(slots=True)
class Sequence:
    """A list."""

    items: list[Node]
    line: int
    column: int
    size: int = 1
    torn: bool = False
    inline: bool = False


@dataclass(slots=True)
class Mapping:
    """A mapping; ``keys`` holds where each key stands."""

    entries: dict[str, Node]
    keys: dict[str, Scalar]
    line: int
    column: int
    inline: bool = False
    size: int = 1
    torn: bool = False


Node = Scalar | Sequence | Mapping
Path = tuple[str | int, ...]
"""Keys and numbers that lead from the root to a node."""


def parse(data: bytes, report: Report, first: str = "rewire: 1") -> Mapping:
    """The mapping that a file holds.

    Args:
        data: the file's bytes.
        report: receives faults; some leave a tree that can be looked at further, with torn
            nodes where something was left out.
        first: what such a file begins with.

    Raises:
        Unreadable: there is no tree to look at; the report has the reason.
    """
    text = _MINUS.sub(r"\1\2-", _decoded(data, report))
    _refuse_tabs(text, report)
    root = _Builder(report, text).document(first)
    if not isinstance(root, Mapping):
        report.fault(report.place(root.line, root.column), "the file holds no mapping of keys")
        raise Unreadable
    root.torn = False  # by a tag before the first key, which spoils no key
    return root


def _and_later(hint: str | None) -> str:
    return f"{hint}; {_LATER}" if hint else _LATER


def torn_in(root: Node) -> Iterator[Path]:
    """The paths of what is not as it was written, the outermost of each."""
    waiting: list[tuple[Path, Node]] = [((), root)]
    while waiting:
        path, node = waiting.pop()
        if node.torn:
            yield path
        elif isinstance(node, Sequence):
            waiting += [((*path, step), item) for step, item in enumerate(node.items)]
        elif isinstance(node, Mapping):
            waiting += [((*path, key), item) for key, item in node.entries.items()]


def node_at(tree: Node, path: Path) -> tuple[Node, Scalar | None]:
    """The node at a path (or the deepest on the way that exists) and its key."""
    node, key = tree, None
    for step in path:
        found = _child(node, step)
        if found is None:
            break
        node, key = found
    return node, key


def child(node: Node, *path: str | int) -> Node:
    """The node at a path, or the deepest on the way that exists."""
    return node_at(node, path)[0]


def _child(node: Node, step: str | int) -> tuple[Node, Scalar | None] | None:
    if isinstance(node, Mapping):
        name = step if step in node.entries else _AMERICAN.get(str(step), "")
        return (node.entries[name], node.keys[name]) if name in node.entries else None
    if isinstance(node, Sequence):
        index = _WIRE_ITEMS.get(step) if isinstance(step, str) else step
        inside = index is not None and index < len(node.items)
        return (node.items[index], None) if inside and index is not None else None
    return None


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
        hint = _and_later("save the file as UTF-8 text")
        report.fault(report.place(line, column), message, hint)
        raise Unreadable from None
    return text.removeprefix("\ufeff")


def _refuse_tabs(text: str, report: Report) -> None:
    found = [m.end() for m in re.finditer(r"^ *\t(?=[ \t]*[^\s])", text, re.MULTILINE)]
    del found[SHOWN_FAULTS:]
    for end in found:
        line_start = text.rfind("\n", 0, end) + 1
        place = report.place(text.count("\n", 0, end) + 1, end - line_start)
        hint = "indent with spaces"
        report.fault(place, "a tab in the indent", _and_later(hint) if end == found[-1] else hint)
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
    last: Any = None
    """The last scalar's event."""

    def __post_init__(self) -> None:
        """Find the lines with comments once."""
        if " #" in self.source:
            lines = enumerate(self.source.split("\n"))
            self.commented = {number: line for number, line in lines if " #" in line}

    def document(self, first: str) -> Node:
        """The one document of the stream."""
        try:
            for event in _events(self.source):
                self._take(event)
        except yaml.YAMLError as error:
            self._syntax(error)
        if self.root is None:
            at = self.report.place(1, 1)
            self.report.fault(at, "the file is empty", f"start with '{first}'")
            raise Unreadable
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
        is_plain = event.implicit[0]
        node = Scalar(event.value, line, column, bare=not event.value and is_plain)
        self._check_tag(event, node)
        if not node.text.isprintable() and _CONTROL.search(node.text):
            self._tear(node, "a control character in a text", "take it out")
        if event.anchor is not None:
            self.anchors[event.anchor] = node
        self.last = event
        if self.commented and is_plain:
            self._watch_comment(node, event.end_mark)
        self._put(node, is_plain)

    def _begin(self, event: Any) -> None:
        line, column = _at(event)
        if len(self.stack) >= _DEEPEST:
            self._stop(line, column, f"lists and mappings nested over {_DEEPEST} deep")
        node: Sequence | Mapping
        if isinstance(event, yaml.SequenceStartEvent):
            node = Sequence([], line, column, inline=bool(event.flow_style))
        else:
            node = Mapping({}, {}, line, column, inline=bool(event.flow_style))
        self._check_tag(event, node)
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
            target = Scalar("", line, column)
            name = shown("*" + event.anchor)
            self._tear(target, f"alias {name} stands for nothing here", "write it out")
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
            self._skip(top, node, "a list or mapping used as a key", QUOTE)
        elif is_plain and node.text == "<<":
            self._skip(top, node, "merge keys (<<) are not read", "write the keys out")
        elif node.text in top.node.keys:
            message = f"key {shown(node.text)} given twice"
            hint = f"it stands in line {top.node.keys[node.text].line} already"
            self.report.fault(self.report.place(node.line, node.column), message, hint)
            top.key, top.twice = node, True
        else:
            top.node.keys[node.text] = top.key = node
            top.twice = False

    def _skip(self, top: _Open, key: Node, message: str, hint: str) -> None:
        """Leave out the value of a key that is none; what lacks it is not judged further."""
        if len(self.stack) == 1:
            self._stop(key.line, key.column, message, hint)
        self._tear(top.node, message, hint, key)
        top.key, top.twice = Scalar("", key.line, key.column), True

    def _check_tag(self, event: Any, node: Node) -> None:
        if event.tag not in _PLAIN_TAGS:
            self._tear(node, f"tag {shown(event.tag)} is not read", "leave the tag out")

    def _tear(self, node: Node, message: str, hint: str, at: Node | None = None) -> None:
        """Fault what is read no further, and go on behind it."""
        node.torn = True
        place = at or node
        self.report.fault(self.report.place(place.line, place.column), message, hint)

    def _watch_comment(self, node: Scalar, end: Any) -> None:
        """A comment that begins right behind a text with no blank after # was hardly meant."""
        line = self.commented.get(end.line, "")
        if not _CUT.match(line, end.column):
            return
        node.cut = True
        if node.text:
            message = f"{shown(node.text)} ends at ' #', which starts a comment; {QUOTE}"
            self.report.notice(self.report.place(node.line, node.column), message)

    def _syntax(self, error: yaml.YAMLError) -> NoReturn:
        if not isinstance(error, yaml.MarkedYAMLError) or error.problem_mark is None:
            position = getattr(error, "position", 0)
            line = self.source.count("\n", 0, position) + 1
            column = position - self.source.rfind("\n", 0, position)
            self._stop(line, max(column, 1), _reason(error), "take it out")
        mark = error.problem_mark
        if error.problem in _TOO_DEEP:
            self._stop(mark.line + 1, mark.column + 1, "lists and mappings are nested too deep")
        brackets = [held.node for held in self.stack if held.node.inline]
        slip = slip_of(self._stumble(error, mark, brackets))
        self._stop(slip.at[0] + 1, slip.at[1] + 1, slip.message, slip.hint)

    def _stumble(self, error: Any, mark: Any, brackets: list[Sequence | Mapping]) -> Stumble:
        last, quoted, unquoted = self.last, None, None
        if last is not None and last.style in ("'", '"') and last.end_mark.line > _spot(last)[0]:
            quoted = (_spot(last), (last.end_mark.line, last.end_mark.column))
        if last is not None and not last.style:
            unquoted = _spot(last)
        begun = error.context_mark or mark
        return Stumble(
            lines=yaml_lines(self.source),
            problem=str(error.problem),
            begun=(begun.line, begun.column),
            met=(mark.line, mark.column),
            bracket=(brackets[-1].line - 1, brackets[-1].column - 1) if brackets else None,
            quoted=quoted,
            unquoted=unquoted,
        )

    def _stop(self, line: int, column: int, message: str, hint: str | None = None) -> NoReturn:
        self.report.fault(self.report.place(line, column), message, _and_later(hint))
        raise Unreadable


_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufffe\uffff]")
_CUT = re.compile(r"[ \t]+#[^\s#]")
_TOO_DEEP = ("exceeded maximum nesting depth",)


def _reason(error: yaml.YAMLError) -> str:
    return f"not readable as YAML: {getattr(error, 'reason', None) or 'bad character'}"


def _events(text: str) -> Iterator[Any]:
    loader = _Loader(text)
    try:
        while loader.check_event():
            yield loader.get_event()
    finally:
        loader.dispose()


def _spot(event: Any) -> Spot:
    return event.start_mark.line, event.start_mark.column


def _at(event: Any) -> tuple[int, int]:
    mark = event.start_mark
    return mark.line + 1, mark.column + 1


def bytes_of(path: str | FilePath, what: str) -> bytes:
    """The bytes of a file, no more than one over the most that is read.

    Args:
        path: of the file.
        what: it should be, for the message: ``the drawer``.

    ``-`` is standard input.

    Raises:
        SpecError: it cannot be read.
    """
    try:
        if str(path) == "-":
            return sys.stdin.buffer.read(LARGEST_BYTES + 1)
        with open(path, "rb", opener=_open_pipe) as file:
            return file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        fault = Fault(Place(str(path), 1, 1), f"{what} cannot be read: {reason}")
        raise SpecError([fault]) from None


def _open_pipe(path: str, flags: int) -> int:
    """Open a file; of a pipe with nobody at its other end, do not wait for ever.

    Raises:
        OSError: nothing came for ``_PATIENCE`` seconds.
    """
    descriptor = os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
    if stat.S_ISFIFO(os.fstat(descriptor).st_mode):
        if not select.select([descriptor], [], [], _PATIENCE)[0]:
            os.close(descriptor)
            raise TimeoutError(errno.ETIMEDOUT, "nothing comes out of this pipe", path)
        os.set_blocking(descriptor, True)
    return descriptor


def parsed_tree(data: bytes, report: Report, first: str = "rewire: 1") -> Mapping:
    """The text as a tree with places; ``first`` is what such a file begins with.

    What cannot be read within it (a tag, say) is a torn node.

    Raises:
        SpecError: it is no text, or no tree.
    """
    try:
        return parse(data, report, first)
    except Unreadable:
        raise report.error() from None


def whole_tree(data: bytes, report: Report, first: str) -> Mapping:
    """As ``parsed_tree``, for readers that do not look past a torn node.

    Raises:
        SpecError: it is no text, no tree, or not all of it can be read.
    """
    tree = parsed_tree(data, report, first)
    if report and next(torn_in(tree), None) is not None:
        raise report.error()
    return tree


def is_marked(tree: Mapping, report: Report, key: str, what: str) -> bool:
    """Whether a file says what it is, ``rewire_drawer: 1`` say; a fault where it does not."""
    version = tree.entries.get(key)
    if isinstance(version, Scalar) and version.text.strip() == "1":
        return True
    at = report.place(tree.line, tree.column)
    report.fault(at, f"this is not {what}: '{key}: 1' is needed", "write it on the first line")
    return False
