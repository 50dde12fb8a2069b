"""The marked-up view: what of the original stays, what goes, what is new, and its tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rewire.bench.wire_plan import Fate, WireFate, WirePlan
from rewire.circuit.circuit import circuit_of
from rewire.draw.changes import APART, Changes, Rung, Side, changes_of, chosen_of, same_part
from rewire.draw.ladder import ladder_panels
from rewire.draw.metering import not_metering
from rewire.draw.scene import FOOT, MARGIN, PAPER, Panel, Paper, Scene, paragraphs
from rewire.draw.sheets import BETWEEN, Cell, Paragraph, SheetTable, room_below, stacked, tabled
from rewire.records.part import Part
from rewire.records.spec import Change, Spec, Wiring, change_said
from rewire.records.switches import Switch
from rewire.values.answers import WiringValues

_KEY = (
    "Solid: stays. Dashed, grey, struck through: goes. Framed, heavy, numbered: new, see the "
    "table. Only dots join."
)
_FATES: Mapping[Fate, str] = {
    "moves": "end moved", "comes out": "comes out", "new": "new", "stays": "stays",
}  # fmt: skip


def marked_view(
    spec: Spec, wiring: Wiring, plan: WirePlan, paper: Paper = "a4", *,
    values: WiringValues | None = None,
) -> tuple[Scene, ...]:  # fmt: skip
    """Sheets that show what of the original stays, what goes and what is new in a wiring.

    Args:
        spec: with both.
        wiring: to be marked against the original.
        plan: what becomes of the original's wires in that wiring.
        paper: the sheets' size.
        values: what was found for values that the spec leaves open; None prints them as open.
    """
    panels = marked_panels(spec, wiring, plan, paper, values=values)
    return stacked(panels, paper, f"original to {wiring.name}: marked up")


def marked_panels(
    spec: Spec, wiring: Wiring, plan: WirePlan, paper: Paper = "a4", *,
    values: WiringValues | None = None,
) -> tuple[Panel, ...]:  # fmt: skip
    """The same as panels, each of the tables' to stand on a page of its own."""
    width, height = PAPER[paper][0] - 2 * MARGIN, PAPER[paper][1] - 2 * MARGIN - FOOT
    pictures, tables = marked_parts(spec, wiring, plan, paper, values=values)
    used = -BETWEEN
    for panel in pictures:
        used += BETWEEN + panel.height
        if used > height:
            used = panel.height
    return (*pictures, *tabled(tables, width, height, room_below(used, height)))


def marked_parts(
    spec: Spec, wiring: Wiring, plan: WirePlan, paper: Paper = "a4", *,
    values: WiringValues | None = None,
) -> tuple[list[Panel], tuple[SheetTable, ...]]:  # fmt: skip
    """The pictures, and the tables to go under them, for a page that holds other things too."""
    changes = changes_of(spec, wiring, chosen_of(spec, wiring, values))
    return _pictures(spec, wiring, changes, paper), _tables(spec, wiring, plan, changes)


def _pictures(spec: Spec, wiring: Wiring, changes: Changes, paper: Paper) -> list[Panel]:
    width, height = PAPER[paper][0] - 2 * MARGIN, PAPER[paper][1] - 2 * MARGIN - FOOT
    notes = list(_notes(spec, wiring, changes))
    if not changes.drawn:
        return [_head(wiring, "", notes, width)] if changes.aside else []
    room = height - _head(wiring, " (part 99 of 99)", notes, width).height
    ladders = ladder_panels(changes, width, room)
    if len(ladders) == 1:
        notes[0] = (_KEY, False)
    panels = []
    for number, ladder in enumerate(ladders, 1):
        part = f" (part {number} of {len(ladders)})" if len(ladders) > 1 else ""
        head = _head(wiring, part, notes if number == 1 else [], width)
        items = (*head.items, *ladder.moved(0.0, head.height).items)
        panels.append(Panel(items, width, head.height + ladder.height))
    return panels


def _head(wiring: Wiring, part: str, notes: Sequence[tuple[str, bool]], width: float) -> Panel:
    title = (f"Marked up: original to {wiring.name}{part}", 11.0, True)
    texts, height = paragraphs([title, *((said, 7.5, bold) for said, bold in notes)], width)
    return Panel(tuple(texts), width, height + 3.0)


