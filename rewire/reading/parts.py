"""The parts of a wiring: where each stands, and which of the original it stands for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from graphlib import CycleError, TopologicalSorter

from rewire.reading.faults import Nearest
from rewire.reading.forms import Reader
from rewire.reading.names import Original, Scope
from rewire.reading.text import Mapping as MappingNode, Node, Scalar, child, key_at
from rewire.records.part import Part, Place
from rewire.words.wording import shown

Parts = dict[str, Part]
Roles = dict[str, str | dict[str, str]]
"""Part → what it replaces, as written."""


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


def check_between(
    parts: Parts, node: Node, scope: Scope, wirings: Mapping[str, Scope], reader: Reader
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
            key = key_at(node, name, "between")
            reader.fault(key, message, "join its terminals by nets or wires")
            continue
        for index, at in enumerate(part.between or ()):
            lacking = [said for said, one in wirings.items() if at not in one.names]
            found = child(node, name, "between", index)
            if lacking == list(wirings):
                scope.check(at, found.place, reader.report)
            elif lacking and at not in scope.names:
                said = f"{shown(name)} stays in every wiring, but {lacking[0]} has no {shown(at)}"
                reader.fault(found, said, "name what every wiring has")


def refuse_roles(node: Node | None, said: str, reader: Reader) -> None:
    """Fault every ``replaces`` where nothing can be replaced."""
    for name in roles_in(node):
        key = key_at(node, name, "replaces") if node else None
        if key is not None:
            reader.fault(key, f"'replaces' has no sense here: {said}", "take it out")


def give_roles(parts: Parts, node: Node, reader: Reader) -> Parts:
    """The parts of a wiring with ``replaces`` written out lug by lug."""
    roles = _Roles(reader, node, roles_in(node))
    roles.check_circles()
    return {name: roles.with_role(part) for name, part in parts.items()}


@dataclass(slots=True)
class _Roles:
    """What the parts of one wiring replace."""

    reader: Reader
    node: Node
    written: Roles
    claims: dict[str, tuple[str, Place]] = field(default_factory=dict)
    """Terminal of the original → who claims it, and where that is written."""

    @property
    def original(self) -> Original:
        """Whose terminals can be claimed."""
        return self.reader.original

    def with_role(self, part: Part) -> Part:
        """The part with what it replaces."""
        before = self.original.own.get(part.name)
        same_kind = before is not None and before.kind == part.kind
        if before is not None and not same_kind and (before.has_role or part.has_role):
            said = f"is a {part.kind} here and a {before.kind} in the original"
            hint = "one reference is one role: choose another name"
            self.reader.report.fault(part.place, f"{shown(part.name)} {said}", hint)
        replaces = self.written.get(part.name)
        if replaces is None:
            if same_kind and part.has_role:
                self._claim(((end, part.place) for end in part.full_terminals), part.name)
            return part
        at = child(self.node, part.name, "replaces")
        roles = self._roles(part, replaces, at)
        self._claim(((end, child(at, lug).place) for lug, end in roles.items()), part.name)
        return replace(part, replaces=roles)

    def _claim(self, targets: Iterable[tuple[str, Place]], who: str) -> None:
        for target, place in targets:
            known = self.claims.setdefault(target, (who, place))
            if known != (who, place):
                message = f"{shown(target)} is claimed twice: by {known[0]} and by {who}"
                hint = f"{known[0]} claims it in line {known[1].line}"
                self.reader.report.fault(place, message, hint)

    def _roles(self, part: Part, replaces: str | dict[str, str], at: Node) -> dict[str, str]:
        if not part.has_role:
            key = key_at(self.node, part.name, "replaces")
            hint = "take it out: a switch takes the place of the one that its control moved"
            hint = hint if part.kind == "switch" else "take it out"
            self.reader.fault(key, f"a {part.kind} has no 'replaces'", hint)
            return {}
        if isinstance(replaces, str):
            return self._whole(part, replaces, at)
        roles = {}
        for lug, target in replaces.items():
            if lug not in part.terminals:
                message = f"{shown(part.name)} has no lug {shown(lug)}"
                self.reader.fault(key_at(at, lug), message, Nearest(lug, part.terminals))
            elif self._can_be_claimed(target, child(at, lug)):
                roles[lug] = target
        return roles

    def _whole(self, part: Part, target: str, at: Node) -> dict[str, str]:
        before = self.original.own.get(target)
        scope, first = self.original.scope, part.terminals[0]
        if target in self.original.top:
            self._refuse_top(target, at)
        elif before is None and "." in target and target in scope.names:
            hint = f"name the part, or write {{{first}: {target}}}"
            self.reader.fault(at, f"{shown(target)} is a terminal, not a part", hint)
        elif before is None and target not in scope.lugs:
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
        before = self.original.own.get(name)
        if name in self.original.top:
            self._refuse_top(name, at)
        elif "." not in target and target in self.original.scope.names:
            self.reader.fault(at, f"{shown(target)} is a point, not a terminal of a part")
        elif not self.original.scope.check(target, at.place, self.reader.report):
            return False
        elif before is not None and not before.has_role:
            message = f"{shown(target)} is a lug of a {before.kind}, which has no role"
            self.reader.fault(at, message, "name a terminal of another kind of part")
        else:
            return before is not None
        return False

    def _refuse_top(self, name: str, at: Node) -> None:
        message = f"{shown(name)} stays in every wiring and cannot be replaced"
        self.reader.fault(at, message, "list it under the original's parts instead")

    def check_circles(self) -> None:
        """Parts each under the name of one that the next replaces: the chain must have an end."""
        own = self.original.own.keys() & self.written.keys()
        after = {
            name: [target for target in _targets(name, one) if target in own]
            for name, one in self.written.items()
        }
        try:
            TopologicalSorter(after).prepare()
        except CycleError as error:
            circle = error.args[1][::-1]
            hint = "a part under its old name needs no 'replaces'"
            key = key_at(self.node, circle[0], "replaces")
            self.reader.fault(key, f"a circle: {' replaces '.join(circle)}", hint)


def _targets(name: str, replaces: str | dict[str, str]) -> Iterator[str]:
    if isinstance(replaces, str):
        yield replaces
        return
    parts = dict.fromkeys(target.partition(".")[0] for target in replaces.values())
    yield from (part for part in parts if part != name)
