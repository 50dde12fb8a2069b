"""Reading a spec: from a file or its bytes to the checked record.

Controls, points and the parts of all wirings are read first, so that every name is known where
it is used.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping, Sequence as Listed
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rewire.reading import forms, switch as switch
from rewire.reading.faults import Nearest, Report
from rewire.reading.forms import At, Read, form_of, is_name, is_nothing, makes
from rewire.reading.names import (
    BAD,
    Original,
    Reader,
    Scope,
    Stock,
    names_in,
    refuse_look_alikes,
    stock_of_parts,
)
from rewire.reading.parts import Parts, check_between, read_parts, refuse_roles
from rewire.reading.text import (
    Mapping as MappingNode,
    Node,
    Scalar,
    Sequence,
    bytes_of,
    child,
    node_at,
    tree_of,
)
from rewire.reading.wirings import ORIGINAL, Begun, finish
from rewire.records.keys import TEXT
from rewire.records.parts import Part
from rewire.records.spec import (
    CUT,
    Control,
    Page,
    PageNote,
    Point,
    Spec,
    Wiring,
)
from rewire.words.wording import Wrong, listed, shown

_MOST_TRIALS = 20_000
_BARE = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*")
_PREFIXED = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*([kKM])(?:\s?(?:ohm|Ω|Ω))?\s*")
_OTHERS = {
    "rewire_drawer": ("this is a drawer, not a spec", "give it with --drawer"),
    "rewire_bench": ("this is a bench log, not a spec", "give it with buzz --found"),
    "rewire_switch": ("this is a buzz-out, not a spec", "give it to identify switch"),
}


SCHEMA = Path(__file__).with_name("schema.json")
"""The copy that the package ships; ``python -m rewire.reading.read`` writes it."""


def json_schema() -> dict[str, Any]:
    """The JSON Schema of a spec, so that an editor can complete and check one."""
    return forms.json_schema(Spec, "rewire spec")


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
    tree = tree_of(data, report)
    for key, (message, way_out) in _OTHERS.items():
        if key in tree.keys and "rewire" not in tree.keys:
            at = tree.keys[key]
            report.fault(report.place(at.line, at.column), message, way_out)
            raise report.error()
    read = form_of(Spec).begin(tree, At(), Reader(report))
    if read is BAD:
        raise report.error()
    spec = _Whole(read, Reader(report)).spec(hashlib.sha256(data).hexdigest())
    if report:
        raise report.error()
    return spec


@dataclass(slots=True)
class _Whole:
    """One file while it is read."""

    read: Read
    reader: Reader

    def spec(self, digest: str) -> Spec:
        """The record; good only if the report has no faults afterwards."""
        read, reader, tree = self.read, self.reader, self.read.node
        self._controls()
        self._take("never", "points")
        _check_never(read, reader)
        points = Stock(points=set(read.points) | set(names_in(read.near("points"))))
        points = Stock(points.points, vague=_is_malformed(read, "points"))
        top_node = read.entries.get("parts")
        top = read_parts(top_node, node_at(tree, ("parts",))[1], reader)
        shared = (points, stock_of_parts(top_node, reader.lugs))
        begun = self._begin_wirings(shared)
        first = begun.get(ORIGINAL)
        scope = first.scope if first else Scope("", (*shared, Stock(vague=True)))
        reader.original = Original(scope, top, first.parts if first else {})
        reader.scope = scope
        self._take("readings", "rules")
        reader.readings = read.readings
        wirings = {name: finish(one, reader) for name, one in begun.items()}
        reader.known = self._known([read, *(one.read for one in begun.values())])
        self._take(*(name for name in read.by.keys if name not in _IN_ORDER))
        self._check_whole(top, begun, wirings, shared)
        for key in ("resistor", "pot"):
            _notice_unlike(reader.texts.get(key, ()), reader)
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
        reader.controls = dict.fromkeys(names_in(node)) | self.read.controls
        reader.all_controls = not _is_malformed(self.read, "controls")
        _refuse_alike(self.read, "controls", reader)

    def _begin_wirings(self, shared: tuple[Stock, ...]) -> dict[str, Begun]:
        """Every wiring with its parts, the original first."""
        node, reader, form = self.read.entries.get("wirings"), self.reader, form_of(Wiring)
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
            own = stock_of_parts(one.entries.get("parts"), reader.lugs)
            scope = Scope(f"in wiring {shown(name)}", (*shared, own))
            begun[name] = Begun(name, one, parts, scope)
        return begun

    def _check_whole(
        self,
        top: Parts,
        begun: Mapping[str, Begun],
        wirings: Mapping[str, Wiring],
        shared: tuple[Stock, ...],
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
            readings = {n for one in both for n in names_in(one.entries.get("readings"))}
            if not any(_is_malformed(one, "readings") for one in both):
                _check_fits([(top, at), (wiring.parts, own)], wiring, readings, reader)

    def _known(self, holders: Listed[Read]) -> set[str] | None:
        """Every point and part of the file; None where some cannot be known."""
        if any(_is_malformed(one, key) for one in holders for key in _NAMING):
            return None
        nodes = [self.read.entries.get("points"), *(one.entries.get("parts") for one in holders)]
        return {name for node in nodes for name in names_in(node)}

    def _check_names(self, top: Parts, begun: Mapping[str, Begun]) -> None:
        """Points, parts that stay and parts of wirings share one stock of names."""
        read, report = self.read, self.reader.report
        all_wirings = read.near("wirings")
        written = names_in(all_wirings)
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


@makes(Control)
def _control(read: Read, reader: Reader) -> Control:
    place = reader.place(read.head)
    refuse_look_alikes(((p, place) for p in read.positions), "positions", reader.report)
    return Control(**read.own(name=read.name, place=place))


@makes(Point)
def _point(read: Read, reader: Reader) -> Point:
    at = read.head
    first = reader.chassis
    if read.chassis and first is not None:
        message = f"a second chassis; {first} is it already"
        reader.fault(at, message, "at most one point is the chassis")
    if read.name == CUT:
        message = "a point cannot be called cut: as the end of a wire it means cut off"
        reader.fault(at, message, "choose another name")
    reader.chassis = read.name if read.chassis else first
    return Point(**read.own(name=read.name, place=reader.place(at)))


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


@makes(Page)
def _page(read: Read, reader: Reader) -> Page:
    return Page(**read.own(place=reader.place(read.node)))


@makes(PageNote)
def _note(read: Read, reader: Reader) -> PageNote:
    known = reader.known
    if read.about is not None and known is not None and read.about not in known:
        message = f"about: no part or point {shown(read.about)}"
        reader.fault(read.near("about"), message, Nearest(read.about, known))
    return PageNote(**read.values)


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


if __name__ == "__main__":
    SCHEMA.write_text(json.dumps(json_schema(), indent=1) + "\n", encoding="utf-8")
