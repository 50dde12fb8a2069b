"""The lug view: a switch as seen with the iron in hand.

Nothing is ever shrunk. Where a drawing does not fit a sheet, decks or columns are shared out
first; where even one does not fit, its labels are shared out and its lugs are shown again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rewire.draw.labels import Label
from rewire.draw.lugs import (
    LONGEST,
    NARROW,
    Arrangement,
    Drawing,
    Face,
    Grid,
    Jumper,
    Soldered,
    Wafer,
    arrange,
    faces_of,
    soldered_to,
    wire_named,
)
from rewire.draw.metering import not_metering
from rewire.draw.rows import rows_panel
from rewire.draw.scene import FOOT, MARGIN, PAPER, Panel, Paper, Scene, Text, paragraphs, text_at
from rewire.draw.sheets import gathered, stacked
from rewire.draw.wafers import Sheet, has_room, laned, wafer_panel, with_lanes
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch, lug_positions, pole_letters, style_of
from rewire.values.solved import lug_volts

SeenFrom = Literal["behind", "front"]
_BETWEEN = 4.0
"""From one deck or column to the next, mm."""
_TITLE = 11.0
_SMALL = 8.0
_MOST_LINES = 6
_ROOMY = 400.0
"""Sheet on which a switch without labels is never shared out, mm."""


@dataclass(frozen=True, slots=True)
class Note:
    """A line over the drawing; bold where somebody would miss it at a cost."""

    text: str
    bold: bool


def lug_view(
    spec: Spec, wiring: Wiring, switch: str, *, seen_from: SeenFrom = "behind", paper: Paper = "a4"
) -> tuple[Scene, ...]:
    """Sheets that show every lug of a switch and everything soldered to it.

    Raises:
        KeyError: the wiring has no switch of that name.
    """
    panels = lug_panels(spec, wiring, switch, seen_from=seen_from, paper=paper)
    return stacked(panels, paper, f"{switch}, {wiring.name}: lug view")


def lug_panels(
    spec: Spec, wiring: Wiring, switch: str, *, seen_from: SeenFrom = "behind", paper: Paper = "a4"
) -> tuple[Panel, ...]:
    """The same as panels, for a page that holds other things too."""
    view = SwitchView(spec, wiring, spec.all_of(Switch, wiring)[switch], seen_from, paper)
    notes = view.notes()
    _, top = head(f"{view.title} (part 10 of 10)", notes, view.width)
    drawn = view.drawn(top)
    panels = []
    for number, panel in enumerate(drawn, 1):
        part = f" (part {number} of {len(drawn)})" if len(drawn) > 1 else ""
        texts, y = head(view.title + part, notes, panel.width)
        panels.append(Panel((*texts, *panel.moved(0.0, y).items), panel.width, y + panel.height))
    return tuple(panels)


def head(title: str, notes: Sequence[Note], width: float) -> tuple[list[Text], float]:
    """Title and notes from the top down, and how much height they take, mm."""
    said = [(title, _TITLE, True), *((note.text, _SMALL, note.bold) for note in notes)]
    texts, y = paragraphs(said, width, _MOST_LINES)
    return texts, y + 3.0


def panels_of(
    arrangement: Arrangement, faces: Mapping[str, Face], soldered: Soldered, sheet: Sheet
) -> list[Panel]:
    """Panels no taller than the sheet, decks in order."""
    across = [] if isinstance(arrangement, Grid) else _across(arrangement, soldered)
    panels = [one for deck in decks_of(arrangement, faces, soldered, sheet) for one in deck]
    return [laned(panel, across) for panel in gathered(panels, sheet.height, _BETWEEN)]


def decks_of(
    arrangement: Arrangement, faces: Mapping[str, Face], soldered: Soldered, sheet: Sheet
) -> list[list[Panel]]:
    """A panel for each deck; several where a deck is taller than the sheet."""
    if isinstance(arrangement, Grid):
        drawings = _drawings([arrangement], faces, soldered)
        return [list(_fitted(one, sheet)) for one in drawings]
    drawings = _drawings(arrangement, faces, soldered)
    if across := _across(arrangement, soldered):
        sheet = with_lanes(sheet, arrangement, across)
        forks = [wafer_panel(*one, sheet)[1] for one in zip(drawings, arrangement, strict=True)]
        sheet = replace(sheet, fork=max(forks))
    return [list(_fitted(one, sheet)) for one in drawings]


def deck_panels(spec: Spec, wiring: Wiring, width: float) -> Iterator[list[Panel]]:
    """Every deck of every switch from behind, with what is soldered to it; a list for each.

    The switch is named on it where there are several.
    """
    switches = spec.all_of(Switch, wiring)
    for name, switch in switches.items():
        view = SwitchView(spec, wiring, switch, "behind", "a4")
        soldered, sheet = soldered_to(spec, wiring, switch), Sheet(width, PAPER["a4"][1], "behind")
        title = (text_at(name, 0.0, 4.0, _TITLE, bold=True),) if len(switches) > 1 else ()
        for panels in decks_of(view.arrangement, view.faces(width), soldered, sheet):
            yield [replace(panel, items=(*title, *panel.items)) for panel in panels]


def _across(wafers: Sequence[Wafer], soldered: Soldered) -> list[Jumper]:
    """Jumpers from deck to deck."""
    where = {lug: number for number, wafer in enumerate(wafers) for lug in wafer.lugs}
    return [j for j in soldered.jumpers if where[j.ends[0]] != where[j.ends[1]]]


def _drawings(
    units: Sequence[Wafer | Grid], faces: Mapping[str, Face], soldered: Soldered
) -> list[Drawing]:
    """A jumper between two units is told at both ends."""
    where = {lug: number for number, unit in enumerate(units) for lug in unit.lugs}
    across = [j for j in soldered.jumpers if where[j.ends[0]] != where[j.ends[1]]]
    on_decks = isinstance(units[0], Wafer)
    decks = {lug: number + 1 for lug, number in where.items()} if on_decks else {}
    labels = [*soldered.labels, *(end for j in across for end in j.labels(decks))]
    drawings = []
    for number, unit in enumerate(units):
        own = tuple(label for label in labels if where[label.lug] == number)
        within = (j for j in soldered.jumpers if {where[lug] for lug in j.ends} == {number})
        drawings.append(Drawing(unit, faces, own, tuple(within), soldered.net_of))
    return drawings


def _fitted(drawing: Drawing, sheet: Sheet) -> Iterator[Panel]:
    """One panel, or the panels of its parts."""
    unit = drawing.unit
    if isinstance(unit, Wafer):
        panel: Panel | None = wafer_panel(drawing, unit, sheet)[0]
    else:
        panel = rows_panel(drawing, unit, sheet.width)
    parts: Sequence[Drawing] = ()
    if panel is None or panel.height > sheet.height:
        parts = _halves(drawing)
        if isinstance(unit, Grid) and len(unit.rows[0]) > 1:
            parts = _apart(drawing, unit)
    if panel is not None and not parts:
        yield panel
    for part in parts:
        yield from _fitted(part, sheet)


def _apart(drawing: Drawing, grid: Grid) -> Sequence[Drawing]:
    """The left and the right columns."""
    at = len(grid.rows[0]) // 2
    grids = []
    for cut in (slice(at), slice(at, None)):
        rows = tuple(row[cut] for row in grid.rows if any(row[cut]))
        grids.append(replace(grid, rows=rows))
    soldered = Soldered(drawing.labels, drawing.jumpers, drawing.net_of)
    return _drawings(grids, drawing.faces, soldered)


def _halves(drawing: Drawing) -> Sequence[Drawing]:
    """The longer of labels and jumpers shared out; the second time, lugs are shown as ghosts.

    None where there is nothing to share out.
    """
    if max(len(drawing.labels), len(drawing.jumpers)) < 2:
        return ()
    ghosts = {name: replace(face, ghost=True) for name, face in drawing.faces.items()}
    labels, jumpers = len(drawing.labels) // 2, len(drawing.jumpers)
    if len(drawing.labels) < len(drawing.jumpers):
        labels, jumpers = len(drawing.labels), len(drawing.jumpers) // 2
    return (
        replace(drawing, labels=drawing.labels[:labels], jumpers=drawing.jumpers[:jumpers]),
        replace(
            drawing, labels=drawing.labels[labels:], jumpers=drawing.jumpers[jumpers:], faces=ghosts
        ),
    )


@dataclass(frozen=True, slots=True)
class SwitchView:
    """A switch of a wiring, the side it is seen from, and the paper."""

    spec: Spec
    wiring: Wiring
    switch: Switch
    seen_from: SeenFrom
    paper: Paper
    position: int = 0
    """Of the control, counted from 0, in which springs are drawn."""

    @property
    def title(self) -> str:
        """Switch and wiring."""
        return f"{self.switch.name}: {self.wiring.name}"

    @property
    def width(self) -> float:
        """Of the panels, mm."""
        return PAPER[self.paper][0] - 2 * MARGIN

    @property
    def arrangement(self) -> Arrangement:
        """The lugs as they are drawn."""
        return arrange(self.switch, mirrored=self.seen_from == "front", position=self.position)

    @property
    def sprung(self) -> bool:
        """Whether its springs are drawn, which stand otherwise in each position."""
        shown = self.arrangement
        return isinstance(shown, Grid) and shown.pile is not None

    def faces(self, width: float) -> dict[str, Face]:
        """Names in full where the wafers leave room for labels beside them."""
        switch, shown = self.switch, self.arrangement
        groups = switch.poles or [section.lugs for section in switch.sections]
        section_of = {lug: number for number, group in enumerate(groups) for lug in group}
        commons = {pole[0] for pole in switch.poles}
        made, short = (
            {face.name: face for face in faces_of(switch.terminals, section_of, commons, longest)}
            for longest in (LONGEST, NARROW)
        )
        wafers = () if isinstance(shown, Grid) else shown
        return made if all(has_room(wafer, made, width) for wafer in wafers) else short

    def drawn(self, top: float) -> list[Panel]:
        """Panels with ``top`` mm left free over them."""
        height = PAPER[self.paper][1] - 2 * MARGIN - FOOT - top
        soldered = soldered_to(self.spec, self.wiring, self.switch)
        sheet = Sheet(self.width, height, self.seen_from)
        return panels_of(self.arrangement, self.faces(self.width), soldered, sheet)

    def bare(self) -> list[tuple[Sequence[str], Panel]]:
        """Each deck, or the rows, with its lugs: jumpers within it, nothing of what leads away.

        ``labels`` says that.
        """
        shown, soldered = self.arrangement, soldered_to(self.spec, self.wiring, self.switch)
        units = [shown] if isinstance(shown, Grid) else shown
        within = tuple(j for j in soldered.jumpers if any({*j.ends} <= {*u.lugs} for u in units))
        alone = replace(soldered, labels=(), jumpers=within)
        sheet = Sheet(_ROOMY, _ROOMY, self.seen_from)
        drawings = _drawings(units, self.faces(self.width), alone)
        return [(one.unit.lugs, panel) for one in drawings for panel in _fitted(one, sheet)]

    def labels(self) -> Mapping[str, Sequence[Label]]:
        """Lug → what is soldered to it, jumpers at both ends."""
        soldered = soldered_to(self.spec, self.wiring, self.switch)
        found: dict[str, list[Label]] = {lug: [] for lug in self.switch.terminals}
        for label in (*soldered.labels, *(end for j in soldered.jumpers for end in j.labels({}))):
            found[label.lug].append(label)
        return found

    def notes(self) -> list[Note]:
        """What is said over the drawing; what can hurt or be missed at a cost is bold."""
        switch = self.switch
        soldered = soldered_to(self.spec, self.wiring, switch)
        jumpers = (f"{wire_named(j.id, j.colour)} {j.ends[0]} – {j.ends[1]}"
                   for j in soldered.jumpers)  # fmt: skip
        key = (
            f"{f.shown} is lug {f.name}"
            for f in self.faces(self.width).values()
            if f.shown != f.name
        )
        assumed = lug_positions(switch).assumed
        which = "" if len(assumed) == len(switch.terminals) else f" {', '.join(assumed)}"
        told = (
            ("Lugs, the common first: ", _own_names(switch)),
            ("Jumpers: ", "; ".join(jumpers)),
            ("Key: ", "; ".join(key)),
            ("Note: ", switch.note),
        )
        plain = [self._what_it_is(), self._how_seen(), self._positions()]
        plain += [f"{opening}{text}" for opening, text in told if text]
        bold = [f"Lug layout{which} assumed: go by the letters, and prove them."]
        bold = [*self.live(), *not_metering(self.spec, self.wiring, switch),
                *(bold if assumed else [])]  # fmt: skip
        return [Note(text, text in bold) for text in (*plain, *bold)]

    def live(self) -> Iterator[str]:
        """Lugs that carry 50 V or more with the power on, or may, the highest first."""
        volts = lug_volts(self.spec, self.wiring)
        at = [(here, lug) for lug in self.switch.terminals
              if (here := volts.get(self.switch.terminal(lug))) is not None]  # fmt: skip
        lugs: dict[str, list[str]] = {}
        for here, lug in sorted(at, key=lambda one: -abs(one[0].volts)):
            lugs.setdefault(here.said, []).append(lug)
        if lugs:
            said = "; ".join(f"{here} at {', '.join(own)}" for here, own in lugs.items())
            yield f"Can be live: {said}"

    def _what_it_is(self) -> str:
        switch = self.switch
        form = "" if switch.form == "table" else f"{switch.form} "
        label = f"{switch.label}, " if switch.label else ""
        timings = {section.timing for section in switch.sections}
        timing = timings.pop() if len(timings) == 1 else ", ".join(
            f"pole {s.pole} {s.timing}" if s.pole is not None
            else f"section {n} ({', '.join(s.lugs[:4])}) {s.timing}"
            for n, s in enumerate(switch.sections, 1)
        )  # fmt: skip
        return f"{label}{form}{style_of(switch)}, control {switch.control}; {timing}"

    def _how_seen(self) -> str:
        shown = self.arrangement
        if self.seen_from == "front":
            return "Seen from the front: mirrored, the lugs are on the far side."
        if not isinstance(shown, Grid):
            said = "Seen from behind: clockwise at the knob runs anticlockwise here."
            if lug_positions(self.switch).against_the_knob:
                return f"{said} The throws of this switch run against the knob, clockwise here."
            return said
        if style_of(self.switch) == "toggle":
            return (
                "Seen from behind. A toggle's lever closes the lugs on its far side "
                "(common practice; prove it with the ohmmeter)."
            )
        if shown.pile:
            here = self.spec.controls[self.switch.control].positions[self.position]
            return f"Seen from behind. Springs drawn as they stand in {here}; long ones move."
        return "Seen from behind."

    def _positions(self) -> str:
        """Which contacts each position closes."""
        switch, positions = self.switch, self.spec.controls[self.switch.control].positions
        if switch.throw_at is not None:
            said = (
                f"{position} {'open' if throw is None else f'throw {throw}'}"
                for position, throw in zip(positions, switch.throw_at, strict=False)
            )
            return f"Positions: {', '.join(said)}"
        closed = [
            ", ".join(" – ".join(group) for s in switch.sections for group in s.groups[number])
            for number in range(len(positions))
        ]
        said = (f"{name} {lugs or 'none'}" for name, lugs in zip(positions, closed, strict=True))
        return f"Closed lugs: {'; '.join(said)}"


def _own_names(switch: Switch) -> str:
    """Which lugs are a pole's, where their names do not say so; the common first."""
    poles = list(zip(pole_letters(len(switch.poles)), switch.poles, strict=True))
    if all(lug.startswith(letter) for letter, pole in poles for lug in pole):
        return ""
    return "; ".join(f"pole {letter}: {', '.join(pole)}" for letter, pole in poles)