def _notes(spec: Spec, wiring: Wiring, changes: Changes) -> Iterator[tuple[str, bool]]:
    """What is said over the first picture; bold where somebody would miss it at a cost."""
    if not changes.drawn:
        yield "Nothing is changed.", True
        return
    yield f"{_KEY} …: the net goes on in another part.", False
    begins = next((w.name for w in spec.others if w.role == "found"), "original")
    if begins not in ("original", wiring.name):
        yield (
            f"This compares the maker's wiring with {wiring.name}. The work does not begin there "
            f"but from {begins}: go by the list of moves from {begins} to {wiring.name}.",
            True,
        )
    said = [
        f"{APART} {switch.name}: {note}"
        for switch in circuit_of(spec, spec.original).switches
        for note in not_metering(spec, spec.original, switch)
    ]
    if not said and any(APART in rung.below for rung in changes.drawn):
        said = [f"{APART} This contact is not for the meter: do not omit it."]
    yield from ((note, True) for note in said)


# Tables -------------------------------------------------------------------------------------


def _tables(spec: Spec, wiring: Wiring, plan: WirePlan, changes: Changes) -> tuple[SheetTable, ...]:
    """In the order in which they are read: changes, lugs, wires, what was meant, the rest."""
    between = f"original compared with {wiring.name}"
    shown = [rung for rung in (*changes.drawn, *changes.aside) if rung.key in changes.numbers]
    numbered: dict[int, list[Rung]] = {}
    for rung in shown:
        numbered.setdefault(changes.numbers[rung.key], []).append(rung)
    rows = [*_switches(spec, wiring)]
    rows += [_change(spec, wiring, changes, n, numbered[n]) for n in sorted(numbered)]
    by_part = {rung.side.name: changes.numbers[rung.key] for rung in shown}
    return (
        SheetTable(f"What changes: {between}", ("No.", "was", "is now", "between", "where, why"),
              (9, 40, 40, 46, 55), tuple(rows)),
        SheetTable("Meant, as the spec declares it", ("No.", "what", "when", "why"),
              (9, 80, 35, 66),
              tuple(_meant(change, by_part) for change in wiring.changes)),
        SheetTable(f"Lugs, net by net: {between}", ("net", "was on it", "is on it now"),
              (40, 75, 75),
              tuple(_lugs(changes))),
        _wires("Wires to be touched", [f for f in plan.fates if f.fate != "stays"]),
        _wires("Wires that stay", [f for f in plan.fates if f.fate == "stays"]),
        SheetTable("Not drawn", ("was", "is now", "why"), (50, 50, 90), tuple(_aside(changes))),
    )  # fmt: skip


def _switches(spec: Spec, wiring: Wiring) -> Iterator[tuple[Cell, ...]]:
    """Switches that are not the same in both: of one name, else on one control, else alone.

    Their contacts have numbers of their own.
    """
    was = spec.all_of(Switch, spec.original)
    left = dict(spec.all_of(Switch, wiring))
    pairs: list[tuple[Switch | None, Switch | None]] = []
    for name, switch in was.items():
        others = (s for s in left.values() if s.control == switch.control and s.name not in was)
        heir = left.get(name) or next(others, None)
        left.pop(heir.name if heir else "", None)
        pairs.append((switch, heir))
    pairs += [(None, switch) for switch in left.values()]
    for old, new in pairs:
        if old and new and same_part(old, new):
            continue
        either = [switch for switch in (new, old) if switch]
        notes = dict.fromkeys(note for switch in reversed(either) for note in _remarks(switch))
        control = Paragraph(f"control {either[0].control}")
        yield (), _switch(old, "removed"), _switch(new, "new"), (control,), tuple(notes)


def _switch(switch: Switch | None, fate: str) -> Cell:
    if switch is None:
        return ()
    timings = {str(s.timing): None for s in switch.sections}
    if len(timings) > 1:
        timings = {f"{s.pole or n} {s.timing}": None for n, s in enumerate(switch.sections, 1)}
    what = " ".join(filter(None, (switch.name, switch.value, switch.style)))
    said = ", ".join([what, *timings])
    return (Paragraph(said, f"{fate}:part:{switch.name}", fate == "new", fate == "removed"),)


def _change(
    spec: Spec, wiring: Wiring, changes: Changes, number: int, rungs: Sequence[Rung]
) -> tuple[Cell, ...]:
    return (
        (Paragraph(str(number), f"key:{number}", bold=True),),
        tuple(_piece(rung, rung.was, "removed:") for rung in rungs if rung.was),
        tuple(_piece(rung, rung.now, "new:") for rung in rungs if rung.now),
        tuple(Paragraph(_between(changes, rung), f"between:{number}") for rung in rungs),
        _why(spec, wiring, rungs[0]),
    )


def _piece(rung: Rung, side: Side, fate: str) -> Paragraph:
    said = f"{side.text} ({rung.below})" if rung.below else side.text
    return Paragraph(
        said, f"{fate}{side.shows}", fate.startswith("new"), fate.startswith("removed")
    )


