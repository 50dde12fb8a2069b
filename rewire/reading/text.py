"""From bytes to a tree of texts, lists and mappings, each with its place.

YAML is read with libyaml where the wheel has it. Every scalar stays the text that
was typed; nothing is turned into a number or a boolean. Where YAML is broken, or goes beyond what
is read here (a tag, a merge key), one fault says so and reading ends.
"""

from __future__ import annotations

import errno
import os
import re
import select
import stat
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any, NoReturn

import yaml

from rewire.reading.faults import Fault, Report, SpecError
from rewire.reading.slips import QUOTE, Stumble, lacks_space, slip_of, yaml_lines
from rewire.records.part import Place
from rewire.words.wording import shown

LARGEST_BYTES = 16 * 1024 * 1024
"""A file larger than this is refused."""
_PATIENCE = 10.0
_DEEPEST = 40
_MOST_VALUES = 1_000_000
_MOST_ALIASED = 100_000
_PLAIN_TAGS = {f"tag:yaml.org,2002:{kind}" for kind in ("str", "seq", "map")}
_Loader: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
_MINUS = re.compile(
    "(\\b[A-Za-z][A-Za-z0-9_-]{0,80}\\.)[\u2010-\u2014\u2212](?=[\\s,\\]}:\"']|$)"
    "|((?:[{,]|^)[ \\t]{0,80})[\u2010-\u2014\u2212](?=[ \\t]{0,80}:)",
    re.MULTILINE,
)
"""A lug called minus, ``M1.-`` or the key ``-``, with a sign that typesetting made of it."""
_TAB = re.compile(r"^ *\t(?=[ \t]*[^\s])", re.MULTILINE)
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufffe\uffff]")
_CUT = re.compile(r"[ \t]+#[^\s#]")
_AMERICAN = {"colour": "color", "licence": "license", "polarised": "polarized"}
_MENDS = {
    FileNotFoundError: "see its name and its folder",
    PermissionError: "give yourself leave to read it (chmod u+r), or copy it to a folder of yours",
}
_WIRE_ITEMS = {"from": 0, "to": 1, "colour": 2}


@dataclass(slots=True)
class Scalar:
    """A text; ``bare`` if nothing stands there at all (``note:`` and no more).

    ``cut`` if a comment begins right behind it that may have been meant as text.
    """

    text: str
    place: Place
    bare: bool = False
    cut: bool = False
    size: int = 1


@dataclass(slots=True)
class Sequence:
    """A list."""

    items: list[Node]
    place: Place
    size: int = 1


@dataclass(slots=True)
class Mapping:
    """A mapping; ``keys`` holds where each key stands."""

    entries: dict[str, Node]
    keys: dict[str, Scalar]
    place: Place
    size: int = 1


Node = Scalar | Sequence | Mapping


def tree_of(data: bytes, report: Report, key: str = "rewire") -> Mapping:
    """The mapping that a file holds.

    Args:
        data: the file's bytes.
        report: receives faults; of keys that are given twice the first is kept.
        key: the one that such a file begins with.

    Raises:
        SpecError: there is no tree to look at.
    """
    text = _MINUS.sub(r"\1\2-", _decoded(data, report))
    tab = _TAB.search(text)
    if tab is not None:
        at = _place_of(tab.end() - 1, text, report)
        _stop(report, at, "a tab in the indent", "indent with spaces")
    root = _Builder(report, text).document()
    if root is None:
        report.fault(report.place(1, 1), "the file is empty", f"start with '{key}: 1'")
        raise report.error()
    if not isinstance(root, Mapping):
        hint = f"begin with '{key}: 1', then a line 'key: value' for each key"
        report.fault(root.place, "this file has no keys", hint)
        raise report.error()
    return root


_FILES = {
    "rewire": "a spec", "rewire_drawer": "a drawer", "rewire_bench": "a bench log",
    "rewire_switch": "a buzz-out of a switch",
}  # fmt: skip
"""First key of a file → what it is."""


def marked_tree(data: bytes, report: Report, key: str, what: str) -> Mapping:
    """The tree of a file that goes with a spec and says what it is, ``rewire_drawer: 1`` say.

    Raises:
        SpecError: there is none, or it is another file.
    """
    tree = tree_of(data, report, key)
    version = tree.entries.get(key)
    if not isinstance(version, Scalar) or version.text.strip() != "1":
        message = f"this is not {what}: '{key}: 1' is needed"
        other = next((what for known, what in _FILES.items() if known in tree.entries), None)
        if key in tree.entries:
            message, other = f"{key}: this version of the format is not known", None
        first = f"write {key}: 1 on the first line"
        hint = f"this is {other}: name another file" if other else first
        report.fault(tree.place, message, hint)
        raise report.error()
    return tree


