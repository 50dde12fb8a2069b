"""How nodes become records: each record says of its fields what may stand behind their keys.

All faults of a file are told in one run: what is malformed is left out, as little as will do, and
the rest is read as if it were not there.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, TypeVar, get_type_hints

from rewire.reading.faults import Hint, Nearest, Report
from rewire.reading.names import Lugs, Original, Scope
from rewire.reading.slips import IN_QUOTES, after_comma
from rewire.reading.text import Mapping, Node, Scalar, Sequence, node_at, plain, torn_in
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
    two_in_one,
)
from rewire.records.parts import KINDS, Place
from rewire.records.spec import Control, Net, Reading, Spec, Wiring
from rewire.words.wording import Wrong, listed, nearest, shown

BRITISH = {"color": "colour", "license": "licence", "polarized": "polarised"}


BAD: Any = object()
"""Stands for a value that is malformed; its fault has been reported."""
MOST_CONTACTS = 2_000_000
"""Lugs, and contacts by position, that one file may have."""


NOWHERE = Scope("", ())
NOTHING_KNOWN = Original(NOWHERE, {})


@dataclass(slots=True)
class Reader:
    """What is known while a file is read, and what was found wrong with it."""

    report: Report
    controls: dict[str, Control | None] = field(default_factory=dict)
    """None for one that is malformed."""
    all_controls: bool = True
    """Whether these are all."""
    scope: Scope = NOWHERE
    original: Original = NOTHING_KNOWN
    readings: dict[str, Reading] = field(default_factory=dict)
    """Of the whole file."""
    lugs: Lugs = field(default_factory=dict)
    """Lugs of parts that may be malformed otherwise."""
    meters: list[str] = field(default_factory=list)
    """Meters, malformed ones too."""
    texts: dict[str, list[Scalar]] = field(default_factory=dict)
    """What stands behind some keys, all over the file."""
    own: Scope = NOWHERE
    """The names of the wiring that is read."""
    ids: dict[str, str] = field(default_factory=dict)
    """Of its wires, in lower case → as written."""
    known: set[str] | None = None
    """Every point and part of the file; None where some cannot be known."""
    chassis: str | None = None
    spec: Spec | None = None
    wiring: Wiring | None = None
    """What a bench log is of."""
    contacts: int = 0
    """Lugs, and contacts by position, of all parts so far."""

    def place(self, node: Node) -> Place:
        """Where a node stands."""
        return self.report.place(node.line, node.column)

    def fault(self, at: Node, message: str, hint: Hint = None) -> None:
        """Report what is wrong at a node."""
        self.report.fault(self.place(at), message, hint)

    def refuse(self, node: Node, key: str | None, wrong: Wrong) -> Any:
        """Report what is wrong with a value, with the name of the key that it is about."""
        hint = wrong.hint
        if isinstance(node, Scalar) and node.bare and node.cut:
            hint = "' #' begins a comment: put the text in quotes"
        self.fault(node, wrong.message if key is None else f"{key}: {wrong.message}", hint)
        return BAD

    def doubt(self, key: str | None, node: Scalar, doubts: Iterable[str]) -> None:
        """Note what a value may mean that it does not say."""
        self.texts.setdefault(key or "", []).append(node)
        for said in doubts:
            self.report.notice(self.place(node), said)

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
        if names == "state":
            for control, position in value.items():
                self.check_positions(control, (position,), node)
        elif names == "when":
            for control, positions in value.items():
                self.check_positions(control, positions, node)
        else:
            for number, name in enumerate(value):
                if not self.scope.has(name):
                    at = self.place(node_at(node, (number,))[0])
                    self.scope.check(name, at, self.report)
                elif names == "anchor":
                    self._check_anchor(name, node_at(node, (number,))[0])

    def _check_anchor(self, name: str, at: Node) -> None:
        """An anchor is a point, or a terminal of the original that is no lug."""
        part = self.original.part(name.partition(".")[0])
        if "." in name and part is not None and not part.has_role:
            hint = "name a point, or a terminal of another part, that it is wired to"
            message = f"{shown(name)} is a lug of a {part.kind}, which another wiring need not have"
            self.fault(at, message, hint)

    def check_positions(self, name: str, positions: Iterable[str], node: Node) -> None:
        """Fault a control that is not there, or positions that it does not have."""
        value, key = node_at(node, (name,))
        if self.has_control(name, key or value):
            for position in positions:
                self.has_position(name, position, value)

    def has_control(self, name: str, at: Node) -> bool:
        """Whether there is such a control; a fault if not."""
        if name not in self.controls and self.all_controls:
            known = [name for name, one in self.controls.items() if one is not None]
            hint: Hint = Nearest(name, known)
            if not known:
                hint = f"list it under controls: {{{name}: [ONE, OTHER]}}"
            self.fault(at, f"no control {shown(name)}", hint)
        return self.controls.get(name) is not None

    def has_position(self, name: str, position: str, at: Node) -> bool:
        """Whether a control has such a position; a fault if not."""
        control = self.controls[name]
        positions = control.positions if control is not None else ()
        if position in positions:
            return True
        message = f"control {shown(name)} has no position {shown(position)}"
        whole = next((other for other in positions if position in other.split()), None)
        missing = f"is a comma missing in {shown(whole)}?"
        self.fault(at, message, Nearest(position, positions) if whole is None else missing)
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
        return node_at(self.node, path)[0]

    def key(self, *path: str | int) -> Node:
        """The key at a path below it."""
        found, key = node_at(self.node, path)
        return key or found

    def own(self, **more: Any) -> dict[str, Any]:
        """The values of its record's fields, for making one with a few others."""
        fields = self.by.fields
        return {name: value for name, value in self.values.items() if name in fields} | more


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
        if len(to) == 1 or default is MISSING or isinstance(default, tuple):
            self.keep(self.defaults, name, default)
        else:
            self.defaults[to[0]] = default

    def default(self, name: str) -> Any:
        """What is taken where a key is left out; MISSING where it is needed."""
        return self.defaults.get(self.to[name][0], MISSING)

    def keep(self, values: dict[str, Any], name: str, value: Any) -> None:
        """Put down the value of a key."""
        to = self.to[name]
        if value is MISSING:
            return
        values.update(zip(to, value, strict=True) if len(to) > 1 else [(to[0], value)])

    def begin(self, node: Node, at: At, reader: Reader) -> Any:
        """What stands in a node, before any of its keys is read; BAD where that is no record."""
        try:
            if node.torn:
                return BAD
            entries = self._entries(node)
            if self.written.american:
                entries = _in_british(entries)
            if self.written.check is not None:
                self.written.check(entries)
        except Wrong as wrong:
            return reader.refuse(node, at.key, wrong)
        read = Read(self, dict(self.defaults), entries, node, at)
        for name in self.needed:
            if name not in entries:
                reader.fault(at.node or node, f"'{name}' is missing")
                read.good = False
        for name in entries:
            if name not in self.keys:
                self._refuse(name, read, reader)
        return read

    def _entries(self, node: Node) -> dict[str, Node]:
        """The keys of a record, however it is written."""
        written = self.written
        if isinstance(node, Scalar) and node.text in written.nothing:
            return {}
        if isinstance(node, Sequence) and written.as_whole:
            return {written.as_whole: node}
        if isinstance(node, Mapping):
            return node.entries
        if not written.as_list:
            raise Wrong("a mapping is needed (key: value)")
        if isinstance(node, Scalar):
            raise Wrong("a wire has two ends", "write [from, to]")
        if 2 <= len(node.items) <= len(written.as_list):
            return dict(zip(written.as_list, node.items, strict=False))
        texts = (item.text for item in node.items if isinstance(item, Scalar))
        forgotten = next(filter(None, map(two_in_one, texts)), None)
        hint = "write [from, to] or [from, to, colour]"
        raise Wrong(*(forgotten or (f"a wire of {len(node.items)} items", hint)))

    def _refuse(self, name: str, read: Read, reader: Reader) -> None:
        """Refuse a key that is not known."""
        value, message = read.entries[name], f"unknown key {shown(name)}"
        hint: Hint = Nearest(name, list(self.keys))
        if isinstance(value, Scalar) and value.bare:
            names = list(read.entries)
            before = read.entries[names[max(names.index(name) - 1, 0)]]
            text = before.text if isinstance(before, Scalar) else ""
            message, hint = after_comma(name, text) or (message, IN_QUOTES)
        if not _is_torn(value, reader):
            reader.fault(_key_of(read.node, name) or value, message, hint)

    def read(self, name: str, read: Read, reader: Reader) -> None:
        """Read what stands behind a key, if it is there."""
        if name not in read.entries:
            return
        key = self.keys[name]
        at = At(name, _key_of(read.node, name))
        value = take(key.kind, read.entries[name], at, reader)
        if value is not BAD:
            self.keep(read.values, name, value)
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
        return self.make(read, reader) if read.good else BAD

    def make(self, read: Read, reader: Reader) -> Any:
        """The record, of what was read."""
        make = next((MADE[kind] for kind in self.record.__mro__ if kind in MADE), None)
        if make is not None:
            return make(read, reader)
        if "name" in self.fields:
            read.values["name"] = read.name
        if "place" in self.fields:
            read.values["place"] = reader.place(read.head)
        return self.record(**read.values)


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
    return node_at(node, (name,))[1] if isinstance(node, Mapping) else None


