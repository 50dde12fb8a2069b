"""How nodes become records: each record says of its fields what may stand behind their keys.

All faults of a file are told in one run: what is malformed is left out, as little as will do, and
the rest is read as if it were not there.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, TypeVar, get_type_hints

from rewire.reading.faults import Hint, Nearest, Report
from rewire.reading.names import Lugs, Original, Scope
from rewire.reading.slips import IN_QUOTES, after_comma, lacks_colon, lacks_space
from rewire.reading.text import Mapping, Node, Scalar, Sequence, child, is_nothing, key_at, plain
from rewire.records import parts as parts, switches as switches  # the kinds of parts
from rewire.records.keys import (
    MEMBERS,
    MISSING,
    TEXT,
    AnyNets,
    AnyPart,
    Items,
    Key,
    Named,
    ValueKind,
    WrittenAs,
)
from rewire.records.meanings import example_of, meaning_of
from rewire.records.part import KINDS
from rewire.records.spec import Control, Net, Reading, Spec, Wiring
from rewire.words.wording import (
    Wrong,
    in_brackets,
    listed,
    nearest,
    printable,
    shown,
    two_in_one,
)

BRITISH = {"color": "colour", "license": "licence", "polarized": "polarised"}
BAD: Any = object()
"""Stands for a value that is malformed; its fault has been reported."""
MOST_CONTACTS = 2_000_000
"""Lugs, and contacts by position, that one file may have."""
NOWHERE = Scope("")


@dataclass(slots=True)
class Reader:
    """What is known while a file is read, and what was found wrong with it."""

    report: Report
    controls: dict[str, Control | None] = field(default_factory=dict)
    """None for one that is malformed."""
    scope: Scope = field(default_factory=lambda: NOWHERE)
    original: Original = field(default_factory=lambda: Original(NOWHERE, {}))
    readings: dict[str, Reading] = field(default_factory=dict)
    """Of the whole file."""
    lugs: Lugs = field(default_factory=dict)
    """Lugs of parts that may be malformed otherwise."""
    texts: dict[str, list[Scalar]] = field(default_factory=dict)
    """What stands behind some keys, all over the file."""
    own: Scope = field(default_factory=lambda: NOWHERE)
    """The names of the wiring that is read."""
    ids: dict[str, str] = field(default_factory=dict)
    """Of its wires, in lower case → as written."""
    known: set[str] = field(default_factory=set)
    """Every point and part of the file."""
    chassis: str | None = None
    spec: Spec | None = None
    wiring: Wiring | None = None
    """What a bench log is of."""
    contacts: int = 0
    """Lugs, and contacts by position, of all parts so far."""

    def fault(self, at: Node, message: str, hint: Hint = None) -> None:
        """Report what is wrong at a node."""
        self.report.fault(at.place, message, hint)

    def refuse(self, node: Node, key: str | None, wrong: Wrong) -> Any:
        """Report what is wrong with a value, with the name of the key that it is about."""
        hint = wrong.hint
        if isinstance(node, Scalar) and node.bare and node.cut:
            hint = "' #' begins a comment: put the text in quotes"
        glued = lacks_space(node.text) if isinstance(node, Scalar) else None
        if glued is not None:
            self.fault(node, *glued)
            return BAD
        self.fault(node, wrong.message if key is None else f"{key}: {wrong.message}", hint)
        return BAD

    def affords(self, contacts: int, at: Node) -> bool:
        """Whether a part with so many lugs and contacts still fits; a fault if not."""
        self.contacts += contacts
        if self.contacts <= MOST_CONTACTS:
            return True
        message = f"more than {MOST_CONTACTS} lugs and contacts up to here"
        self.fault(at, message, "split the file, or leave out what is not used")
        return False

    def check(self, names: str, value: Any, node: Node) -> None:
        """Look up the names in a value: see ``ValueKind.names``."""
        if names in ("state", "when"):
            for control, positions in value.items():
                if self.has_control(control, key_at(node, control)):
                    for position in (positions,) if names == "state" else positions:
                        self.has_position(control, position, child(node, control))
            return
        for number, name in enumerate(value):
            at = child(node, number)
            known = self.scope.check(name, at.place, self.report)
            if known and names == "anchor":
                self._check_anchor(name, at)

    def _check_anchor(self, name: str, at: Node) -> None:
        """An anchor is a point, or a terminal of the original that is no lug."""
        part = self.original.part(name.partition(".")[0])
        if "." in name and part is not None and not part.has_role:
            hint = "name a point, or a terminal of another part, that it is wired to"
            message = f"{shown(name)} is a lug of a {part.kind}, which another wiring need not have"
            self.fault(at, message, hint)

    def has_control(self, name: str, at: Node) -> bool:
        """Whether there is such a control; a fault if not."""
        if name not in self.controls:
            known = [name for name, one in self.controls.items() if one is not None]
            none = f"list it under controls: {{{name}: [ONE, OTHER]}}"
            self.fault(at, f"no control {shown(name)}", Nearest(name, known) if known else none)
        return self.controls.get(name) is not None

    def has_position(self, name: str, position: str, at: Node) -> bool:
        """Whether a control has such a position; a fault if not."""
        control = self.controls[name]
        positions = control.positions if control is not None else ()
        if position in positions:
            return True
        whole = next((other for other in positions if position in other.split()), None)
        if whole is None or control is None:
            message = f"control {shown(name)} has no position {shown(position)}"
            self.fault(at, message, Nearest(position, positions))
        else:
            message = f"{name}: {shown(whole)} is one position"
            hint = f"write commas between: {', '.join(whole.split())}"
            self.report.fault(control.place, message, hint)
        return False


@dataclass(frozen=True, slots=True)
class At:
    """Where a value stands: the last key on the way to it, and that key's node if it is next."""

    key: str | None = None
    node: Scalar | None = None