def node_at(tree: Node, *path: str | int) -> tuple[Node, Scalar | None]:
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
    return node_at(node, *path)[0]


def key_at(node: Node, *path: str | int) -> Node:
    """The key at a path; the node there where it has none, or the deepest that exists."""
    found, key = node_at(node, *path)
    return key or found


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


def is_nothing(node: Node) -> bool:
    """Whether nothing stands there."""
    return isinstance(node, Scalar) and not node.text


def _stop(report: Report, at: Place, message: str, hint: str | None = None) -> NoReturn:
    later = "mend this first, the rest of the file was not read"
    report.fault(at, message, f"{hint}; {later}" if hint else later)
    raise report.error()


def _place_of(index: int, text: str, report: Report) -> Place:
    return report.place(text.count("\n", 0, index) + 1, index - text.rfind("\n", 0, index))


def _decoded(data: bytes, report: Report) -> str:
    if len(data) > LARGEST_BYTES:
        hint = "a spec is a few hundred lines of text"
        report.fault(report.place(1, 1), "the file is over 16 MiB", hint)
        raise report.error()
    try:
        return data.decode("utf-8").removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        good = data[: error.start].decode("utf-8")
        message = f"this is not text in UTF-8 (byte 0x{data[error.start]:02x})"
        hint = "save it as text, in UTF-8"
        if data.startswith((b"%PDF", b"\x89PNG", b"\xff\xd8")):
            message = "this is a PDF or a picture, not text"
            hint = "name the text file; rewire new --from takes the spec out of a sheet's PDF"
        report.fault(_place_of(len(good), good, report), message, hint)
        raise report.error() from None