def _in_british(entries: dict[str, Node]) -> dict[str, Node]:
    for american, british in BRITISH.items():
        if american in entries and british in entries:
            raise Wrong(f"both {american} and {british} are given", "keep one of them")
    return {BRITISH.get(key, key): item for key, item in entries.items()}


def _is_torn(node: Node, reader: Reader) -> bool:
    """Whether something in a node could not be read, which has been reported."""
    return bool(reader.report) and next(torn_in(node), None) is not None


def take(kind: Any, node: Node, at: At, reader: Reader) -> Any:
    """The value that a node stands for; BAD, and a fault, where it is malformed."""
    if isinstance(kind, ValueKind):
        return _take_field(kind, node, at, reader)
    if node.torn:
        return BAD
    if isinstance(kind, Items):
        return _take_items(kind, node, at, reader)
    if isinstance(kind, Named):
        return _take_named(kind, node, at, reader)
    if kind is AnyNets:
        return _take_nets(node, at, reader)
    try:
        if kind is AnyPart:
            kind = _kind_of(node)
            reader.lugs[at.key or ""] = kind.lugs or None
            reader.meters += [at.key or ""] if kind.shows_readings else []
        return keys_of(kind).take(node, at, reader)
    except Wrong as wrong:
        return reader.refuse(node, at.key, wrong)


