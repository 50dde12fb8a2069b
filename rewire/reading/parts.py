"""The parts of a wiring: what one can have wrong, and which of the original it stands for."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from typing import Any

from rewire.reading.faults import Nearest
from rewire.reading.forms import BAD, At, Read, Reader, makes, take
from rewire.reading.names import Original, Scope, check_lugs
from rewire.reading.text import Mapping as MappingNode, Node, Scalar, child, node_at
from rewire.records.parts import Meter, Part, Place, Pot, Resistor, Strip
from rewire.records.spec import PARTS
from rewire.words.wording import shown

Parts = dict[str, Part]
Roles = dict[str, str | dict[str, str]]
"""Part → what it replaces, as written."""
_ONE_TWO_ENDS = "join its terminals by nets or wires"


def read_parts(node: Node | None, key: Scalar | None, reader: Reader) -> Parts:
    """All parts of one list; their lugs are left in ``reader.lugs``."""
    reader.lugs, reader.meters = {}, []
    if node is None:
        return {}
    parts = take(PARTS, node, At("parts", key), reader)
    return {} if parts is BAD else parts


def roles_in(node: Node | None) -> Roles:
    """What the parts of a list replace, as written, where that can be read."""
    found: Roles = {}
    for name, part in node.entries.items() if isinstance(node, MappingNode) else ():
        value = part.entries.get("replaces") if isinstance(part, MappingNode) else None
        if isinstance(value, Scalar) and value.text.strip():
            found[name] = value.text
        elif isinstance(value, MappingNode):
            texts = {lug: v.text for lug, v in value.entries.items() if isinstance(v, Scalar)}
            if texts and len(texts) == len(value.entries):
                found[name] = texts
    return found


@makes(Part)
def _part(read: Read, reader: Reader) -> Part:
    """A part of a kind that always has the same lugs; its role is judged when all are known."""
    kind = read.by.record
    part: Part = kind(
        **read.own(
            name=read.name,
            place=reader.place(read.head),
            terminals=kind.lugs,
            replaces=None,
        )
    )
    return part


@makes(Meter)
def _meter(read: Read, reader: Reader) -> Part:
    if read.full_scale_amps is None and read.resistance == 0:
        hint = "give its resistance, or unknown"
        message = "a meter for volts cannot have zero resistance"
        reader.fault(read.near("resistance"), message, hint)
    return _part(read, reader)


@makes(Resistor)
def _resistor(read: Read, reader: Reader) -> Part:
    _check_fit(read.pieces is None, "resistor", read, reader)
    return _part(read, reader)


@makes(Pot)
def _pot(read: Read, reader: Reader) -> Part:
    setting = read.entries.get("setting")
    fitted = isinstance(setting, Scalar) and setting.text.strip() == "fit"
    _check_fit(fitted, "setting", read, reader)
    return _part(read, reader)


def _check_fit(fitted: bool, key: str, read: Read, reader: Reader) -> None:
    if fitted and read.fit_for is None:
        hint = "add for: NAME, the reading that must come out right"
        reader.fault(read.near(key), "'fit' needs 'for'", hint)
    if read.fit_for is not None and not fitted:
        reader.fault(read.key("for"), "'for' goes with 'fit'", f"write {key}: fit")


@makes(Strip)
def _strip(read: Read, reader: Reader) -> Any:
    written: int | tuple[str, ...] = read.strip
    if isinstance(written, tuple):
        check_lugs(written, reader.place(read.near("strip")), reader.report)
    count = written if isinstance(written, int) else len(written)
    at = read.head
    if not reader.affords(count, at):
        return BAD
    numbered = tuple(map(str, range(1, count + 1)))
    lugs = numbered if isinstance(written, int) else tuple(dict.fromkeys(written))
    reader.lugs[read.name] = lugs
    return Strip(**read.own(name=read.name, place=reader.place(at), terminals=lugs, replaces=None))


def check_between(
    parts: Mapping[str, Part],
    node: Node,
    scope: Scope,
    wirings: Mapping[str, Scope],
    reader: Reader,
) -> None:
    """Whether the places of each ``between`` exist.

    Args:
        parts: the parts to look at.
        node: the mapping they stand in.
        scope: the names known there.
        wirings: for parts that stay: the names of each wiring, where a name may
            also be good if every one of them has it.
        reader: receives the faults.
    """
    for name, part in parts.items():
        if part.between is not None and not part.two_ended:
            message = f"'between' is for parts of two terminals; a {part.kind} is none"
            key = node_at(node, (name, "between"))[1] or node
            reader.fault(key, message, _ONE_TWO_ENDS)
            continue
        for index, at in enumerate(part.between or ()):
            lacking = [said for said, one in wirings.items() if not one.has(at)]
            if scope.has(at) or (wirings and not lacking):
                continue
            found = child(node, name, "between", index)
            if not wirings or len(lacking) == len(wirings):
                scope.check(at, reader.place(found), reader.report)
            else:
                said = f"{shown(name)} stays in every wiring, but {lacking[0]} has no {shown(at)}"
                reader.fault(found, said, "name what every wiring has")


def refuse_roles(node: Node | None, said: str, reader: Reader) -> None:
    """Fault every ``replaces`` where nothing can be replaced."""
    for name in roles_in(node):
        key = node_at(node, (name, "replaces"))[1] if node else None
        if key is not None:
            reader.fault(key, f"'replaces' has no sense here: {said}", "take it out")


def give_roles(parts: Parts, node: Node, reader: Reader) -> Parts:
    """The parts of a wiring with ``replaces`` written out lug by lug."""
    return _Roles(reader, node, roles_in(node)).given(parts)


@dataclasses.dataclass(slots=True)
class _Roles:
    """What the parts of one wiring replace."""

    reader: Reader
    node: Node
    written: Roles
    claims: dict[str, tuple[str, Place]] = dataclasses.field(default_factory=dict)
    """Terminal of the original → who claims it, and where that is written."""

    @property
    def original(self) -> Original:
        """Whose terminals can be claimed."""
        return self.reader.original

    def given(self, parts: Parts) -> Parts:
        """The parts with their roles."""
        self._check_circles()
        return {name: self._with_role(part) for name, part in parts.items()}

    def _with_role(self, part: Part) -> Part:
        before = self.original.own.get(part.name)
        if before is not None and before.kind != part.kind and (before.has_role or part.has_role):
            said = f"is a {part.kind} here and a {before.kind} in the original"
            hint = "one reference is one role: choose another name"
            self.reader.report.fault(part.place, f"{shown(part.name)} {said}", hint)
        replaces = self.written.get(part.name)
        if replaces is None:
            if before is not None and before.kind == part.kind and part.has_role:
                for terminal in part.full_terminals:
                    self._claim(terminal, part.name, part.place)
            return part
        at = child(self.node, part.name, "replaces")
        roles = self._roles(part, replaces, at)
        for lug, target in roles.items():
            self._claim(target, part.name, self.reader.place(child(at, lug)))
        return dataclasses.replace(part, replaces=roles)

    def _claim(self, target: str, who: str, place: Place) -> None:
        known = self.claims.setdefault(target, (who, place))
        if known != (who, place):
            message = f"{shown(target)} is claimed twice: by {known[0]} and by {who}"
            hint = f"{known[0]} claims it in line {known[1].line}"
            self.reader.report.fault(place, message, hint)

    def _roles(self, part: Part, replaces: str | dict[str, str], at: Node) -> dict[str, str]:
        key = node_at(self.node, (part.name, "replaces"))[1] or at
        if not part.has_role:
            message = f"a {part.kind} has no role to replace"
            self.reader.fault(key, message, "take 'replaces' out")
            return {}
        if isinstance(replaces, str):
            return self._whole(part, replaces, at)
        roles = {}
        for lug, target in replaces.items():
            found, lug_key = node_at(at, (lug,))
            if lug not in part.terminals:
                message = f"{shown(part.name)} has no lug {shown(lug)}"
                self.reader.fault(lug_key or found, message, Nearest(lug, part.terminals))
            elif self._can_be_claimed(target, found):
                roles[lug] = target
        return roles

    def _whole(self, part: Part, target: str, at: Node) -> dict[str, str]:
        if target in self.original.top:
            return self._refuse_top(target, at)
        before = self.original.own.get(target)
        scope, first = self.original.scope, part.terminals[0]
        if before is None and "." in target and scope.has(target):
            hint = f"name the part, or write {{{first}: {target}}}"
            self.reader.fault(at, f"{shown(target)} is a terminal, not a part", hint)
        elif before is None and not scope.has_part(target) and not scope.vague:
            message = f"no part {shown(target)} in the original"
            self.reader.fault(at, message, Nearest(target, self.original.own))
        elif before is not None and before.kind != part.kind:
            message = f"{part.name} is a {part.kind} and cannot replace a whole {before.kind}"
            hint = f"go terminal by terminal: {{{first}: {before.full_terminals[0]}}}"
            self.reader.fault(at, message, hint)
        elif before is not None:
            return dict(zip(part.terminals, before.full_terminals, strict=True))
        return {}

    def _can_be_claimed(self, target: str, at: Node) -> bool:
        name = target.partition(".")[0]
        if name in self.original.top:
            return bool(self._refuse_top(name, at))
        if "." not in target and self.original.scope.has(target):
            self.reader.fault(at, f"{shown(target)} is a point, not a terminal of a part")
            return False
        if not self.original.scope.check(target, self.reader.place(at), self.reader.report):
            return False
        before = self.original.own.get(name)
        if before is not None and not before.has_role:
            message = f"{shown(target)} is a lug of a {before.kind}, which has no role"
            self.reader.fault(at, message, "name a terminal of another kind of part")
            return False
        return before is not None

    def _refuse_top(self, name: str, at: Node) -> dict[str, str]:
        message = f"{shown(name)} stays in every wiring and cannot be replaced"
        self.reader.fault(at, message, "list it under the original's parts instead")
        return {}

    def _check_circles(self) -> None:
        """Parts each under the name of one that the next replaces: the chain must have an end."""
        after = {name: list(_targets(name, one)) for name, one in self.written.items()}
        names = {name for name in after if name in self.original.own}
        done: set[str] = set()
        for start in after:
            circle = _circle_from(start, after, names, done)
            if circle:
                key = node_at(self.node, (circle[0], "replaces"))[1] or self.node
                way = " replaces ".join([*circle, circle[0]])
                hint = "a part under its old name needs no 'replaces'"
                self.reader.fault(key, f"a circle: {way}", hint)


def _targets(name: str, replaces: str | dict[str, str]) -> Iterator[str]:
    if isinstance(replaces, str):
        yield replaces
        return
    parts = dict.fromkeys(target.partition(".")[0] for target in replaces.values())
    yield from (part for part in parts if part != name)


def _circle_from(
    start: str, after: dict[str, list[str]], names: set[str], done: set[str]
) -> list[str]:
    """Parts of a circle that can be reached from a part and were not looked at before."""
    way: dict[str, None] = {}
    stack = [(start, False)]
    while stack:
        name, left = stack.pop()
        if left:
            del way[name]
            continue
        if name in way:
            return list(way)[list(way).index(name) :]
        if name in done:
            continue
        done.add(name)
        way[name] = None
        stack.append((name, True))
        stack.extend((other, False) for other in after.get(name, ()) if other in names)
    return []
