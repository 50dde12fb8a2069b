"""Reading a spec: from a file or its bytes to the checked record.

Controls, points and the parts of all wirings are read first, so that every name is known where
it is used.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence as Listed
from dataclasses import dataclass, replace
from itertools import count, islice, product
from pathlib import Path

from rewire.reading import entries as entries, switches as switches  # who makes records
from rewire.reading.faults import Nearest, Report
from rewire.reading.forms import BAD, At, Read, Reader, is_name, keys_of, take
from rewire.reading.names import Original, Scope, refuse_look_alikes
from rewire.reading.parts import Parts, check_between, give_roles, refuse_roles
from rewire.reading.text import (
    Mapping as MappingNode,
    Scalar,
    bytes_of,
    is_nothing,
    node_at,
    tree_of,
)
from rewire.records.keys import TEXT
from rewire.records.meanings import example_of
from rewire.records.part import KINDS, Part
from rewire.records.spec import CUT, PARTS, Role, Spec, Wire, Wiring
from rewire.words.wording import Wrong, listed, nearest, shown

ORIGINAL, AS_FOUND = "original", "as-found"
_MOST_TRIALS = 20_000
_BARE = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*")
_PREFIXED = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*([kKM])(?:\s?(?:ohm|Ω|Ω))?\s*")
_OTHERS = {
    "rewire_drawer": ("this is a drawer, not a spec", "give it with --drawer"),
    "rewire_bench": ("this is a bench log, not a spec", "give it with buzz --found"),
    "rewire_switch": ("this is a buzz-out, not a spec", "give it to identify switch"),
}
_METERS = {name for name, kind in KINDS.items() if kind.shows_readings}
_NAMING = ("controls", "points", "parts", "wirings")
_LATE = ("controls", "never", "points", "parts", "readings", "rules", "wirings")


def read_spec(path: str | Path) -> Spec:
    """Read and check a spec file.

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
            report.fault(tree.keys[key].place, message, way_out)
            raise report.error()
    reader = Reader(report)
    read = keys_of(Spec).begin(tree, At(), reader)
    if read is BAD:
        raise report.error()
    return _Whole(read, reader).spec(hashlib.sha256(data).hexdigest())


