"""How nodes become records: each record says of its fields what may stand behind their keys.

All faults of a file are told in one run: what is malformed is left out, as little as will do, and
the rest is read as if it were not there.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar, get_type_hints

from rewire.reading.faults import Hint, Nearest
from rewire.reading.names import BAD, Reader
from rewire.reading.text import Mapping, Node, Scalar, Sequence, node_at, plain, torn_in
from rewire.records.keys import (
    MEMBERS,
    MISSING,
    NOTHING,
    TEXT,
    AnyNets,
    AnyPart,
    Field,
    Items,
    Key,
    Named,
    Schema,
    Written,
    two_in_one,
)
from rewire.records.parts import KINDS
from rewire.records.spec import Net
from rewire.words.quantity import without_comma
from rewire.words.wording import Wrong, listed, nearest, shown

_BRITISH = {"color": "colour", "license": "licence", "polarized": "polarised"}


@dataclass(frozen=True, slots=True)
class At:
    """Where a value stands: the last key on the way to it, and that key's node if it is next."""

    key: str | None = None
    node: Scalar | None = None

    def item(self) -> At:
        """An item of the list that stands here."""
        return At(self.key)


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
        self.written: Written = getattr(record, "WRITTEN", Written())
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
                read.good &= at.key is None and self._stand_in(name, read)
        for name in entries:
            if name not in self.keys:
                read.good &= self._refuse(name, read, reader)
        return read

    def _entries(self, node: Node) -> dict[str, Node]:
        """The keys of a record, however it is written."""
        written = self.written
        if isinstance(node, Scalar) and node.text in written.nothing:
            return {}
        if isinstance(node, Sequence) and written.as_whole:
            return {written.as_whole: node}
        if isinstance(node, Mapping) or not written.as_list:
            return _mapping(node)
        if isinstance(node, Scalar):
            raise Wrong("a wire has two ends", "write [from, to]")
        if 2 <= len(node.items) <= len(written.as_list):
            return dict(zip(written.as_list, node.items, strict=False))
        texts = (item.text for item in node.items if isinstance(item, Scalar))
        forgotten = next(filter(None, map(two_in_one, texts)), None)
        hint = "write [from, to] or [from, to, colour]"
        raise Wrong(*(forgotten or (f"a wire of {len(node.items)} items", hint)))

    def _stand_in(self, name: str, read: Read) -> bool:
        """Take the stand-in of a key; whether it has one."""
        value = self.keys[name].stand_in
        if value is not None:
            self.keep(read.values, name, value)
        return value is not None

    def _refuse(self, name: str, read: Read, reader: Reader) -> bool:
        """Refuse a key that is not known; whether the rest can be read."""
        value, message = read.entries[name], f"unknown key {shown(name)}"
        hint: Hint = Nearest(name, list(self.keys))
        if isinstance(value, Scalar) and value.bare:
            message, hint = _after_comma(name, read.entries, message)
        if not _is_torn(value, reader):
            reader.fault(_key_of(read.node, name) or value, message, hint)
        return self.written.loose

    def read(self, name: str, read: Read, reader: Reader) -> None:
        """Read what stands behind a key, if it is there."""
        if name not in read.entries:
            return
        key = self.keys[name]
        at = At(name, _key_of(read.node, name))
        value = take(key.kind, read.entries[name], at, reader)
        if value is BAD:
            value = MISSING if key.stand_in is None else key.stand_in
            vital = key.vital or self.default(name) is MISSING
            read.good &= self.written.loose and not (vital and key.stand_in is None)
        self.keep(read.values, name, value)

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

    def schema(self, defs: dict[str, Schema]) -> Schema:
        """A reference to its schema, which is put among the definitions."""
        name = self.record.__name__
        if name not in defs:
            defs[name] = {}
            defs[name] = self.whole_schema(defs)
        reference: Schema = {"$ref": f"#/$defs/{name}"}
        other = self.written.other
        return {"anyOf": [reference, other]} if other else reference

    def whole_schema(self, defs: dict[str, Schema]) -> Schema:
        """Its schema."""
        fields = {name: self._key_schema(name, defs) for name in self.keys}
        if self.written.american:
            fields |= {new: fields[old] for new, old in _BRITISH.items() if old in fields}
        return {
            "additionalProperties": False,
            "description": str(self.record.__doc__).partition("\n")[0],
            "properties": fields,
            **({"required": self.needed} if self.needed else {}),
            "title": self.record.__name__,
            "type": "object",
        }

    def _key_schema(self, name: str, defs: dict[str, Schema]) -> Schema:
        key, default = self.keys[name], self.default(name)
        schema, simple = schema_of(key.kind, defs), isinstance(key.kind, Field)
        title = {} if isinstance(key.kind, type) else {"title": name.replace("_", " ").title()}
        may_be_left = default is not MISSING and not isinstance(default, dict)
        if not may_be_left or (not simple and default is not None):
            return {**schema, **title}
        if key.null and (default is None or key.also):
            either = schema["anyOf"] if set(schema) == {"anyOf"} else [schema]
            return {"anyOf": [*either, {"type": "null"}], "default": None, **title}
        plain_default = list(default) if isinstance(default, tuple) else default
        return {"default": plain_default, **schema, **title}


