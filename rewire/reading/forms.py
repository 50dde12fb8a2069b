"""How mappings and lists are read: a form lists its keys, and each key says what its value is.

All faults of a file are told in one run: what is malformed is left out, as little as will do, and
the rest is read as if it were not there.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Protocol, TypeAlias

from rewire.reading.faults import Hint, Nearest, Report
from rewire.reading.text import Mapping, Node, Path, Scalar, Sequence, plain, torn_in
from rewire.words.quantity import without_comma
from rewire.words.wording import Wrong, shown

BAD: Any = object()
"""Stands for a value that is malformed; its fault has been reported."""
Schema = dict[str, Any]
NOTHING: Schema = {"enum": [None, ""]}
_BRITISH = {"color": "colour", "license": "licence", "polarized": "polarised"}

Trail: TypeAlias = "tuple[Trail, str | int, Scalar | None] | None"
"""The way to a node, from its end: what it is in, the key or number there, where the key stands."""


def _path(trail: Trail) -> Path:
    steps: list[str | int] = []
    while trail is not None:
        trail, step, _ = trail
        steps.append(step)
    return tuple(reversed(steps))


class Kind(Protocol):
    """A kind of value."""

    def take(self, node: Node, trail: Trail, reader: Reader) -> Any:
        """The value of a node; BAD, and a fault, where it is malformed."""

    def schema(self, defs: dict[str, Schema]) -> Schema:
        """Its JSON Schema; what it refers to is put among the definitions."""


@dataclass(slots=True)
class Reader:
    """Receives the faults of a file, and the paths of what was left out of it."""

    report: Report
    broken: set[Path] = field(default_factory=set)

    def refuse(self, node: Node, trail: Trail, wrong: Wrong) -> Any:
        """Report what is wrong with a value, with the name of the key that it is about."""
        while trail is not None and isinstance(trail[1], int):
            trail = trail[0]
        hint = wrong.hint
        if isinstance(node, Scalar) and node.bare and node.cut:
            hint = "' #' begins a comment: put the text in quotes"
        message = f"{trail[1]}: {wrong.message}" if trail is not None else wrong.message
        return self.fault(node, message, hint)

    def is_torn(self, node: Node) -> bool:
        """Whether something in a node could not be read, which has been reported."""
        return bool(self.report) and next(torn_in(node), None) is not None

    def fault(self, at: Node, message: str, hint: Hint = None) -> Any:
        """Report what is wrong at a node."""
        self.report.fault(self.report.place(at.line, at.column), message, hint)
        return BAD

    def leave_out(self, trail: Trail) -> None:
        """Remember that what stands there is not read."""
        self.broken.add(_path(trail))


class Read:
    """What was read of one mapping: its values as attributes, its form, the node it stands in."""

    __slots__ = ("form", "node", "values")

    def __init__(self, form: Form, values: dict[str, Any], node: Node) -> None:
        self.form = form
        self.values = values
        self.node = node

    def __getattr__(self, name: str) -> Any:
        return self.values[name]


@dataclass(frozen=True, slots=True)
class Key:
    """What may stand behind a key."""

    kind: Kind
    to: str | tuple[str, ...] = ""
    """The names under which the value is kept; of the key itself, where none is given."""
    default: Any = None
    needed: bool = False
    vital: bool = False
    """Whether the rest has no sense where the value is malformed."""
    stand_in: Any = None
    """What is read in place of a malformed value, so that the rest can be looked at."""
    null: bool = True
    """Whether the schema takes null where the key may be left out."""


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """A value that is read whole from a text, a list or a mapping; ``read`` raises ``Wrong``."""

    read: Callable[[Any], Any]
    json: Schema

    def take(self, node: Node, trail: Trail, reader: Reader) -> Any:
        """What is read."""
        if reader.is_torn(node):
            return BAD
        try:
            return self.read(node.text if isinstance(node, Scalar) else plain(node))
        except Wrong as wrong:
            return reader.refuse(node, trail, wrong)

    def schema(self, defs: dict[str, Schema]) -> Schema:
        """As given."""
        return self.json


def need(kind: Kind, to: str | tuple[str, ...] = "", stand_in: Any = None) -> Key:
    """A key that must be there."""
    return Key(kind, to, needed=True, vital=stand_in is None, stand_in=stand_in)


def may(kind: Kind, to: str | tuple[str, ...] = "", default: Any = None, **more: Any) -> Key:
    """A key that can be left out."""
    return Key(kind, to, default, **more)


def mapping(node: Node) -> dict[str, Node]:
    """The entries of a mapping."""
    if isinstance(node, Mapping):
        return node.entries
    raise Wrong("a mapping is needed (key: value)")


def or_nothing(node: Node) -> dict[str, Node]:
    """The entries of a mapping; none where nothing stands."""
    return {} if _is_nothing(node) else mapping(node)


def _is_nothing(node: Node) -> bool:
    return isinstance(node, Scalar) and not node.text


class Form:
    """A mapping with keys of its own.

    Args:
        name: in the schema.
        said: what it is.
        keys: in the order of the format.
        entries: how it is written, where not as a mapping alone; raises ``Wrong``.
        other: the schema of that other way.
        check: raises ``Wrong`` where its keys do not go together.
        loose: whether a malformed value is left out alone, or all of it.
        american: whether a key may be spelt the American way.
        make: what becomes of it.
    """

    def __init__(
        self,
        name: str,
        said: str,
        keys: dict[str, Key],
        *,
        entries: Callable[[Node], dict[str, Node]] = mapping,
        other: Schema | None = None,
        check: Callable[[dict[str, Node]], None] | None = None,
        loose: bool = True,
        american: bool = False,
        make: Callable[..., Any] | None = None,
    ) -> None:
        self.name, self.said, self.keys = name, said, keys
        self.entries, self.other, self.check = entries, other, check
        self.loose, self.american, self.make = loose, american, make
        self.needed = [name for name, key in keys.items() if key.needed]
        self.to = {name: key.to or name for name, key in keys.items()}
        self.defaults: dict[str, Any] = {}
        for name, key in keys.items():
            _keep(self.defaults, self.to[name], key.default)

    def take(self, node: Node, trail: Trail, reader: Reader) -> Any:
        """A record of ``make``, or what was read; BAD where no more can be made of it."""
        try:
            if node.torn:
                return BAD
            entries = self.entries(node)
            if self.american:
                entries = _in_british(entries)
            if self.check is not None:
                self.check(entries)
        except Wrong as wrong:
            return reader.refuse(node, trail, wrong)
        values = dict(self.defaults)
        good = self._take_all(entries, node, values, trail, reader)
        for name in self.needed:
            if name not in entries:
                reader.fault((trail and trail[2]) or node, f"'{name}' is missing")
                good &= trail is None and self._left_out(name, values, None, reader)
        if not good:
            return BAD
        return Read(self, values, node) if self.make is None else self.make(**values)

    def _take_all(
        self,
        entries: dict[str, Node],
        node: Node,
        values: dict[str, Any],
        trail: Trail,
        reader: Reader,
    ) -> bool:
        good = True
        at = node.keys if isinstance(node, Mapping) else {}
        if self.american:
            at = _in_british(at)
        for name, child in entries.items():
            here = (trail, name, at.get(name))
            key = self.keys.get(name)
            if key is None:
                good &= self._skip(here, entries, reader)
                continue
            value = key.kind.take(child, here, reader)
            if value is BAD:
                good &= self._left_out(name, values, trail, reader)
            else:
                _keep(values, self.to[name], value)
        return good

    def _left_out(self, name: str, values: dict[str, Any], trail: Trail, reader: Reader) -> bool:
        """Whether the rest can be read without what stands behind a key."""
        key = self.keys[name]
        if not self.loose or (key.vital and key.stand_in is None):
            return False
        reader.leave_out((trail, name, None))
        if key.stand_in is not None:
            _keep(values, self.to[name], key.stand_in)
        return True

    def _skip(self, here: Any, entries: dict[str, Node], reader: Reader) -> bool:
        """Refuse a key that is not known; whether the rest can be read."""
        _, name, at = here
        value, message = entries[name], f"unknown key {shown(name)}"
        hint: Hint = Nearest(name, list(self.keys))
        if isinstance(value, Scalar) and value.bare:
            message, hint = _after_comma(name, entries, message)
        if not reader.is_torn(value):
            reader.fault(at or value, message, hint)
        if self.loose:
            reader.leave_out(here)
        return self.loose

    def schema(self, defs: dict[str, Schema]) -> Schema:
        """A reference to its schema, which is put among the definitions."""
        if self.name not in defs:
            defs[self.name] = {}
            defs[self.name] = self.whole_schema(defs)
        reference: Schema = {"$ref": f"#/$defs/{self.name}"}
        return {"anyOf": [reference, self.other]} if self.other else reference

    def whole_schema(self, defs: dict[str, Schema]) -> Schema:
        """Its schema."""
        fields = {name: _key_schema(name, key, defs) for name, key in self.keys.items()}
        if self.american:
            fields |= {new: fields[old] for new, old in _BRITISH.items() if old in fields}
        needed = {"required": self.needed} if self.needed else {}
        return {
            "additionalProperties": False,
            "description": self.said,
            "properties": fields,
            **needed,
            "title": self.name,
            "type": "object",
        }


def _keep(values: dict[str, Any], to: str | tuple[str, ...], value: Any) -> None:
    if isinstance(to, str):
        values[to] = value
    elif value is not None:
        values.update(zip(to, value, strict=True))


def _in_british(entries: dict[str, Any]) -> dict[str, Any]:
    for american, british in _BRITISH.items():
        if american in entries and british in entries:
            raise Wrong(f"both {american} and {british} are given", "keep one of them")
    if _BRITISH.keys().isdisjoint(entries):
        return entries
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


def _key_schema(name: str, key: Key, defs: dict[str, Schema]) -> Schema:
    schema, simple = key.kind.schema(defs), isinstance(key.kind, Field)
    title = {} if isinstance(key.kind, Form) else {"title": name.replace("_", " ").title()}
    if key.needed or isinstance(key.default, dict) or (not simple and key.default is not None):
        return {**schema, **title}
    if key.null and (key.default is None or not isinstance(key.to, str)):
        either = schema["anyOf"] if set(schema) == {"anyOf"} else [schema]
        return {"anyOf": [*either, {"type": "null"}], "default": None, **title}
    default = list(key.default) if isinstance(key.default, tuple) else key.default
    return {"default": default, **schema, **title}


@dataclass(frozen=True, slots=True)
class Items:
    """A list, or nothing; ``loose`` if a malformed item is left out alone."""

    kind: Kind
    loose: bool = True

    def take(self, node: Node, trail: Trail, reader: Reader) -> Any:
        """The items; BAD where there is no list."""
        if _is_nothing(node):
            return ()
        if node.torn:
            return BAD
        if not isinstance(node, Sequence):
            return reader.refuse(node, trail, Wrong("a list is needed"))
        found, take = [], self.kind.take
        for number, item in enumerate(node.items):
            here = (trail, number, None)
            value = take(item, here, reader)
            if value is not BAD:
                found.append(value)
            elif self.loose:
                reader.leave_out(here)
        return tuple(found) if self.loose or len(found) == len(node.items) else BAD

    def schema(self, defs: dict[str, Schema]) -> Schema:
        """Of the list."""
        return {"anyOf": [{"items": self.kind.schema(defs), "type": "array"}, NOTHING]}


@dataclass(frozen=True, slots=True)
class Named:
    """A mapping from names of the user's choice, or nothing; ``loose`` as for ``Items``."""

    kind: Kind
    names: Field
    loose: bool = True

    def take(self, node: Node, trail: Trail, reader: Reader) -> Any:
        """Name → value; BAD where there is no mapping."""
        if _is_nothing(node):
            return {}
        if node.torn:
            return BAD
        if not isinstance(node, Mapping):
            return reader.refuse(node, trail, Wrong("a mapping is needed (key: value)"))
        found = {}
        for name, item in node.entries.items():
            here = (trail, name, node.keys[name])
            good = self._is_good(name, node.keys[name], reader)
            value = self.kind.take(item, here, reader)
            if good and value is not BAD:
                found[name] = value
            elif self.loose:
                reader.leave_out(here)
        return found if self.loose or len(found) == len(node.entries) else BAD

    def _is_good(self, name: str, at: Scalar, reader: Reader) -> bool:
        try:
            self.names.read(name)
        except Wrong as wrong:
            reader.fault(at, wrong.message, wrong.hint)
            return False
        return True

    def schema(self, defs: dict[str, Schema]) -> Schema:
        """Of the mapping."""
        inner = self.kind.schema(defs)
        named: Schema = {"additionalProperties": inner}
        if "pattern" in self.names.json:
            patterns = {self.names.json["pattern"]: inner}
            named = {"patternProperties": patterns, "additionalProperties": False}
        return {"anyOf": [{**named, "type": "object"}, NOTHING]}


@dataclass(frozen=True, slots=True)
class OneOf:
    """One of several kinds, as ``choose`` finds by the node; it raises ``Wrong`` for none."""

    kinds: tuple[Kind, ...]
    choose: Callable[[Node], Kind]

    def take(self, node: Node, trail: Trail, reader: Reader) -> Any:
        """What the chosen kind makes of it."""
        if node.torn:
            return BAD
        try:
            kind = self.choose(node)
        except Wrong as wrong:
            return reader.refuse(node, trail, wrong)
        return kind.take(node, trail, reader)

    def schema(self, defs: dict[str, Schema]) -> Schema:
        """Of any of them."""
        each = [kind.schema(defs) for kind in self.kinds]
        full = [schema["anyOf"][0] for schema in each if NOTHING in schema.get("anyOf", ())]
        return {"anyOf": [{"oneOf": full}, NOTHING]} if full else {"oneOf": each}