@dataclass(frozen=True, slots=True)
class _Begun:
    """A wiring whose parts are known, before anything that names them is read."""

    name: str
    read: Read
    parts: Parts
    scope: Scope


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
        read, reader, report = self.read, self.reader, self.reader.report
        self._refuse_nameless(read)
        self._take("controls")
        reader.controls = dict.fromkeys(_names_in(read, "controls")) | read.controls
        _refuse_alike(read, "controls", reader)
        self._take("never", "points")
        _check_never(read, reader)
        top = _parts(read, reader)
        here = Scope("among the parts that stay", {*_names_in(read, "points")}, reader.lugs)
        begun = self._begin_wirings(here)
        first = begun[ORIGINAL]
        meters = (*_meters_in(read), *_meters_in(first.read)) or _unknown_in(first.read)[:1]
        reader.original = Original(first.scope, top, first.parts, meters)
        reader.scope = first.scope
        self._take("readings", "rules")
        reader.readings = read.readings
        wirings = {name: _finish(one, reader) for name, one in begun.items()}
        reader.known = {name for one in begun.values() for name in one.scope.lugs} | here.points
        self._take(*(name for name in read.by.keys if name not in _LATE))
        self._check_names(top, begun)
        scopes = {name: one.scope for name, one in begun.items()}
        check_between(top, read.near("parts"), here, scopes, reader)
        refuse_roles(read.entries.get("parts"), "the part stays in every wiring", reader)
        self._notice_unreached(top, wirings)
        for name, wiring in wirings.items():
            _check_fits([(top, read), (wiring.parts, begun[name].read)], wiring, reader)
        for key in ("resistor", "pot"):
            _notice_unlike(reader.texts.get(key, ()), reader)
        if report:
            raise report.error()
        spec: Spec = read.record(
            file=report.file,
            digest=digest,
            parts=top,
            wirings=wirings,
            before=read.procedure.before,
            after=read.procedure.after,
            notices=tuple(sorted(report.notices, key=lambda n: (n.place.line, n.place.column))),
        )
        return spec

    def _take(self, *names: str) -> None:
        for name in names:
            self.read.by.read(name, self.read, self.reader)

    def _refuse_nameless(self, read: Read, *keys: str) -> None:
        """Where names cannot be read, or their key is misspelt, nothing else can be judged.

        Raises:
            SpecError: so it is.
        """
        meant = {nearest(name, read.by.keys) for name in read.entries if name not in read.by.keys}
        if meant & {*(keys or _NAMING)} - read.entries.keys():
            raise self.reader.report.error()
        for key in keys or _NAMING:
            node = read.entries.get(key)
            if node is not None and not is_nothing(node) and not isinstance(node, MappingNode):
                wrong = Wrong("names with their values are needed here", example_of(key))
                self.reader.refuse(node, key, wrong)
                raise self.reader.report.error()

    def _begin_wirings(self, here: Scope) -> dict[str, _Begun]:
        """Every wiring with its parts, the original first.

        Raises:
            SpecError: there is no original with which anything could be compared.
        """
        read, reader = self.read, self.reader
        begun: dict[str, _Begun] = {}
        names = sorted(_names_in(read, "wirings"), key=lambda name: name != ORIGINAL)
        if "wirings" in read.entries and ORIGINAL not in names:
            meant = nearest(ORIGINAL, names)
            hint = f"write original, not {meant}" if meant else "call the maker's wiring original"
            at = read.key("wirings", meant) if meant else read.key("wirings")
            reader.fault(at, "wirings: 'original' is missing", hint)
        for name in names:
            node, key = node_at(read.node, "wirings", name)
            if key is None or not is_name(TEXT, key, reader):
                continue
            one = keys_of(Wiring).begin(node, At(name, key), reader)
            if one is not BAD:
                self._refuse_nameless(one, "parts")
                parts = _parts(one, reader)
                scope = here.with_parts(f"in wiring {shown(name)}", reader.lugs)
                begun[name] = _Begun(name, one, parts, scope)
        if ORIGINAL not in begun:
            raise reader.report.error()
        return begun

    def _check_names(self, top: Parts, begun: Mapping[str, _Begun]) -> None:
        """Points, parts that stay and parts of wirings share one stock of names."""
        read, report = self.read, self.reader.report
        names = ((name, read.key("wirings", name).place) for name in begun)
        refuse_look_alikes(names, "wirings", report)
        _refuse_alike(read, "readings", self.reader)
        owner = dict.fromkeys(read.points, "a point")
        all_names = [(name, read.key("points", name)) for name in owner]
        rows = [(read, top), *((one.read, one.parts) for one in begun.values())]
        for holder, parts in rows:
            own = [(name, holder.key("parts", name)) for name in parts]
            for name, at in own:
                if name in owner:
                    message = f"{shown(name)} is {owner[name]} already"
                    self.reader.fault(at, message, "choose another name")
            if holder is read:
                owner = dict.fromkeys(top, "a part that stays in every wiring") | owner
            all_names += own
        refuse_look_alikes(((name, at.place) for name, at in all_names), "names", report)

    def _notice_unreached(self, top: Parts, wirings: Mapping[str, Wiring]) -> None:
        """Note the points that no wire, net or part reaches in any wiring: one may be forgotten."""
        reached = {end for part in top.values() for end in part.between or ()}
        for wiring in wirings.values():
            reached.update(end for wire in (*wiring.wires, *wiring.cut_wires) for end in wire.ends)
            reached.update(member for net in wiring.nets for member in net.members)
            reached.update(end for part in wiring.parts.values() for end in part.between or ())
        points = self.read.points.items()
        lost = [name for name, one in points if name not in reached and not one.chassis]
        if lost and any(wiring.wires or wiring.nets for wiring in wirings.values()):
            said = f"no wire or part of any wiring reaches {listed(lost)}: is one forgotten?"
            self.reader.report.notice(self.read.key("points", lost[0]).place, said)


def _names_in(read: Read, key: str) -> Iterable[str]:
    """The names of the user's choice in a mapping, of malformed things too."""
    node = read.entries.get(key)
    return node.entries if isinstance(node, MappingNode) else ()


def _parts(read: Read, reader: Reader) -> Parts:
    """All parts of one list; their lugs are left in ``reader.lugs``."""
    node, reader.lugs = read.entries.get("parts"), {}
    reader.lugs = dict.fromkeys(_names_in(read, "parts"))
    parts = BAD if node is None else take(PARTS, node, At("parts"), reader)
    return {} if parts is BAD else parts