class _Builder:
    """Makes our nodes of the parser's, each once; an alias is the same node again."""

    def __init__(self, report: Report, source: str) -> None:
        self.report, self.source = report, source
        self.lines = yaml_lines(source)
        self.has_comments = " #" in source
        self.made: dict[int, Node | None] = {}
        """The parser's node, by id → ours; None while it is made."""
        self.aliased = 0

    def document(self) -> Node | None:
        """The one document of the file."""
        if sum(map(self.source.count, ",:\n")) > _MOST_VALUES:
            at = self.report.place(1, 1)
            self._stop(at, f"more than {_MOST_VALUES} values in one file", "split it")
        try:
            root = yaml.compose(self.source, _Loader)
        except yaml.YAMLError as error:
            self._broken(error)
        return None if root is None else self._node(root, 0)

    def _node(self, node: Any, depth: int) -> Node:
        at = self._at(node.start_mark)
        if id(node) in self.made:
            return self._alias(self.made[id(node)], at)
        self.made[id(node)] = None
        if depth > _DEEPEST:
            self._stop(at, f"lists and mappings nested over {_DEEPEST} deep")
        if node.tag not in _PLAIN_TAGS:
            self._stop(at, f"tag {shown(node.tag)} is not read", "leave the tag out")
        made: Node
        if isinstance(node, yaml.ScalarNode):
            made = self._scalar(node, at)
        elif isinstance(node, yaml.SequenceNode):
            items = [self._node(item, depth + 1) for item in node.value]
            made = Sequence(items, at, 1 + sum(item.size for item in items))
        else:
            made = self._mapping(node, at, depth + 1)
        self.made[id(node)] = made
        return made

    def _alias(self, known: Node | None, at: Place) -> Node:
        if known is None:
            self._stop(at, "this holds itself by an alias (*)", "write it out")
        self.aliased += known.size
        if self.aliased > _MOST_ALIASED:
            self._stop(at, "aliases (*) repeat too much", "write it out")
        return known

    def _scalar(self, node: Any, at: Place) -> Scalar:
        if not node.value.isprintable() and _CONTROL.search(node.value):
            self._stop(at, "a control character in a text", "take it out")
        made = Scalar(node.value, at, bare=not node.value and not node.style)
        if self.has_comments and not node.style:
            self._watch_comment(made, node.end_mark)
        return made

    def _mapping(self, node: Any, at: Place, depth: int) -> Mapping:
        made = Mapping({}, {}, at)
        for own_key, value in node.value:
            key = self._node(own_key, depth)
            if not isinstance(key, Scalar):
                self._stop(key.place, "a list or mapping used as a key", QUOTE)
            line = self.lines[own_key.start_mark.line][own_key.start_mark.column :]
            glued = None if own_key.style else lacks_space(line)
            if glued is not None:
                self._stop(key.place, *glued)
            if key.text == "<<" and not own_key.style:
                self._stop(key.place, "merge keys (<<) are not read", "write the keys out")
            item, known = self._node(value, depth), made.keys.setdefault(key.text, key)
            made.size += key.size + item.size
            if known is key:
                made.entries[key.text] = item
            else:
                message = f"key {shown(key.text)} given twice"
                hint = f"it stands in line {known.place.line} already"
                self.report.fault(key.place, message, hint)
        return made

    def _watch_comment(self, node: Scalar, end: Any) -> None:
        """Note a text cut short by ``#`` with no blank behind it: hardly meant as a comment."""
        if end.line >= len(self.lines) or not _CUT.match(self.lines[end.line], end.column):
            return
        node.cut = True
        if node.text:
            message = f"{shown(node.text)} ends at ' #', which starts a comment; {QUOTE}"
            self.report.notice(node.place, message)

    def _broken(self, error: yaml.YAMLError) -> NoReturn:
        mark: Any = getattr(error, "problem_mark", None)
        if not isinstance(error, yaml.MarkedYAMLError) or mark is None:
            at = _place_of(getattr(error, "position", 0), self.source, self.report)
            reason = getattr(error, "reason", None) or "bad character"
            self._stop(at, f"not readable as YAML: {reason}", "take it out")
        at, problem = self._at(mark), str(error.problem)
        if problem == "exceeded maximum nesting depth":
            self._stop(at, "lists and mappings are nested too deep")
        if problem == "but found another document":
            self._stop(at, "a second document begins here", "one file holds one swap")
        if "undefined alias" in problem:
            alias = re.match(r"[^\s,\]}]*", self.lines[mark.line][mark.column :])
            name = shown(alias[0] if alias else "*")
            self._stop(at, f"alias {name} stands for nothing here", "write it out")
        begun = error.context_mark or mark
        bracket, last = _open_at_end(self.source)
        stumble = Stumble(
            self.lines, problem, (begun.line, begun.column), (mark.line, mark.column), bracket, last
        )
        (line, column), message, hint = slip_of(stumble)
        self._stop(self.report.place(line + 1, column + 1), message, hint)

    def _at(self, mark: Any) -> Place:
        return self.report.place(mark.line + 1, mark.column + 1)

    def _stop(self, at: Place, message: str, hint: str | None = None) -> NoReturn:
        _stop(self.report, at, message, hint)


def _open_at_end(text: str) -> tuple[tuple[int, int] | None, Any]:
    """The innermost bracket that is open where a parser stops, and the last text that it read."""
    brackets: list[tuple[int, int] | None] = []
    last = None
    with suppress(yaml.YAMLError):
        for event in yaml.parse(text, _Loader):
            if isinstance(event, yaml.ScalarEvent):
                last = event
            elif isinstance(event, yaml.CollectionStartEvent):
                mark: Any = event.start_mark
                brackets.append((mark.line, mark.column) if event.flow_style else None)
            elif isinstance(event, yaml.CollectionEndEvent):
                brackets.pop()
    return next((one for one in reversed(brackets) if one is not None), None), last


def bytes_of(path: str | FilePath, what: str) -> bytes:
    """The bytes of a file, no more than one over the most that is read.

    Args:
        path: of the file; ``-`` is standard input.
        what: it should be, for the message: ``the drawer``.

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
        known = (hint for kind, hint in _MENDS.items() if isinstance(error, kind))
        fault = Fault(Place(str(path), 1, 1), f"{what} cannot be read: {reason}", next(known, None))
        raise SpecError([fault]) from None


def _open_pipe(path: str, flags: int) -> int:
    """Open a file; of a pipe with nobody at its other end, do not wait for ever.

    Raises:
        OSError: nothing came for ``_PATIENCE`` seconds.
    """
    descriptor = os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
    if sys.platform != "win32" and stat.S_ISFIFO(os.fstat(descriptor).st_mode):
        if not select.select([descriptor], [], [], _PATIENCE)[0]:
            os.close(descriptor)
            raise TimeoutError(errno.ETIMEDOUT, "nothing comes out of this pipe", path)
        os.set_blocking(descriptor, True)
    return descriptor
