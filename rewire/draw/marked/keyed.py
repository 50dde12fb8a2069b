"""The table that the numbers of the picture are keyed to, and what a picture cannot say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rewire.bench.wire_plan import Fate, WireFate, wire_plan
from rewire.draw.marked.flags import name_in, name_of
from rewire.draw.marked.rungs import Rung, Side, same_part
from rewire.draw.marked.section import Section
from rewire.draw.tabled import Cell, Piece, Table
from rewire.records.spec import Change, ChangeKind, Part, Pot, Resistor, Spec, Switch, Wiring

_FATES: Mapping[Fate, str] = {
    "moves": "end moved", "comes out": "comes out", "new": "new", "stays": "stays",
}  # fmt: skip
_SAID: Mapping[ChangeKind, str] = {
    "insert": "comes between", "link": "goes across", "drop": "are no longer connected",
    "join": "are now connected",
    "gap": "part for a moment while switching", "bridge": "touch for a moment while switching",
    "interrupt": "are interrupted while switching",
    "stray": "meet for a moment while switching", "remove": "is removed",
    "reverse": "is turned round",
}  # fmt: skip


def tables_of(spec: Spec, wiring: Wiring, section: Section) -> tuple[Table, ...]:
    """In the order in which they are read: changes, lugs, wires, what was meant, the rest."""
    fates = wire_plan(spec, "original", wiring.name).fates
    between = f"original compared with {wiring.name}"
    return (
        _changes(spec, wiring, section, f"What changes: {between}"),
        _declared(wiring, section),
        _lugs(section, f"Lugs, net by net: {between}"),
        _wires([one for one in fates if one.fate != "stays"], "Wires to be touched"),
        _wires([one for one in fates if one.fate == "stays"], "Wires that stay"),
        _aside(section),
    )


def _changes(spec: Spec, wiring: Wiring, section: Section, heading: str) -> Table:
    rungs: dict[int, list[Rung]] = {}
    for rung in (*section.drawn, *section.aside):
        if rung.key in section.numbers:
            rungs.setdefault(section.numbers[rung.key], []).append(rung)
    rows = [*_switches(spec, wiring)]
    rows += [_change(spec, wiring, section, n, rungs[n]) for n in sorted(rungs)]
    return Table(
        heading, ("No.", "was", "is now", "between", "where, why"),
        (9, 40, 40, 46, 55), tuple(rows),
    )  # fmt: skip


def _switches(spec: Spec, wiring: Wiring) -> Iterator[tuple[Cell, ...]]:
    """Switches that are not the same in both wirings; their contacts have numbers of their own."""
    was = {p.name: p for p in spec.parts_of(spec.original).values() if isinstance(p, Switch)}
    now = {p.name: p for p in spec.parts_of(wiring).values() if isinstance(p, Switch)}
    for old, new in _switch_pairs(was, now):
        if old is not None and new is not None and same_part(old, new):
            continue
        notes = dict.fromkeys((*_remarks(old), *_remarks(new)))
        yield (
            (), _switch(old, "removed") if old else (), _switch(new, "new") if new else (),
            _control(new or old), tuple(notes),
        )  # fmt: skip


def _control(switch: Switch | None) -> Cell:
    return () if switch is None else (Piece(f"control {switch.control}"),)


def _switch_pairs(
    was: Mapping[str, Switch], now: Mapping[str, Switch]
) -> Iterator[tuple[Switch | None, Switch | None]]:
    """Those of one name, then those on one control, then each alone."""
    left = {name: switch for name, switch in now.items() if name not in was}
    for name, switch in was.items():
        partner = now.get(name) or next(
            (other for other in left.values() if other.control == switch.control), None
        )
        if partner is not None:
            left.pop(partner.name, None)
        yield switch, partner
    yield from ((None, switch) for switch in left.values())


def _switch(switch: Switch, fate: str) -> Cell:
    form = "" if switch.form == "table" else f" {switch.form}"
    style = f" {switch.style}" if switch.style else ""
    timings = list(dict.fromkeys(s.timing for s in switch.sections))
    timing = f", {timings[0]}" if len(timings) == 1 else "".join(
        f", {s.pole or n} {s.timing}" for n, s in enumerate(switch.sections, 1)
    )  # fmt: skip
    said = f"{switch.name}{form}{style}{timing}"
    return (Piece(said, f"{fate}:part:{switch.name}", fate == "new", fate == "removed"),)


def _change(
    spec: Spec, wiring: Wiring, section: Section, number: int, rungs: Sequence[Rung]
) -> tuple[Cell, ...]:
    was = tuple(
        Piece(_with_positions(r, r.was.text), f"removed:{r.was.shows}", struck=True)
        for r in rungs if r.was
    )  # fmt: skip
    now = tuple(
        Piece(_with_positions(r, r.now.text), f"new:{r.now.shows}", bold=True)
        for r in rungs if r.now
    )  # fmt: skip
    places = tuple(Piece(_between(section, r), f"between:{number}") for r in rungs)
    return (
        (Piece(str(number), f"key:{number}", bold=True),),
        was,
        now,
        places,
        _why(spec, wiring, rungs),
    )


def _with_positions(rung: Rung, text: str) -> str:
    return f"{text} ({rung.below})" if rung.below else text


def _between(section: Section, rung: Rung) -> str:
    """The nets a rung lies between, by their names in its wiring."""
    was = rung.mark == "removed"
    named = [
        name_in(section.rails.rails[end], was=was) if end is not None else "nothing"
        for end in rung.ends
    ]
    word = {"removed": "was: ", "new": "now: "}.get(rung.mark, "") if rung.moved else ""
    return word + " to ".join(named)


def _why(spec: Spec, wiring: Wiring, rungs: Sequence[Rung]) -> Cell:
    """Where the part sits and what the spec says of it."""
    rung = rungs[0]
    if rung.kind == "contact":
        return ()
    if rung.kind == "tie":
        return (Piece("the points did not change, what joins them did"),)
    parts = {**spec.parts_of(spec.original), **spec.parts_of(wiring)}
    moved = (Piece("moved to another place"),) if rung.moved else ()
    return (*moved, *_remarks(parts[rung.side.name]))


def _remarks(part: Part | None) -> Cell:
    if part is None:
        return ()
    said = [part.where, part.note]
    if isinstance(part, Resistor | Pot) and part.fit_for:
        said.append(f"for the reading {part.fit_for}")
    return tuple(Piece(text) for text in said if text)


def _lugs(section: Section, heading: str) -> Table:
    """Per net, what was soldered to it and what is now."""
    rows = tuple(
        (
            (Piece(name_of(rail), f"net:{rail.number}", bold=True),),
            _places(rail.was, rail.now, struck=True),
            _places(rail.now, rail.was, struck=False),
        )
        for rail in section.rails.rails
        if set(rail.was) != set(rail.now)
    )
    return Table(heading, ("net", "was on it", "is on it now"), (40, 75, 75), rows)


def _places(places: Sequence[str], others: Sequence[str], *, struck: bool) -> Cell:
    """What stays plain, what differs struck through or bold."""
    same = [place for place in places if place in others]
    own = [place for place in places if place not in others]
    cell = []
    if same:
        cell.append(Piece(", ".join(same)))
    if own:
        cell.append(Piece(", ".join(own), "lugs", bold=not struck, struck=struck))
    return tuple(cell)


def _wires(fates: Sequence[WireFate], heading: str) -> Table:
    order = list(_FATES)
    rows = tuple(_wire(one) for one in sorted(fates, key=lambda f: order.index(f.fate)))
    head = ("wire", "No.", "colour", "stays on", "was on", "is now on", "note")
    return Table(heading, head, (19, 14, 13, 40, 38, 38, 28), rows)


def _wire(one: WireFate) -> tuple[Cell, ...]:
    wires = [wire for wire in (one.was, one.now) if wire is not None]
    wire, number = wires[-1], " → ".join(dict.fromkeys(wire.id for wire in wires))
    shows = f"{one.fate}:wire:{number}"
    return (
        (Piece(_FATES[one.fate]),),
        (Piece(number, shows, one.fate == "new", one.fate == "comes out"),),
        (Piece(wire.colour),) if wire.colour else (),
        _end(one.stays),
        _end(one.was.ends if one.was and one.fate == "comes out" else one.lifted, struck=True),
        _end(one.now.ends if one.now and one.fate == "new" else one.landed, bold=True),
        (Piece(one.now.note),) if one.now and one.now.note else (),
    )


def _end(places: Sequence[str], *, struck: bool = False, bold: bool = False) -> Cell:
    if not places:
        return ()
    return (Piece(" – ".join(places), "end" if struck or bold else "", bold, struck),)


def _declared(wiring: Wiring, section: Section) -> Table:
    by_part = {
        rung.side.name: section.numbers[rung.key]
        for rung in (*section.drawn, *section.aside) if rung.key in section.numbers
    }  # fmt: skip
    rows = tuple(_meant(change, by_part) for change in wiring.changes)
    return Table(
        "Meant, as the spec declares it", ("No.", "what", "when", "why"), (9, 80, 35, 66), rows
    )


def _meant(change: Change, by_part: Mapping[str, int]) -> tuple[Cell, ...]:
    numbers = [str(by_part[part]) for part in change.parts if part in by_part]
    who = " and ".join(change.parts or change.anchors)
    places = " and ".join(change.anchors) if change.parts else ""
    said = f"{who} {_SAID[change.kind]} {places}".rstrip()
    if not change.reversible:
        said += "; cannot be undone"
    when = "; ".join(f"{name} {', '.join(at)}" for name, at in change.when.items())
    return (
        (Piece(", ".join(numbers), bold=True),) if numbers else (),
        (Piece(said),), (Piece(when),) if when else (), (Piece(change.why),) if change.why else (),
    )  # fmt: skip


def _aside(section: Section) -> Table:
    """What is not in the picture."""
    rows = tuple(
        (
            _side(rung, rung.was, "removed", struck=True),
            _side(rung, rung.now, "kept" if rung.mark == "kept" else "new", struck=False),
            (Piece(_reason(rung)),),
        )
        for rung in section.aside
        if rung.key not in section.numbers
    )
    return Table("Not drawn", ("was", "is now", "why"), (50, 50, 90), rows)


def _side(rung: Rung, side: Side | None, fate: str, *, struck: bool) -> Cell:
    if side is None or (struck and rung.mark == "kept"):
        return ()
    said = _with_positions(rung, side.text)
    return (Piece(said, f"{fate}:aside:{side.shows}", fate == "new", struck),)


def _reason(rung: Rung) -> str:
    if rung.kind != "contact":
        return "nothing is changed beside it"
    return "one of its lugs is spare" if None in rung.ends else "both its lugs are on one net"