def _take_field(kind: ValueKind, node: Node, at: At, reader: Reader) -> Any:
    if _is_torn(node, reader):
        return BAD
    try:
        value = kind.read(node.text if isinstance(node, Scalar) else plain(node))
    except Wrong as wrong:
        return reader.refuse(node, at.key, wrong)
    if kind.names:
        reader.check(kind.names, value, node)
    if kind.doubts is not None and isinstance(node, Scalar):
        reader.doubt(at.key, node, kind.doubts(node.text))
    return value


def _take_items(kind: Items, node: Node, at: At, reader: Reader) -> Any:
    if is_nothing(node):
        return ()
    if not isinstance(node, Sequence):
        return reader.refuse(node, at.key, Wrong("a list is needed"))
    here = At(at.key)
    each = (take(kind.of, item, here, reader) for item in node.items)
    return tuple(value for value in each if value is not BAD)


def _take_named(kind: Named, node: Node, at: At, reader: Reader) -> Any:
    if is_nothing(node):
        return {}
    if not isinstance(node, Mapping):
        return reader.refuse(node, at.key, Wrong("a mapping is needed (key: value)"))
    found = {}
    for name, item in node.entries.items():
        good = is_name(kind.names, node.keys[name], reader)
        value = take(kind.of, item, At(name, node.keys[name]), reader)
        if good and value is not BAD:
            found[name] = value
    return found


def is_name(names: ValueKind, at: Scalar, reader: Reader) -> bool:
    """Whether a name of the user's choice can be one; a fault if not."""
    try:
        names.read(at.text)
    except Wrong as wrong:
        reader.fault(at, wrong.message, wrong.hint)
        return False
    return True


def is_nothing(node: Node) -> bool:
    """Whether nothing stands there."""
    return isinstance(node, Scalar) and not node.text


def _take_nets(node: Node, at: At, reader: Reader) -> Any:
    """Nets, named if they stand in a mapping."""
    is_named = isinstance(node, Mapping)
    if is_nothing(node):
        return ()
    if not is_named and not isinstance(node, Sequence):
        return reader.refuse(node, at.key, Wrong("a list is needed"))
    rows = (
        [(name, item, node.keys[name]) for name, item in node.entries.items()]
        if isinstance(node, Mapping)
        else [(None, item, None) for item in getattr(node, "items", ())]
    )
    nets = []
    for name, item, key in rows:
        members = take(MEMBERS, item, At(name or at.key, key), reader)
        if members is not BAD and (key is None or is_name(TEXT, key, reader)):
            nets.append(Net(name, tuple(dict.fromkeys(members)), reader.place(key or item)))
    return tuple(nets)


def _kind_of(node: Node) -> type[Any]:
    if not isinstance(node, Mapping):
        raise Wrong("a part is a mapping", "write {resistor: 10 ohm}")
    kinds = [key for key in node.entries if key in KINDS]
    if len(kinds) == 1:
        return KINDS[kinds[0]]
    if kinds:
        raise Wrong(f"a part has one kind; {' and '.join(kinds)} are given", "keep one of them")
    guesses = [found for key in node.entries if (found := nearest(key, list(KINDS)))]
    hint = f"nearest is {shown(guesses[0])}" if guesses else f"give one of {listed(KINDS)}"
    raise Wrong("no key names the kind of this part", hint)