_forms: dict[type[Any], Form] = {}


def form_of(record: type[Any]) -> Form:
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


def _mapping(node: Node) -> dict[str, Node]:
    if isinstance(node, Mapping):
        return node.entries
    raise Wrong("a mapping is needed (key: value)")


def _in_british(entries: dict[str, Node]) -> dict[str, Node]:
    for american, british in _BRITISH.items():
        if american in entries and british in entries:
            raise Wrong(f"both {american} and {british} are given", "keep one of them")
    return {_BRITISH.get(key, key): item for key, item in entries.items()}


def _after_comma(key: str, entries: dict[str, Node], message: str) -> tuple[str, str]:
    """What a comma tore off inside {…}: the rest of a number, or of a text."""
    names = list(entries)
    before = entries[names[max(names.index(key) - 1, 0)]]
    if isinstance(before, Scalar) and re.fullmatch(r"[-+]?[0-9]+", before.text):
        number = f"{before.text},{key}"
        if re.match(r"[0-9]", key):
            return f"{shown(number)} has a comma in the number", without_comma(number)
    return message, "a comma inside a text begins a new key: put the text in quotes"


def _is_torn(node: Node, reader: Reader) -> bool:
    """Whether something in a node could not be read, which has been reported."""
    return bool(reader.report) and next(torn_in(node), None) is not None


def take(kind: Any, node: Node, at: At, reader: Reader) -> Any:
    """The value that a node stands for; BAD, and a fault, where it is malformed."""
    if isinstance(kind, Field):
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
        return form_of(_kind_of(node) if kind is AnyPart else kind).take(node, at, reader)
    except Wrong as wrong:
        return reader.refuse(node, at.key, wrong)


def _take_field(kind: Field, node: Node, at: At, reader: Reader) -> Any:
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
    here = at.item()
    each = [take(kind.of, item, here, reader) for item in node.items]
    good = tuple(value for value in each if value is not BAD)
    return good if kind.loose or len(good) == len(each) else BAD


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
    return found if kind.loose or len(found) == len(node.entries) else BAD


def is_name(names: Field, at: Scalar, reader: Reader) -> bool:
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


def schema_of(kind: Any, defs: dict[str, Schema]) -> Schema:
    """The JSON Schema of a kind of value; what it refers to is put among the definitions."""
    if isinstance(kind, Field):
        return kind.json
    if isinstance(kind, Items):
        return {"anyOf": [{"items": schema_of(kind.of, defs), "type": "array"}, NOTHING]}
    if isinstance(kind, Named):
        inner = schema_of(kind.of, defs)
        named: Schema = {"additionalProperties": inner}
        if "pattern" in kind.names.json:
            patterns = {kind.names.json["pattern"]: inner}
            named = {"patternProperties": patterns, "additionalProperties": False}
        return {"anyOf": [{**named, "type": "object"}, NOTHING]}
    if kind is AnyPart:
        return {"oneOf": [form_of(one).schema(defs) for one in KINDS.values()]}
    if kind is AnyNets:
        nets = {"items": MEMBERS.json, "type": "array"}
        by_name = {"additionalProperties": MEMBERS.json, "type": "object"}
        return {"anyOf": [{"oneOf": [by_name, nets]}, NOTHING]}
    return form_of(kind).schema(defs)


def json_schema(record: type[Any], title: str) -> dict[str, Any]:
    """The schema of a file, made from its record (JSON Schema, draft 2020-12)."""
    defs: dict[str, Any] = {}
    whole = form_of(record).whole_schema(defs)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$defs": dict(sorted(defs.items())),
        **whole,
        "title": title,
    }