def _between(changes: Changes, rung: Rung) -> str:
    """The nets a rung lies between, by their names in its wiring."""
    rails = [None if end is None else changes.rails[end] for end in rung.ends]
    named = [
        rail.name_in(rail.was if rung.mark == "removed" else rail.now) if rail else "nothing"
        for rail in rails
    ]
    word = {"removed": "was: ", "new": "now: "}.get(rung.mark, "") if rung.moved else ""
    return word + " to ".join(named)


def _why(spec: Spec, wiring: Wiring, rung: Rung) -> Cell:
    """Where the part sits and what the spec says of it."""
    if rung.kind == "contact":
        return ()
    if rung.kind == "tie":
        return (Paragraph("the points did not change, what joins them did"),)
    moved = (Paragraph("moved to another place"),) if rung.moved else ()
    parts = {**spec.parts_of(spec.original), **spec.parts_of(wiring)}
    return (*moved, *_remarks(parts[rung.side.name]))


def _remarks(part: Part) -> Iterator[Paragraph]:
    fitted = f"for the reading {part.fit_for}" if part.fit_for else None
    return (Paragraph(text) for text in (part.where, part.note, fitted) if text)


def _lugs(changes: Changes) -> Iterator[tuple[Cell, ...]]:
    """Per net, what was soldered to it and what is now: what differs struck through or bold."""
    for rail in changes.rails:
        was, now = set(rail.was), set(rail.now)
        if was == now:
            continue
        same = [Paragraph(", ".join(place for place in rail.was if place in now))]
        gone = [Paragraph(", ".join(p for p in rail.was if p not in now), "lugs", struck=True)]
        new = [Paragraph(", ".join(p for p in rail.now if p not in was), "lugs", bold=True)]
        cells = [tuple(p for p in (*same, *own) if p.text) for own in (gone, new)]
        yield (Paragraph(rail.name, f"net:{rail.number}", bold=True),), *cells


def _wires(heading: str, fates: Sequence[WireFate]) -> SheetTable:
    order = list(_FATES)
    rows = tuple(_wire(one) for one in sorted(fates, key=lambda f: order.index(f.fate)))
    head = ("wire", "No.", "colour", "stays on", "was on", "is now on", "note")
    return SheetTable(heading, head, (19, 14, 13, 40, 38, 38, 28), rows)


def _wire(one: WireFate) -> tuple[Cell, ...]:
    wires = [wire for wire in (one.was, one.now) if wire is not None]
    number = " → ".join(dict.fromkeys(wire.id for wire in wires))
    lifted = one.was.ends if one.was and one.fate == "comes out" else one.lifted
    landed = one.now.ends if one.now and one.fate == "new" else one.landed
    shows = f"{one.fate}:wire:{number}"
    return tuple(
        (piece,) if piece.text else ()
        for piece in (
            Paragraph(_FATES[one.fate]),
            Paragraph(number, shows, one.fate == "new", one.fate == "comes out"),
            Paragraph(wires[-1].colour or ""),
            Paragraph(" – ".join(one.stays)),
            Paragraph(" – ".join(lifted), "end", struck=True),
            Paragraph(" – ".join(landed), "end", bold=True),
            Paragraph((one.now.note if one.now else None) or ""),
        )
    )


def _meant(change: Change, by_part: Mapping[str, int]) -> tuple[Cell, ...]:
    numbers = ", ".join(str(by_part[part]) for part in change.parts if part in by_part)
    said = change_said(change.kind, (*change.parts, *change.anchors))
    when = "; ".join(f"{name} {', '.join(at)}" for name, at in change.when.items())
    pieces = (
        Paragraph(numbers, bold=True),
        Paragraph(said if change.reversible else f"{said}; cannot be undone"),
        Paragraph(when),
        Paragraph(change.why or ""),
    )
    return tuple((piece,) if piece.text else () for piece in pieces)


def _aside(changes: Changes) -> Iterator[tuple[Cell, ...]]:
    """What is not in the picture."""
    for rung in changes.aside:
        if rung.key in changes.numbers:
            continue
        kept = rung.mark == "kept"
        reason = "nothing is changed beside it"
        if rung.kind == "contact":
            spare = None in rung.ends
            reason = "one of its lugs is spare" if spare else "both its lugs are on one net"
        yield (
            (_piece(rung, rung.was, "removed:aside:"),) if rung.was and not kept else (),
            (_piece(rung, rung.now, "kept:aside:" if kept else "new:aside:"),) if rung.now else (),
            (Paragraph(reason),),
        )