@dataclass(slots=True)
class Read:
    """What was read of one mapping, before it becomes a record."""

    by: Form
    values: dict[str, Any]
    entries: dict[str, Node]
    node: Node
    at: At
    good: bool = True

    def __getattr__(self, name: str) -> Any:
        """A value, by its key where no field has it."""
        return self.values[name]

    @property
    def name(self) -> str:
        """The key that it stands behind."""
        return self.at.key or ""

    @property
    def head(self) -> Node:
        """That key, or the record itself in a list."""
        return self.at.node or self.node

    def near(self, *path: str | int) -> Node:
        """The value at a path below it."""
        return child(self.node, *path)

    def key(self, *path: str | int) -> Node:
        """The key at a path below it."""
        return key_at(self.node, *path)

    def record(self, **more: Any) -> Any:
        """The record: its fields as they were read, and a few others."""
        fields = self.by.fields
        own = {name: value for name, value in self.values.items() if name in fields}
        always = {"name": self.name, "place": self.head.place}
        own |= {name: value for name, value in always.items() if name in fields}
        return self.by.record(**(own | more))


Make = Callable[[Read, Reader], Any]
MakeT = TypeVar("MakeT", bound=Make)
MADE: dict[type[Any], Make] = {}
"""Record → what makes it of what was read, where its fields alone do not say that."""


def makes(record: type[Any]) -> Callable[[MakeT], MakeT]:
    """Note who makes a record."""

    def note(make: MakeT) -> MakeT:
        MADE[record] = make
        return make

    return note


