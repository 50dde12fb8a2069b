"""Reading a spec: from a file or its bytes to the checked record.

Controls, points and the parts of all wirings are read first, so that every name is known where
it is used.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence as Listed
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path

from rewire.reading import entries as entries  # who makes records
from rewire.reading.faults import Nearest, Report
from rewire.reading.forms import (
    BAD,
    At,
    Read,
    Reader,
    is_name,
    is_nothing,
    keys_of,
)
from rewire.reading.names import Lugs, NameList, Original, Scope, refuse_look_alikes
from rewire.reading.parts import Parts, check_between, give_roles, read_parts, refuse_roles
from rewire.reading.text import (
    Mapping as MappingNode,
    Node,
    Scalar,
    Sequence,
    bytes_of,
    child,
    node_at,
    parsed_tree,
)
from rewire.records.keys import TEXT
from rewire.records.parts import Part
from rewire.records.spec import (
    CUT,
    Point,
    Role,
    Spec,
    Wire,
    Wiring,
)
from rewire.words.wording import Wrong, listed, shown

ORIGINAL, AS_FOUND = "original", "as-found"
_MOST_TRIALS = 20_000
_BARE = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*")
_PREFIXED = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*([kKM])(?:\s?(?:ohm|Ω|Ω))?\s*")
_OTHERS = {
    "rewire_drawer": ("this is a drawer, not a spec", "give it with --drawer"),
    "rewire_bench": ("this is a bench log, not a spec", "give it with buzz --found"),
    "rewire_switch": ("this is a buzz-out, not a spec", "give it to identify switch"),
}


def read_spec(path: str | Path) -> Spec:
    """Read and check a spec file.

    Args:
        path: of the file.

    Raises:
        SpecError: it cannot be read, or something in it is wrong; all that is wrong at once.
    """
    return read_text(bytes_of(path, "the file"), str(path))


def read_text(data: bytes, file: str = "<text>") -> Spec:
    """Read and check a spec that is already in memory.

    Args:
        data: the bytes of a file, UTF-8.
        file: its name, for messages.

    Raises:
        SpecError: something in it is wrong; all that is wrong at once.
    """
    report = Report(file)
    tree = parsed_tree(data, report)
    for key, (message, way_out) in _OTHERS.items():
        if key in tree.keys and "rewire" not in tree.keys:
            at = tree.keys[key]
            report.fault(report.place(at.line, at.column), message, way_out)
            raise report.error()
    read = keys_of(Spec).begin(tree, At(), Reader(report))
    if read is BAD:
        raise report.error()
    return _Whole(read, Reader(report)).spec(hashlib.sha256(data).hexdigest())


@dataclass(frozen=True, slots=True)
class _Begun:
    """A wiring whose parts are known, before anything that names them is read."""

    name: str
    read: Read
    parts: Parts
    scope: Scope
    meters: tuple[str, ...]


@dataclass(slots=True)
class _Whole:
    """One file while it is read."""

    read: Read
    reader: Reader

    def spec(self, digest: str) -> Spec:
        """The record.

        Raises:
            SpecError: something in it is wrong.
        """
        read, reader, tree = self.read, self.reader, self.read.node
        self._controls()
        self._take("never", "points")
        _check_never(read, reader)
        points = NameList(points=set(read.points) | set(_names_in(read.near("points"))))
        points = NameList(points.points, vague=_is_malformed(read, "points"))
        top_node = read.entries.get("parts")
        top = read_parts(top_node, node_at(tree, ("parts",))[1], reader)
        shared = (points, _stock_of_parts(top_node, reader.lugs))
        meters = tuple(reader.meters)
        begun = self._begin_wirings(shared)
        first = begun.get(ORIGINAL)
        scope = first.scope if first else Scope("", (*shared, NameList(vague=True)))
        own, more = (first.parts, first.meters) if first else ({}, ())
        reader.original = Original(scope, top, own, (*meters, *more))
        reader.scope = scope
        self._take("readings", "rules")
        reader.readings = read.readings
        wirings = {name: _finish(one, reader) for name, one in begun.items()}
        reader.known = self._known([read, *(one.read for one in begun.values())])
        self._take(*(name for name in read.by.keys if name not in _IN_ORDER))
        self._check_whole(top, begun, wirings, shared)
        for key in ("resistor", "pot"):
            _notice_unlike(reader.texts.get(key, ()), reader)
        if reader.report:
            raise reader.report.error()
        before_and_after = read.procedure
        notices = sorted(reader.report.notices, key=lambda n: (n.place.line, n.place.column))
        return Spec(
            **read.own(
                file=reader.report.file,
                digest=digest,
                parts=top,
                wirings=wirings,
                before=before_and_after.before,
                after=before_and_after.after,
                notices=tuple(notices),
            )
        )

    def _take(self, *names: str) -> None:
        for name in names:
            self.read.by.read(name, self.read, self.reader)

    def _controls(self) -> None:
        self._take("controls")
        node, reader = self.read.entries.get("controls"), self.reader
        reader.controls = dict.fromkeys(_names_in(node)) | self.read.controls
        reader.all_controls = not _is_malformed(self.read, "controls")
        _refuse_alike(self.read, "controls", reader)

    def _begin_wirings(self, shared: tuple[NameList, ...]) -> dict[str, _Begun]:
        """Every wiring with its parts, the original first."""
        node, reader, form = self.read.entries.get("wirings"), self.reader, keys_of(Wiring)
        if node is None or is_nothing(node) or node.torn:
            return {}
        if not isinstance(node, MappingNode):
            reader.refuse(node, "wirings", Wrong("a mapping is needed (key: value)"))
            return {}
        begun = {}
        for name in sorted(node.entries, key=lambda name: name != ORIGINAL):
            if not is_name(TEXT, node.keys[name], reader):
                continue
            one = form.begin(node.entries[name], At(name, node.keys[name]), reader)
            if one is BAD:
                continue
            parts = read_parts(one.entries.get("parts"), node_at(one.node, ("parts",))[1], reader)
            own = _stock_of_parts(one.entries.get("parts"), reader.lugs)
            scope = Scope(f"in wiring {shown(name)}", (*shared, own))
            begun[name] = _Begun(name, one, parts, scope, tuple(reader.meters))
        return begun

    def _check_whole(
        self,
        top: Parts,
        begun: Mapping[str, _Begun],
        wirings: Mapping[str, Wiring],
        shared: tuple[NameList, ...],
    ) -> None:
        read, reader = self.read, self.reader
        at = read.near("parts")
        self._check_names(top, begun)
        scopes = {name: one.scope for name, one in begun.items()}
        here = Scope("among the parts that stay", shared)
        check_between(top, at, here, scopes, reader)
        refuse_roles(read.entries.get("parts"), "the part stays in every wiring", reader)
        self._notice_unreached(top, wirings)
        for name, wiring in wirings.items():
            own = begun[name].read.near("parts")
            both = (read, begun[name].read)
            readings = {n for one in both for n in _names_in(one.entries.get("readings"))}
            if not any(_is_malformed(one, "readings") for one in both):
                _check_fits([(top, at), (wiring.parts, own)], wiring, readings, reader)

    def _known(self, holders: Listed[Read]) -> set[str] | None:
        """Every point and part of the file; None where some cannot be known."""
        if any(_is_malformed(one, key) for one in holders for key in _NAMING):
            return None
        nodes = [self.read.entries.get("points"), *(one.entries.get("parts") for one in holders)]
        return {name for node in nodes for name in _names_in(node)}

    def _check_names(self, top: Parts, begun: Mapping[str, _Begun]) -> None:
        """Points, parts that stay and parts of wirings share one stock of names."""
        read, report = self.read, self.reader.report
        all_wirings = read.near("wirings")
        written = _names_in(all_wirings)
        is_there = "wirings" in read.entries and not _is_malformed(read, "wirings")
        if is_there and ORIGINAL not in written:
            hint = Nearest(ORIGINAL, written) if written else None
            self.reader.fault(read.key("wirings"), "wirings: 'original' is missing", hint)
        if isinstance(all_wirings, MappingNode):
            places = [(name, self.reader.place(all_wirings.keys[name])) for name in begun]
            refuse_look_alikes(places, "wirings", report)
        _refuse_alike(read, "readings", self.reader)
        owner = dict.fromkeys(read.points, "a point")
        rows = [(name, read.key("parts", name)) for name in top]
        for name, at in rows:
            self._refuse_name(name, owner, at)
        owner = dict.fromkeys(top, "a part that stays in every wiring") | owner
        for one in begun.values():
            own = [(name, one.read.key("parts", name)) for name in one.parts]
            for name, at in own:
                self._refuse_name(name, owner, at)
            rows += own
        named = [(name, read.key("points", name)) for name in read.points] + rows
        refuse_look_alikes(((n, self.reader.place(at)) for n, at in named), "names", report)

    def _refuse_name(self, name: str, owner: Mapping[str, str], at: Node) -> None:
        if name in owner:
            message = f"{shown(name)} is {owner[name]} already"
            self.reader.fault(at, message, "choose another name")

    def _notice_unreached(self, top: Parts, wirings: Mapping[str, Wiring]) -> None:
        """Note the points that no wire, net or part reaches in any wiring: one may be forgotten."""
        reached = {end for part in top.values() for end in part.between or ()}
        for wiring in wirings.values():
            reached.update(end for wire in (*wiring.wires, *wiring.cut_wires) for end in wire.ends)
            reached.update(member for net in wiring.nets for member in net.members)
            reached.update(end for part in wiring.parts.values() for end in part.between or ())
        points: Mapping[str, Point] = self.read.points
        lost = [name for name, one in points.items() if name not in reached and not one.chassis]
        if lost and any(wiring.wires or wiring.nets for wiring in wirings.values()):
            said = f"no wire or part of any wiring reaches {listed(lost)}: is one forgotten?"
            place = self.reader.place(self.read.key("points", lost[0]))
            self.reader.report.notice(place, said)


_NAMING = ("points", "parts", "wirings")
_IN_ORDER = ("controls", "never", "points", "parts", "readings", "rules", "wirings")


def _sequence(node: Node) -> list[Node]:
    return node.items if isinstance(node, Sequence) else []


def _is_malformed(read: Read, key: str) -> bool:
    """Whether something else stands where names should be."""
    node = read.entries.get(key)
    nothing = node is None or is_nothing(node) or isinstance(node, MappingNode)
    return not nothing or (node is not None and node.torn)


def _refuse_alike(read: Read, key: str, reader: Reader) -> None:
    places = ((name, reader.place(read.key(key, name))) for name in read.values[key])
    refuse_look_alikes(places, key, reader.report)


def _notice_unlike(texts: Listed[Scalar], reader: Reader) -> None:
    """A plain number beside the same one with a prefix, or the only one without a unit."""
    prefixed = {m[1]: one for one in texts if (m := _PREFIXED.fullmatch(one.text))}
    bare = [(m[1], one) for one in texts if (m := _BARE.fullmatch(one.text))]
    lettered = {one.text for one in texts} - {one.text for _, one in bare}
    alone = len({one.text for _, one in bare}) == 1 and len(lettered - {"fit"}) > 1
    for number, one in bare:
        if number in prefixed:
            like = prefixed[number].text.strip()
            said = f"{shown(one.text)} is read as ohms, and {shown(like)} stands elsewhere"
            reader.report.notice(reader.place(one), f"{said}: write {number} ohm, or {like}")
        elif alone and float(number):
            said = f"{shown(one.text)} is read as ohms; all others have a unit or a prefix"
            out = f"{said}: write {number} ohm, or the prefix that is missing"
            reader.report.notice(reader.place(one), out)


def _check_fits(
    lists: Listed[tuple[Mapping[str, Part], Node]],
    wiring: Wiring,
    written: set[str],
    reader: Reader,
) -> None:
    """Whether each value left open names a reading, and one that no other value names."""
    first: dict[str, str] = {}
    for parts, node in lists:
        for name, part in parts.items():
            reading, at = part.fit_for, child(node, name, "for")
            if reading is None:
                continue
            if reading not in written:
                known = wiring.readings
                reader.fault(at, f"for: no reading {shown(reading)}", Nearest(reading, known))
            elif first.setdefault(reading, name) != name:
                message = f"{shown(first[reading])} is to be fitted for {shown(reading)} already"
                reader.fault(at, message, "one value can be fitted for one reading")


def _finish(begun: _Begun, reader: Reader) -> Wiring:
    """A wiring with everything that names its parts."""
    read, scope, original = begun.read, begun.scope, reader.original
    node = read.near("parts")
    check_between(begun.parts, node, scope, {}, reader)
    reader.own, reader.ids = scope, {}
    scopes = {
        "nets": scope,
        "wires": scope,
        "changes": original.scope,
        "readings": Scope(scope.said, (*original.scope.stocks, *scope.stocks)),
    }
    for key in ("nets", "wires", "changes", "readings", "note", "role"):
        reader.scope = scopes.get(key, scope)
        read.by.read(key, read, reader)
    wires = tuple(_numbered(read.wires, reader))
    return Wiring(
        **read.own(
            name=begun.name,
            parts=_with_roles(begun, reader),
            nets=read.nets,
            wires=tuple(wire for wire in wires if CUT not in wire.ends),
            readings={**reader.readings, **read.readings},
            place=reader.place(read.node),
            role=_role(begun, reader),
            cut_wires=tuple(wire for wire in wires if CUT in wire.ends),
        )
    )


def _role(begun: _Begun, reader: Reader) -> Role | None:
    role: Role | None = begun.read.role
    if begun.name != ORIGINAL:
        return role or ("found" if begun.name == AS_FOUND else "plan")
    if role is not None:
        message = "the original has no role: it is what the others are compared with"
        reader.fault(begun.read.key("role"), message, "take it out")
    return None


def _with_roles(begun: _Begun, reader: Reader) -> Parts:
    node = begun.read.entries.get("parts")
    if begun.name != ORIGINAL:
        return give_roles(begun.parts, node, reader) if node is not None else {}
    refuse_roles(node, "there is nothing before the original", reader)
    if begun.read.changes:
        hint = "say it in the wiring that differs"
        reader.fault(begun.read.key("changes"), "the original differs from nothing", hint)
    return begun.parts


def _numbered(wires: Listed[Wire], reader: Reader) -> Iterator[Wire]:
    """The wires of a wiring; those without an id are numbered in order of appearance."""
    taken = set(reader.ids.values())
    numbers = {letter: _free(letter, taken) for letter in "WJ"}
    first: dict[frozenset[str], Wire] = {}
    for wire in wires:
        one = wire if wire.id else replace(wire, id=next(numbers["J" if wire.jumper else "W"]))
        other = first.setdefault(frozenset(one.ends), one)
        if other is not one and CUT not in one.ends:
            said = f"{one.id} joins {one.ends[0]} and {one.ends[1]}, and so does {other.id}"
            said += f" in line {other.place.line}: is one too many?"
            reader.report.notice(one.place, said)
        yield one


def _free(letter: str, taken: set[str]) -> Iterator[str]:
    return (name for n in count(1) if (name := f"{letter}{n}") not in taken)


def _check_never(read: Read, reader: Reader) -> None:
    """The states that cannot occur leave some; positions that can never be are noted."""
    never: Listed[Mapping[str, str]] = read.never
    known = {name: one.positions for name, one in reader.controls.items() if one is not None}
    if not never or any(p not in known.get(n, ()) for state in never for n, p in state.items()):
        return
    named = {name: known[name] for state in never for name in state}
    if not _can_be({}, never, named):
        message = "never: these rule out every state, so nothing is left to compare"
        reader.fault(read.key("never"), message, "name only what an interlock prevents")
        return
    for name, positions in named.items():
        for position in positions:
            if not _can_be({name: position}, never, named):
                message = f"never: {name} can never stand at {position}, whatever else is set"
                place = reader.place(read.key("never"))
                reader.report.notice(place, f"{message}: that position is not looked at")


def _can_be(
    fixed: dict[str, str], never: Listed[Mapping[str, str]], named: Mapping[str, tuple[str, ...]]
) -> bool:
    """Whether some state with these positions is not ruled out.

    Positions are tried one control after the other, and only where a line of ``never`` still asks
    for one. What is not decided after ``_MOST_TRIALS`` counts as possible: the comparison has
    limits of its own.
    """
    waiting = [(fixed, never)]
    for _ in range(_MOST_TRIALS):
        if not waiting:
            return False
        at, lines = waiting.pop()
        open_lines = [s for s in lines if all(at.get(n, p) == p for n, p in s.items())]
        if not open_lines:
            return True
        control = next((n for n in open_lines[0] if n not in at), None)
        if control is not None:
            waiting += [({**at, control: p}, open_lines) for p in named[control]]
    return True


def _stock_of_parts(node: Node | None, lugs: Lugs) -> NameList:
    """Names of the parts of one list; the lugs of those that are malformed are not known."""
    if node is None:
        return NameList()
    if not isinstance(node, MappingNode):
        return NameList(vague=not isinstance(node, Scalar) or bool(node.text) or node.torn)
    return NameList(lugs={name: lugs.get(name) for name in node.entries}, vague=node.torn)


def _names_in(node: Node | None) -> tuple[str, ...]:
    """The names of the user's choice in a mapping, of malformed things too."""
    return tuple(node.entries) if isinstance(node, MappingNode) else ()
