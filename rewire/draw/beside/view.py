"""The original and another wiring on one sheet, in one arrangement and at one scale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rewire.circuit.circuit import circuit_of
from rewire.compare.findings import INFORMATION, Finding
from rewire.compare.when import when
from rewire.draw.beside.differences import Side, anchors_of, differences, names_in
from rewire.draw.beside.poles import Columns, Pole, columns_for, places_of, poles_of
from rewire.draw.beside.same_size import of_one_size
from rewire.draw.beside.side import DIFFERS, LOST, Half, Look, elsewhere, half_of
from rewire.draw.lugview.lugs import LONGEST, Arrangement, Grid, arrange, soldered_to
from rewire.draw.lugview.view import Note, SeenFrom, head, panels_of
from rewire.draw.lugview.wafers import Sheet
from rewire.draw.measure import descent_mm, line_mm, shortened, text_at, visible
from rewire.draw.scene import FOOT, MARGIN, PAPER, Panel, Paper, Scene
from rewire.draw.sheets import stacked
from rewire.records.lug_positions import style_of
from rewire.records.spec import Spec, Switch, Wiring

_GUTTER = 8.0
"""Between the two wirings where they stand side by side, mm."""
_TITLE = 8.5
_MOST_CASES = 3
_MOST_FAULTS = 6


@dataclass(frozen=True, slots=True)
class Pair:
    """Switches of the original and of another wiring that stand beside each other."""

    name: str
    """The control that moves them, or the switch where it is the same in both."""
    before: tuple[Switch, ...]
    after: tuple[Switch, ...]
    alike: bool
    """Lugs and contacts are the same in both: they are drawn where they lie."""

    @property
    def turns_otherwise(self) -> str | None:
        """How the other switch differs though its lugs are the same; None if it does not."""
        if not self.alike:
            return None
        one, other = self.before[0], self.after[0]
        said = [f"{style_of(one)} before, {style_of(other)} now"]
        said = said if style_of(one) != style_of(other) else []
        for mine, theirs in zip(one.sections, other.sections, strict=True):
            if mine.timing != theirs.timing:
                name = f"pole {mine.pole}" if mine.pole else "–".join(mine.lugs)
                said.append(f"{name} {_TIMED[mine.timing]} before, {_TIMED[theirs.timing]} now")
        return "; ".join(said) or None


_TIMED = {
    "shorting": "makes before it breaks",
    "non-shorting": "breaks before it makes",
    "unknown": "has no known timing",
}


def pairs_of(spec: Spec, wiring: Wiring) -> Iterator[Pair]:
    """A pair for each switch that stays, and one per control for those that do not."""
    old, new = _switches(spec, spec.original), _switches(spec, wiring)
    alike = [name for name in old if name in new and _same(old[name], new[name])]
    for name in alike:
        yield Pair(name, (old[name],), (new[name],), True)
    for control in spec.controls:
        before, after = (
            tuple(s for s in group.values() if s.control == control and s.name not in alike)
            for group in (old, new)
        )
        if before or after:
            yield Pair(control, before, after, False)


def _switches(spec: Spec, wiring: Wiring) -> dict[str, Switch]:
    parts = spec.parts_of(wiring).items()
    return {name: part for name, part in parts if isinstance(part, Switch)}


def _same(one: Switch, other: Switch) -> bool:
    return (
        one.control == other.control
        and [s.lugs for s in one.sections] == [s.lugs for s in other.sections]
        and [s.groups for s in one.sections] == [s.groups for s in other.sections]
        and arrange(one) == arrange(other)
    )


@dataclass(frozen=True, slots=True)
class _Lost:
    """A connection of the original that the other wiring does not have, by its number."""

    number: int
    finding: Finding
    said: str


def beside_view(
    spec: Spec,
    wiring: Wiring,
    pair: Pair,
    findings: Sequence[Finding],
    *,
    seen_from: SeenFrom = "behind",
    paper: Paper = "a4",
) -> tuple[Scene, ...]:
    """Sheets with the original and another wiring of the same switches, differences marked.

    ``findings`` are those of the comparison of that wiring with the original.
    """
    columns = _columns(spec, wiring, pair)
    sides = _sides(spec, wiring, pair, columns)
    lost = list(_lost(pair, findings))
    halves = _halves(pair, columns, sides, lost, seen_from)
    width = PAPER[paper][0] - 2 * MARGIN
    title = f"{pair.name}: original and {wiring.name}, side by side"
    notes = _notes(spec, pair, columns, halves, lost, list(_others(pair, findings)), seen_from)
    texts, top = head(title, notes, width)
    height = PAPER[paper][1] - 2 * MARGIN - FOOT - top
    first, *further = _abreast(halves, width, height, seen_from)
    headed = Panel((*texts, *first.moved(0.0, top).items), width, top + first.height)
    return stacked([headed, *further], paper, title)


def _columns(spec: Spec, wiring: Wiring, pair: Pair) -> Columns:
    before = [pole for switch in pair.before for pole in poles_of(switch)]
    after = [pole for switch in pair.after for pole in poles_of(switch)]
    if pair.alike:
        return Columns(tuple(before), tuple(after))
    old, new = (
        {lug: anchors for switch in switches
         for lug, anchors in anchors_of(spec, one, switch, names_in(spec, one)).items()}
        for one, switches in ((spec.original, pair.before), (wiring, pair.after))
    )  # fmt: skip
    return columns_for(before, after, old, new)


def _sides(spec: Spec, wiring: Wiring, pair: Pair, columns: Columns) -> tuple[Side, Side]:
    made = []
    for one, switches, poles in (
        (spec.original, pair.before, columns.before), (wiring, pair.after, columns.after)
    ):  # fmt: skip
        landed = {s.name: soldered_to(spec, one, s) for s in switches}
        names = names_in(spec, one)
        made.append(Side(spec, one, switches, landed, places_of(poles), names))
    return made[0], made[1]


def _lost(pair: Pair, findings: Sequence[Finding]) -> Iterator[_Lost]:
    """Dropped connections that ran over a lug of these switches, numbered from 1."""
    own = {s.name for s in pair.before}
    number = 0
    for finding in findings:
        on_the_way = any(place.partition(".")[0] in own for place in finding.was)
        if finding.kind == "dropped" and not finding.meant and on_the_way:
            number += 1
            yield _Lost(number, finding, when(finding, _MOST_CASES))


def _others(pair: Pair, findings: Sequence[Finding]) -> Iterator[str]:
    """Other faults that these switches have a part in, a sentence each."""
    own = {s.name for s in (*pair.before, *pair.after)}
    controls = {s.control for s in (*pair.before, *pair.after)}
    for finding in findings:
        if finding.meant or finding.kind in INFORMATION or finding.kind == "dropped":
            continue
        moved = {n for s in finding.steps for n, _ in {*s.before.at} ^ {*s.after.at}} & controls
        told = {name.partition(".")[0] for name in (*finding.was, *(finding.part or "",))}
        said = finding.now or ""
        if moved or told & own or any(f"{name}." in said for name in own):
            yield f"{LOST} {finding.message} ({when(finding, _MOST_CASES)})"


def _halves(
    pair: Pair,
    columns: Columns,
    sides: tuple[Side, Side],
    lost: Sequence[_Lost],
    seen_from: SeenFrom,
) -> tuple[Half, Half]:
    marks = differences(*sides)
    ways: dict[str, int] = {}
    for one in reversed(lost):
        ways.update((place, one.number) for place in one.finding.was if "." in place)
    ends = _ends(sides[1], lost)
    made = []
    for side, mark, own, other, signs in (
        (sides[0], marks[0], columns.before, columns.after, ways),
        (sides[1], marks[1], columns.after, columns.before, {**ends}),
    ):
        ghosts = [] if pair.alike else [
            there for here, there in zip(own, other, strict=True) if here is None and there
        ]  # fmt: skip
        absent = {lug for pole in ghosts for lug in pole.cells.values()}
        shown = {**signs, **{lug: n for lug, n in ways.items() if lug in absent}}
        look = Look(mark, shown, LONGEST)
        by_column = {lug: place[0] for lug, place in side.place_of.items()}
        made.append(half_of(side, _arranged(pair, side, columns, own, seen_from),
                            by_column, ghosts, look))  # fmt: skip
    return of_one_size(made[0], made[1])


def _ends(side: Side, lost: Sequence[_Lost]) -> dict[str, int]:
    """Where what was lost now ends: the one or two lugs that a place of it still reaches."""
    ends: dict[str, int] = {}
    nets = circuit_of(side.spec, side.wiring).nets
    seat = {theirs: own for own, theirs in side.names.items()}
    for one in reversed(lost):
        for group in one.finding.groups:
            reached = {nets.of[seat[anchor]] for anchor in group if anchor in seat}
            lugs = [lug for lug in side.place_of if nets.of[lug] in reached]
            if len(lugs) <= 2:
                ends.update((lug, one.number) for lug in lugs)
    return ends


def _arranged(
    pair: Pair, side: Side, columns: Columns, own: Sequence[Pole | None], seen_from: SeenFrom
) -> Arrangement:
    if not pair.alike:
        other = columns.after if own is columns.before else columns.before
        cells = [
            here.cells if here else _cells_elsewhere(there)
            for here, there in zip(own, other, strict=True)
        ]
        return Grid(tuple(tuple(column.get(row) for column in cells) for row in columns.rows))
    (switch,) = side.switches
    found = arrange(switch)
    if isinstance(found, Grid):
        shown = found if seen_from == "behind" else found.mirrored()
        return shown.renamed(switch.terminal)
    wafers = found if seen_from == "behind" else tuple(wafer.mirrored() for wafer in found)
    return tuple(wafer.renamed(switch.terminal) for wafer in wafers)


def _cells_elsewhere(pole: Pole | None) -> dict[int, str]:
    return {row: elsewhere(lug) for row, lug in pole.cells.items()} if pole else {}


def _notes(
    spec: Spec,
    pair: Pair,
    columns: Columns,
    halves: tuple[Half, Half],
    lost: Sequence[_Lost],
    turning: Sequence[str],
    seen_from: SeenFrom,
) -> list[Note]:
    notes = [_how_drawn(spec, pair, columns, seen_from)]
    shown = [text for half in halves for text in _shown(half)]
    if any(DIFFERS in text for text in shown):
        notes.append(
            f"{DIFFERS} and a heavy line: lands elsewhere in the other drawing, or not at all. "
            f"{DIFFERS} in a lug: what lands on it is not the same in both."
        )
    if any(None in poles for poles in (columns.before, columns.after)):
        notes.append("Dashed lugs: a pole that only the other drawing has.")
    key = [line for half in halves for line in half.key]
    if key:
        notes.append(f"Key: {'; '.join(dict.fromkeys(key))}")
    made = [Note(note, False) for note in notes]
    told = [*(_told(one) for one in lost), *turning]
    bad = [Note(one, True) for one in told[:_MOST_FAULTS]]
    if len(told) > _MOST_FAULTS:
        bad.append(Note(f"and {len(told) - _MOST_FAULTS} more: rewire check names them", True))
    if pair.turns_otherwise:
        made.append(Note(f"NOT the same switch: {pair.turns_otherwise}.", True))
    elif not any(DIFFERS in text for text in shown) and not bad:
        said = "No difference: " if pair.alike else "Another switch; "
        made.append(Note(f"{said}every wire lands on the same lug.", True))
    return [*made, *bad]


def _shown(half: Half) -> Iterator[str]:
    yield from (face.shown for face in half.faces.values())
    yield from (label.text for label in half.landed.labels)
    yield from (jumper.said for jumper in half.landed.jumpers)


def _told(one: _Lost) -> str:
    finding = one.finding
    now = f" Now {finding.now}." if finding.now else ""
    return f"{LOST}{one.number} lost {one.said}: {' – '.join(finding.was)}.{now}"


def _how_drawn(spec: Spec, pair: Pair, columns: Columns, seen_from: SeenFrom) -> str:
    if pair.alike:
        mirrored = ": mirrored, the lugs are on the far side" if seen_from == "front" else ""
        return f"Seen from {seen_from}{mirrored}."
    switch = (*pair.before, *pair.after)[0]
    positions = spec.controls[switch.control].positions
    rows = [_row_name(row, positions) for row in columns.rows]
    return (
        "Drawn pole by pole so that both agree, not as the lugs lie (for that see the lug view). "
        f"Rows from the top: {', '.join(rows)}."
    )


def _row_name(row: int, positions: Sequence[str]) -> str:
    if row == 0:
        return "common"
    return positions[row - 1] if row <= len(positions) else "further lugs"


def _abreast(
    halves: tuple[Half, Half], width: float, height: float, seen_from: SeenFrom
) -> list[Panel]:
    """Left and right where both fit so, else one under the other."""
    narrow = (width - _GUTTER) / 2
    if all(isinstance(half.arrangement, Grid) and _few(half.arrangement) for half in halves):
        left, right = (_drawn(half, narrow, height, seen_from) for half in halves)
        if len(left) == len(right) == 1:
            beside = right[0].moved(narrow + _GUTTER, 0.0).items
            tall = max(left[0].height, right[0].height)
            return [Panel((*left[0].items, *beside), width, tall)]
    first, second = (_drawn(half, width, height, seen_from) for half in halves)
    return [*first, *second]


def _few(grid: Grid) -> bool:
    return len(grid.rows[0]) <= 2


def _drawn(half: Half, width: float, height: float, seen_from: SeenFrom) -> list[Panel]:
    """A title over the lugs of one wiring."""
    room = line_mm(_TITLE) + 2.0
    sheet = Sheet(width, height - room, seen_from)
    panels = panels_of(half.arrangement, half.faces, half.landed, sheet)
    made = []
    for number, panel in enumerate(panels, 1):
        part = f" (part {number} of {len(panels)})" if len(panels) > 1 else ""
        title = shortened(visible(f"{half.title}{part}"), width, _TITLE, bold=True)
        text = text_at(title, 0.0, line_mm(_TITLE) - descent_mm(_TITLE), _TITLE, bold=True)
        made.append(Panel((text, *panel.moved(0.0, room).items), width, panel.height + room))
    return made