class Form:
    """The keys of one record, gathered from its fields."""

    def __init__(self, record: type[Any]) -> None:
        self.record = record
        self.written: WrittenAs = getattr(record, "WRITTEN", WrittenAs())
        self.keys: dict[str, Key] = {}
        self.to: dict[str, tuple[str, ...]] = {}
        self.defaults: dict[str, Any] = {}
        self.made_by = next((MADE[kind] for kind in record.__mro__ if kind in MADE), None)
        for name, key in self.written.more.items():
            self._add(name, key, (name,), key.default)
        hints = get_type_hints(record, include_extras=True)
        self.fields = {f.name: f for f in dataclasses.fields(record)}
        for name, one in self.fields.items():
            for key in getattr(hints[name], "__metadata__", ()):
                self._add(key.name or name, key, (name, *key.also), _default(key, one))
        self.needed = [name for name, key in self.keys.items() if self.default(name) is MISSING]

    def _add(self, name: str, key: Key, to: tuple[str, ...], default: Any) -> None:
        self.keys[name], self.to[name] = key, to
        if len(to) == 1 or isinstance(default, tuple):
            self._keep(self.defaults, name, default)
        elif default is not MISSING:
            self.defaults[to[0]] = default

    def default(self, name: str) -> Any:
        """What is taken where a key is left out; MISSING where it is needed."""
        return self.defaults.get(self.to[name][0], MISSING)

    def _keep(self, values: dict[str, Any], name: str, value: Any) -> None:
        """Put down the value of a key."""
        to = self.to[name]
        if value is not MISSING:
            values.update(zip(to, value, strict=True) if len(to) > 1 else [(to[0], value)])

    def begin(self, node: Node, at: At, reader: Reader) -> Any:
        """What stands in a node, before any of its keys is read; BAD where that is no record."""
        try:
            entries = self._entries(node, at)
            if self.written.american:
                entries = _in_british(entries)
        except Wrong as wrong:
            return reader.refuse(node, at.key, wrong)
        read = Read(self, dict(self.defaults), entries, node, at)
        unknown = [name for name in entries if name not in self.keys]
        wrong_together = self._wrong_together(entries)
        if wrong_together is not None and not unknown:
            return reader.refuse(node, at.key, wrong_together)
        meant = {nearest(name, self.keys) for name in unknown}
        for name in self.needed:
            if name in entries:
                continue
            read.good = False
            if name not in meant:
                hint = f"write {name}: {meaning_of(self.record, name).example}"
                reader.fault(read.head, f"'{name}' is missing", hint)
        for name in unknown:
            self._refuse(name, read, reader)
        return read if wrong_together is None else BAD

    def _wrong_together(self, entries: dict[str, Node]) -> Wrong | None:
        try:
            if self.written.check is not None:
                self.written.check(entries)
        except Wrong as wrong:
            return wrong
        return None

    def _entries(self, node: Node, at: At) -> dict[str, Node]:
        """The keys of a record, however it is written."""
        written = self.written
        if isinstance(node, Scalar) and node.text in written.nothing:
            return {}
        if isinstance(node, Sequence) and written.as_whole:
            return {written.as_whole: node}
        if isinstance(node, Mapping) and written.as_list and _is_list_in_braces(node):
            raise Wrong("a wire is a list", f"write [{', '.join(map(printable, node.entries))}]")
        if isinstance(node, Mapping):
            return node.entries
        if written.as_whole:
            raise Wrong(f"a list of {written.as_whole} is needed", "write [ONE, OTHER]")
        if not written.as_list:
            raise Wrong("keys and values are needed here", self._in_keys(node, at))
        if isinstance(node, Scalar):
            raise Wrong("a wire has two ends", f"write {in_brackets(node.text)}")
        if 2 <= len(node.items) <= len(written.as_list):
            return dict(zip(written.as_list, node.items, strict=False))
        texts = [item.text for item in node.items if isinstance(item, Scalar)]
        forgotten = next(filter(None, map(two_in_one, texts)), None)
        if len(node.items) > len(written.as_list):
            more = "write {from: S1.A, to: M1.+, colour: RD, length: 80 mm}"
            raise Wrong(f"a wire of {len(node.items)} items", f"to say more of it {more}")
        hint = "write [from, to] or [from, to, colour]"
        raise Wrong(*(forgotten or ("a wire has two ends", hint)))

    def _in_keys(self, node: Node, at: At) -> str | None:
        """How a text that stands in place of a record is written as one."""
        key = next((key for key in ("where", "note") if key in self.keys), None)
        if example_of(at.key) or key is None or not isinstance(node, Scalar) or not node.text:
            return example_of(at.key)
        return f"write {at.key}: {{{key}: {printable(node.text)[:60]}}}"

    def _refuse(self, name: str, read: Read, reader: Reader) -> None:
        """Refuse a key that is not known."""
        value, message = read.entries[name], f"unknown key {shown(name)}"
        hint: Hint = Nearest(name, list(self.keys))
        if isinstance(value, Scalar) and value.bare:
            names = list(read.entries)
            before = read.entries[names[max(names.index(name) - 1, 0)]]
            text = before.text if isinstance(before, Scalar) else ""
            torn = after_comma(name, text) or lacks_colon(name, self.keys)
            message, hint = torn or (message, IN_QUOTES)
        reader.fault(read.key(name), message, hint)

    def read(self, name: str, read: Read, reader: Reader) -> None:
        """Read what stands behind a key, if it is there."""
        if name not in read.entries:
            return
        key = self.keys[name]
        value = take(key.kind, read.entries[name], At(name, _key_of(read.node, name)), reader)
        if value is not BAD:
            self._keep(read.values, name, value)
        elif key.vital or self.default(name) is MISSING:
            read.good = False

    def take(self, node: Node, at: At, reader: Reader) -> Any:
        """The record that a node stands for; BAD where none can be made of it."""
        read = self.begin(node, at, reader)
        if read is BAD:
            return BAD
        for name in read.entries:
            if name in self.keys:
                self.read(name, read, reader)
        if not read.good:
            return BAD
        return read.record() if self.made_by is None else self.made_by(read, reader)


_forms: dict[type[Any], Form] = {}


def keys_of(record: type[Any]) -> Form:
    """The keys of a record, gathered once."""
    if record not in _forms:
        _forms[record] = Form(record)
    return _forms[record]


