"""Side by side: the original and another wiring in one arrangement, what differs marked."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rewire.bench.wire_plan import WirePlan
from rewire.circuit.circuit import circuit_of
from rewire.compare.findings import INFORMATION, Finding, when
from rewire.draw.counterparts import (
    End,
    Half,
    PoleColumn,
    SwitchPair,
    halves_of,
    rows_of,
    unlike_ends,
)  # fmt: skip
from rewire.draw.labels import Label
from rewire.draw.lugs import (
    POINTS,
    Arrangement,
    Face,
    Grid,
    Jumper,
    Soldered,
    arrange,
    faces_of,
    soldered_to,
)  # fmt: skip
from rewire.draw.lugview import Note, SeenFrom, head, panels_of
from rewire.draw.rows import cells_of, plan_rows
from rewire.draw.scene import (
    FOOT,
    MARGIN,
    PAPER,
    Panel,
    Paper,
    Scene,
    line_mm,
    middle_baseline,
    shortened,
    text_at,
    visible,
    width_mm,
)
from rewire.draw.sheets import stacked
from rewire.draw.wafers import Sheet, plan_arcs, tracks_of

DIFFERS, LOST = "▲", "✕"
_GUTTER = 8.0
"""Between the two wirings where they stand side by side, mm."""
_TITLE = 8.5
_MOST_CASES, _MOST_FAULTS = 3, 6


def beside_view(
    pair: SwitchPair, plan: WirePlan, findings: Sequence[Finding], *,
    seen_from: SeenFrom = "behind", paper: Paper = "a4",
) -> tuple[Scene, ...]:  # fmt: skip
    """Sheets with the original and another wiring of the same switches, differences marked.

    Args:
        pair: one of those of ``switch_pairs``.
        plan: what becomes of the original's wires in the other wiring.
        findings: of the comparison of that wiring with the original.
        seen_from: the side from which switches that are alike are seen.
        paper: the sheets' size.
    """
    halves = halves_of(pair)
    lost = _lost(pair, findings)
    drawings = _of_one_size(_drawings(pair, halves, plan, lost, seen_from))
    title = f"{pair.name}: original and {pair.wiring.name}, side by side"
    told = [*(_told(n, f) for n, f in enumerate(lost, 1)), *_others(pair, findings)]
    notes = list(_notes(pair, halves, drawings, told, seen_from))
    width = PAPER[paper][0] - 2 * MARGIN
    texts, top = head(title, notes, width)
    sheet = Sheet(width, PAPER[paper][1] - 2 * MARGIN - FOOT - top, seen_from)
    first, *further = _abreast(drawings, sheet)
    headed = Panel((*texts, *first.moved(0.0, top).items), width, top + first.height)
    return stacked([headed, *further], paper, title)


# What is lost -------------------------------------------------------------------------------


def _lost(pair: SwitchPair, findings: Sequence[Finding]) -> list[Finding]:
    """Dropped connections that ran over a lug of these switches; they are numbered from 1."""
    own = {s.name for s in pair.before}
    dropped = [f for f in findings if f.kind == "dropped" and not f.meant]
    return [f for f in dropped if any(place.partition(".")[0] in own for place in f.was)]


def _told(number: int, finding: Finding) -> str:
    now = f" Now {finding.now}." if finding.now else ""
    said = when(finding, _MOST_CASES)
    return f"{LOST}{number} lost {said}: {' – '.join(finding.was)}.{now}"


def _others(pair: SwitchPair, findings: Sequence[Finding]) -> Iterator[str]:
    """Other faults that these switches have a part in, a sentence each."""
    switches = (*pair.before, *pair.after)
    own, controls = {s.name for s in switches}, {s.control for s in switches}
    for finding in findings:
        if finding.meant or finding.kind in INFORMATION or finding.kind == "dropped":
            continue
        moved = {n for s in finding.steps for n, _ in {*s.before.at} ^ {*s.after.at}} & controls
        told = {name.partition(".")[0] for name in (*finding.was, *(finding.part or "",))}
        if moved or told & own or any(f"{name}." in (finding.now or "") for name in own):
            yield f"{LOST} {finding.message} ({when(finding, _MOST_CASES)})"


def _ends_now(half: Half, lost: Sequence[Finding]) -> dict[str, int]:
    """Where what was lost now ends: the one or two lugs that a place of it still reaches."""
    ends: dict[str, int] = {}
    nets = circuit_of(half.spec, half.wiring).nets
    seat = {theirs: own for own, theirs in half.names.items()}
    for number, finding in reversed(list(enumerate(lost, 1))):
        for group in finding.groups:
            reached = {nets.of[seat[anchor]] for anchor in group if anchor in seat}
            lugs = [lug for lug in half.place_of if nets.of[lug] in reached]
            if len(lugs) <= 2:
                ends.update((lug, number) for lug in lugs)
    return ends


# Drawing ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Drawing:
    """One wiring in the words of the lug view; lugs are called ``S1.A in original``."""

    title: str
    arrangement: Arrangement
    faces: Mapping[str, Face]
    soldered: Soldered
    key: tuple[str, ...]
    """What the numbers in lugs stand for."""

    @property
    def shown(self) -> list[str]:
        """All that is written in it."""
        texts = [*(face.shown for face in self.faces.values())]
        texts += [label.text for label in self.soldered.labels]
        return [*texts, *(jumper.said for jumper in self.soldered.jumpers)]


def _drawings(
    pair: SwitchPair, halves: tuple[Half, Half], plan: WirePlan, lost: Sequence[Finding],
    seen_from: SeenFrom,
) -> tuple[Drawing, Drawing]:  # fmt: skip
    marked = unlike_ends(*halves, plan)
    places = {half.place_of[lug] for half, ends in zip(halves, marked, strict=True)
              for lug, _ in ends}  # fmt: skip
    numbered = reversed(list(enumerate(lost, 1)))
    gone = {place: n for n, finding in numbered for place in finding.was if "." in place}
    made = []
    for n, half in enumerate(halves):
        ghosts = [
            there for here, there in zip(half.poles, halves[1 - n].poles, strict=True)
            if here is None and there and not pair.alike
        ]  # fmt: skip
        absent = {lug for pole in ghosts for lug in pole.cells.values()}
        bad = gone if n == 0 else {
            **_ends_now(half, lost), **{lug: gone[lug] for lug in absent if lug in gone}
        }  # fmt: skip
        signs = {lug: f"{DIFFERS} " for lug, at in half.place_of.items() if at in places}
        signs.update((lug, f"{LOST}{number} ") for lug, number in bad.items())
        faces = _faces(half, ghosts, signs)
        keys = {lug: faces[lug].name for lug in half.place_of}
        key = (f"{f.shown} is lug {_said(lug, half)}" for lug, f in faces.items() if "#" in f.shown)
        made.append(Drawing(
            _title(half), _arranged(pair, halves, n, faces, seen_from),
            {face.name: face for face in faces.values()},
            _soldered(half, faces, keys, marked[n]), tuple(key),
        ))  # fmt: skip
    return made[0], made[1]


def _title(half: Half) -> str:
    """``original: S3, 3P3T`` without what the lug view says at length."""
    forms = [", ".join(filter(None, (s.name, s.value))) for s in half.switches]
    return f"{half.wiring.name}: {'; '.join(forms) or 'no switch here'}"


def _said(lug: str, half: Half) -> str:
    return lug if len(half.switches) > 1 else lug.partition(".")[2]


def _ghost(lug: str) -> str:
    """What a lug of the other wiring is called where it is shown as absent."""
    return f"{lug} elsewhere"


def _faces(half: Half, ghosts: Sequence[PoleColumn], signs: Mapping[str, str]) -> dict[str, Face]:
    """A face for each lug, and a dashed one for each of a pole that only the other has."""
    said = {lug: _said(lug, half) for lug in half.place_of}
    columns = {said[lug]: column for lug, (column, _) in half.place_of.items()}
    commons = {_said(s.terminal(pole[0]), half) for s in half.switches for pole in s.poles}
    own = faces_of(said.values(), columns, commons)
    where = f"in {half.wiring.name}"
    faces = {
        lug: _signed(replace(face, name=f"{lug} {where}"), signs.get(lug, ""))
        for lug, face in zip(said, own, strict=True)
    }
    for lug in (lug for pole in ghosts for lug in pole.cells.values()):
        (face,) = faces_of([lug.partition(".")[2]], {lug.partition(".")[2]: 0}, set())
        face = replace(face, name=f"{lug} not {where}", ghost=True)
        faces[_ghost(lug)] = _signed(face, signs[lug] if LOST in signs.get(lug, "") else "")
    return faces


def _signed(face: Face, sign: str) -> Face:
    extra = width_mm(sign, POINTS, face.common)
    return replace(face, shown=sign + face.shown, width=face.width + extra)


def _arranged(
    pair: SwitchPair, halves: tuple[Half, Half], n: int, faces: Mapping[str, Face],
    seen_from: SeenFrom,
) -> Arrangement:  # fmt: skip
    """Where the lugs lie; of switches that are not alike, pole by pole."""
    half, other = halves[n], halves[1 - n]
    if not pair.alike:
        columns = [
            {row: faces[lug].name for row, lug in here.cells.items()} if here
            else {row: faces[_ghost(lug)].name for row, lug in there.cells.items()} if there
            else {}
            for here, there in zip(half.poles, other.poles, strict=True)
        ]  # fmt: skip
        return Grid(tuple(tuple(column.get(row) for column in columns) for row in rows_of(halves)))
    (switch,) = half.switches
    found = arrange(switch, mirrored=seen_from == "front")

    def name(lug: str) -> str:
        return faces[switch.terminal(lug)].name

    if isinstance(found, Grid):
        return found.renamed(name)
    return tuple(wafer.renamed(name) for wafer in found)


def _soldered(
    half: Half, faces: Mapping[str, Face], keys: Mapping[str, str], marked: set[End]
) -> Soldered:
    """What is soldered to all the switches of a half, what differs signed and heavy."""
    labels: list[Label] = []
    jumpers: list[Jumper] = []
    where = f" in {half.wiring.name}"
    net_of = {face.name: f"nothing at {face.name}" for face in faces.values()}
    for switch in half.switches:
        soldered = soldered_to(half.spec, half.wiring, switch)
        for label in soldered.labels:
            lug = switch.terminal(label.lug)
            bad = (lug, label.shows) in marked
            text = f"{DIFFERS} {label.text}" if bad else label.text
            labels.append(replace(label, lug=keys[lug], id=label.id + where, text=text, marked=bad))
        for jumper in soldered.jumpers:
            first, second = (switch.terminal(lug) for lug in jumper.ends)
            bad = bool({(first, jumper.shows), (second, jumper.shows)} & marked)
            jumpers.append(replace(
                jumper, id=jumper.id + where, ends=(keys[first], keys[second]), marked=bad,
                said=f"{DIFFERS}{jumper.id}" if bad else jumper.id,
                ends_said=(_said(first, half), _said(second, half)),
            ))  # fmt: skip
        for bare, net in soldered.net_of.items():
            net_of[keys[switch.terminal(bare)]] = net + where
    return Soldered(tuple(labels), tuple(jumpers), net_of)


def _of_one_size(drawings: tuple[Drawing, Drawing]) -> tuple[Drawing, Drawing]:
    """Both with the greater width of each lug and the greater room for jumpers."""
    wide: dict[Hashable, float] = {}
    for drawing in drawings:
        for name, spot in _spots(drawing.arrangement).items():
            wide[spot] = max(wide.get(spot, 0.0), drawing.faces[name].width)
    counts = [max(both) for both in zip(*map(_jumper_room, drawings), strict=True)]
    made = []
    for drawing in drawings:
        spots, shown = _spots(drawing.arrangement), drawing.arrangement
        faces = {n: replace(f, width=wide[spots[n]]) for n, f in drawing.faces.items()}
        if isinstance(shown, Grid):
            shown = replace(shown, lanes=tuple(counts))
        else:
            shown = tuple(replace(w, tracks=n) for w, n in zip(shown, counts, strict=True))
        made.append(replace(drawing, faces=faces, arrangement=shown))
    return made[0], made[1]


def _spots(shown: Arrangement) -> dict[str, Hashable]:
    """Key of a lug → what it shares with its like in the other drawing."""
    if isinstance(shown, Grid):
        return {lug: column for lug, (_, column) in cells_of(shown).items()}
    return {lug: (n, m) for n, wafer in enumerate(shown) for m, lug in enumerate(wafer.lugs)}


def _jumper_room(drawing: Drawing) -> list[int]:
    """Jumpers in each lane between columns, or tracks round each wafer."""
    shown, jumpers = drawing.arrangement, drawing.soldered.jumpers
    if isinstance(shown, Grid):
        used = plan_rows(shown, jumpers).in_lane
        return [used.get(lane, 0) for lane in range(len(shown.rows[0]) + 1)]
    own = ([j for j in jumpers if set(j.ends) <= set(wafer.lugs)] for wafer in shown)
    return [tracks_of(plan_arcs(w, js)[0]) for w, js in zip(shown, own, strict=True)]


def _notes(
    pair: SwitchPair, halves: tuple[Half, Half], drawings: tuple[Drawing, Drawing],
    told: Sequence[str], seen_from: SeenFrom,
) -> Iterator[Note]:  # fmt: skip
    """What is said over the drawings; what is wrong comes last and bold."""
    differ = any(DIFFERS in text for drawing in drawings for text in drawing.shown)
    yield Note(_how_drawn(pair, halves, seen_from), False)
    if differ:
        yield Note(
            f"{DIFFERS} and a heavy line: goes elsewhere in the other drawing, or is not there. "
            f"{DIFFERS} in a lug: what is soldered to it is not the same in both.", False,
        )  # fmt: skip
    if any(None in half.poles for half in halves):
        yield Note("Dashed lugs: a pole that only the other drawing has.", False)
    key = dict.fromkeys(line for drawing in drawings for line in drawing.key)
    if key:
        yield Note(f"Key: {'; '.join(key)}", False)
    if pair.turns_otherwise:
        yield Note(f"NOT the same switch: {pair.turns_otherwise}.", True)
    elif not differ and not told:
        said = "No difference: " if pair.alike else "Another switch; "
        yield Note(f"{said}every wire is on the same lug.", True)
    yield from (Note(one, True) for one in told[:_MOST_FAULTS])
    if len(told) > _MOST_FAULTS:
        yield Note(f"and {len(told) - _MOST_FAULTS} more: rewire check names them", True)


def _how_drawn(pair: SwitchPair, halves: tuple[Half, Half], seen_from: SeenFrom) -> str:
    if pair.alike:
        mirrored = ": mirrored, the lugs are on the far side" if seen_from == "front" else ""
        return f"Seen from {seen_from}{mirrored}."
    positions = pair.spec.controls[(*pair.before, *pair.after)[0].control].positions
    named = {0: "common", **dict(enumerate(positions, 1))}
    rows = [named.get(row, "further lugs") for row in rows_of(halves)]
    return (
        "Drawn pole by pole so that both agree, not as the lugs lie (for that see the lug view). "
        f"Rows from the top: {', '.join(rows)}."
    )


def _abreast(drawings: tuple[Drawing, Drawing], sheet: Sheet) -> list[Panel]:
    """Left and right where both fit so, else one under the other."""
    narrow = replace(sheet, width=(sheet.width - _GUTTER) / 2)
    grids = [d.arrangement for d in drawings if isinstance(d.arrangement, Grid)]
    if len(grids) == 2 and all(len(grid.rows[0]) <= 2 for grid in grids):
        left, right = (_drawn(drawing, narrow) for drawing in drawings)
        if len(left) == len(right) == 1:
            beside = right[0].moved(narrow.width + _GUTTER, 0.0).items
            tall = max(left[0].height, right[0].height)
            return [Panel((*left[0].items, *beside), sheet.width, tall)]
    return [panel for drawing in drawings for panel in _drawn(drawing, sheet)]


def _drawn(drawing: Drawing, sheet: Sheet) -> list[Panel]:
    """A title over the lugs of one wiring."""
    line = line_mm(_TITLE)
    room = replace(sheet, height=sheet.height - line - 2.0)
    panels = panels_of(drawing.arrangement, drawing.faces, drawing.soldered, room)
    made = []
    for number, panel in enumerate(panels, 1):
        part = f" (part {number} of {len(panels)})" if len(panels) > 1 else ""
        title = shortened(visible(f"{drawing.title}{part}"), sheet.width, _TITLE, bold=True)
        text = text_at(title, 0.0, middle_baseline(line / 2, _TITLE), _TITLE, bold=True)
        items = (text, *panel.moved(0.0, line + 2.0).items)
        made.append(Panel(items, sheet.width, panel.height + line + 2.0))
    return made