def _meters_in(read: Read) -> Iterator[str]:
    """The meters of a list of parts, malformed ones too."""
    for name in _names_in(read, "parts"):
        part = read.near("parts", name)
        if isinstance(part, MappingNode) and _METERS & part.entries.keys():
            yield name


def _unknown_in(read: Read) -> tuple[str, ...]:
    """Parts of a list whose kind cannot be read: any may be the meter."""
    parts = ((name, read.near("parts", name)) for name in _names_in(read, "parts"))
    return tuple(name for name, one in parts if not KINDS.keys() & getattr(one, "entries", {}))


def _refuse_alike(read: Read, key: str, reader: Reader) -> None:
    places = ((name, read.key(key, name).place) for name in read.values[key])
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
            reader.report.notice(one.place, f"{said}: write {number} ohm, or {like}")
        elif alone and float(number):
            said = f"{shown(one.text)} is read as ohms; all others have a unit or a prefix"
            out = f"{said}: write {number} ohm, or the prefix that is missing"
            reader.report.notice(one.place, out)


def _check_fits(
    lists: Listed[tuple[Mapping[str, Part], Read]], wiring: Wiring, reader: Reader
) -> None:
    """Whether each value left open names a reading, and one that no other value names."""
    first: dict[str, str] = {}
    written = {name for _, read in lists for name in _names_in(read, "readings")}
    for parts, read in lists:
        for name, part in parts.items():
            reading, at = part.fit_for, read.near("parts", name, "for")
            if reading is None:
                continue
            if reading not in written:
                near = Nearest(reading, wiring.readings)
                reader.fault(at, f"for: no reading {shown(reading)}", near)
            elif first.setdefault(reading, name) != name:
                message = f"{shown(first[reading])} is fitted for {shown(reading)} already"
                reader.fault(at, message, "one value can be fitted for one reading")


def _finish(begun: _Begun, reader: Reader) -> Wiring:
    """A wiring with everything that names its parts."""
    read, scope, original = begun.read, begun.scope, reader.original
    check_between(begun.parts, read.near("parts"), scope, {}, reader)
    reader.own, reader.ids = scope, {}
    scopes = {
        "changes": original.scope,
        "readings": original.scope.with_parts(scope.said, scope.lugs),
    }
    for key in ("nets", "wires", "changes", "readings", "note", "role"):
        reader.scope = scopes.get(key, scope)
        read.by.read(key, read, reader)
    wires = tuple(_numbered(read.wires, reader))
    wiring: Wiring = read.record(
        parts=_with_roles(begun, reader),
        wires=tuple(wire for wire in wires if CUT not in wire.ends),
        readings={**reader.readings, **read.readings},
        place=read.node.place,
        role=_role(begun, reader),
        cut_wires=tuple(wire for wire in wires if CUT in wire.ends),
    )
    return wiring


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
            said = f"{one.id} connects {one.ends[0]} and {one.ends[1]}, and so does {other.id}"
            said += f" in line {other.place.line}: is one too many?"
            reader.report.notice(one.place, said)
        yield one


def _free(letter: str, taken: set[str]) -> Iterator[str]:
    return (name for n in count(1) if (name := f"{letter}{n}") not in taken)


def _check_never(read: Read, reader: Reader) -> None:
    """Refuse a ``never`` that rules out every state; note each position that it rules out."""
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
                message = f"never: {name} can never be at {position}, whatever else is set"
                place = read.key("never").place
                reader.report.notice(place, f"{message}: that position is not compared")


def _can_be(
    fixed: dict[str, str], never: Listed[Mapping[str, str]], named: Mapping[str, tuple[str, ...]]
) -> bool:
    """Whether some state with these positions is not ruled out.

    What is not found among the first ``_MOST_TRIALS`` counts as possible: the comparison has limits
    of its own.
    """
    asked = {name: (fixed[name],) if name in fixed else at for name, at in named.items()}
    states = (dict(zip(asked, positions, strict=True)) for positions in product(*asked.values()))
    tried = islice(states, _MOST_TRIALS)
    ruled_out = all(any(one.items() <= at.items() for one in never) for at in tried)
    return not ruled_out or next(states, None) is not None