def _default(key: Key, one: dataclasses.Field[Any]) -> Any:
    if key.default is not MISSING:
        return key.default
    if one.default is not dataclasses.MISSING:
        return one.default
    factory = one.default_factory
    return MISSING if factory is dataclasses.MISSING else factory()


def _key_of(node: Node, name: str) -> Scalar | None:
    found = key_at(node, name)
    return found if isinstance(node, Mapping) and isinstance(found, Scalar) else None


def _is_list_in_braces(node: Mapping) -> bool:
    values = node.entries.values()
    return len(values) > 1 and all(isinstance(one, Scalar) and one.bare for one in values)


def _in_british(entries: dict[str, Node]) -> dict[str, Node]:
    for american, british in BRITISH.items():
        if american in entries and british in entries:
            raise Wrong(f"both {american} and {british} are given", "keep one of them")
    return {BRITISH.get(key, key): item for key, item in entries.items()}


def take(kind: Any, node: Node, at: At, reader: Reader) -> Any:
    """The value that a node stands for; BAD, and a fault, where it is malformed."""
    try:
        if isinstance(kind, ValueKind):
            return _take_value(kind, node, at, reader)
        if isinstance(kind, (Items, Named)) or kind is AnyNets:
            return _take_rows(kind, node, at, reader)
        if kind is AnyPart:
            kind = _kind_of(node)
            reader.lugs[at.key or ""] = kind.lugs or None
        return keys_of(kind).take(node, at, reader)
    except Wrong as wrong:
        return reader.refuse(node, at.key, wrong)


def _take_value(kind: ValueKind, node: Node, at: At, reader: Reader) -> Any:
    value = kind.read(node.text if isinstance(node, Scalar) else plain(node))
    if kind.names:
        reader.check(kind.names, value, node)
    if kind.doubts is not None and isinstance(node, Scalar):
        reader.texts.setdefault(at.key or "", []).append(node)
        for said in kind.doubts(node.text):
            reader.report.notice(node.place, said)
    return value


def _take_rows(kind: Any, node: Node, at: At, reader: Reader) -> Any:
    """A list, a mapping from names, or nets, which may stand in either."""
    if is_nothing(node):
        return {} if isinstance(kind, Named) else ()
    if isinstance(kind, Items):
        if not isinstance(node, Sequence):
            raise Wrong("a list is needed", example_of(at.key))
        return tuple(value for _, _, value in _rows(kind.of, TEXT, node, at, reader))
    if isinstance(kind, Named):
        if not isinstance(node, Mapping):
            raise Wrong("names with their values are needed here", example_of(at.key))
        return {one.key: value for one, _, value in _rows(kind.of, kind.names, node, at, reader)}
    if isinstance(node, Scalar):
        raise Wrong("a list is needed", example_of(at.key))
    return tuple(
        Net(
            one.node.text if one.node else None,
            tuple(dict.fromkeys(members)),
            (one.node or item).place,
        )
        for one, item, members in _rows(MEMBERS, TEXT, node, at, reader)
    )


def _rows(
    of: Any, names: ValueKind, node: Node, at: At, reader: Reader
) -> Iterator[tuple[At, Node, Any]]:
    """Every good value of a list or a mapping, with its key and its node."""
    rows = [(At(at.key), item) for item in getattr(node, "items", ())]
    if isinstance(node, Mapping):
        rows = [(At(name, node.keys[name]), item) for name, item in node.entries.items()]
    for here, item in rows:
        is_good = here.node is None or is_name(names, here.node, reader)
        value = take(of, item, here, reader)
        if is_good and value is not BAD:
            yield here, item, value


def is_name(names: ValueKind, at: Scalar, reader: Reader) -> bool:
    """Whether a name of the user's choice can be one; a fault if not."""
    try:
        names.read(at.text)
    except Wrong as wrong:
        reader.fault(at, wrong.message, wrong.hint)
        return False
    return True


def _kind_of(node: Node) -> type[Any]:
    if not isinstance(node, Mapping):
        raise Wrong("a part is a mapping", "write {resistor: 10 ohm}")
    kinds = [key for key in node.entries if key in KINDS]
    if len(kinds) == 1:
        return KINDS[kinds[0]]
    if kinds:
        raise Wrong(f"a part has one kind; {' and '.join(kinds)} are given", "keep one of them")
    torn = next(filter(None, (lacks_colon(key, KINDS) for key in node.entries)), None)
    if torn is not None:
        raise Wrong(*torn)
    guesses = [found for key in node.entries if (found := nearest(key, sorted(KINDS)))]
    hint = f"nearest is {shown(guesses[0])}" if guesses else f"give one of {listed(sorted(KINDS))}"
    raise Wrong("no key says what kind of part this is", hint)
