"""The lug view: a switch as seen with the iron in hand, deck by deck.

Each deck is drawn as in the hook-up. Nothing is ever shrunk: what does not fit a sheet goes on on
the next.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rewire.draw.decks import decks_drawn
from rewire.draw.hookup import Lettering, Pictured, backs_of, portion_drawn
from rewire.draw.leads import leads_of
from rewire.draw.lugs import Label, soldered_to, wire_named
from rewire.draw.metering import not_metering
from rewire.draw.scene import (
    FOOT,
    MARGIN,
    PAPER,
    Panel,
    Paper,
    Scene,
    Text,
    hull,
    paragraphs,
    text_at,
)
from rewire.draw.sheets import gathered, stacked
from rewire.draw.switch_back import Back, numbered
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import (
    Switch,
    layout_doubt,
    lug_positions,
    pile_column,
    pole_letters,
    style_of,
)
from rewire.values.solved import lug_volts

SeenFrom = Literal["behind", "front"]
_BETWEEN = 1.0
"""From one deck to the next, mm."""
_TITLE = 11.0
_SMALL = 8.0
_MOST_LINES = 6
_WISHED = 90.0
"""Height of a deck's picture, mm."""


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
    def sprung(self) -> bool:
        """Whether its springs are drawn, which stand otherwise in each position."""
        return self.switch.layout is None and pile_column(self.switch) is not None

    def drawn(self, top: float) -> list[Panel]:
        """Panels no taller than the sheet, ``top`` mm left free over them."""
        height = PAPER[self.paper][1] - 2 * MARGIN - FOOT - top
        mirrored = self.seen_from == "front"
        decks = decks_drawn(self.spec, self.wiring, (self.width, _WISHED), mirrored=mirrored)
        own = [panel for back, panels in decks if back.switch == self.switch.name
               for panel in panels]  # fmt: skip
        return gathered(own, height, _BETWEEN)

    def bare(self) -> list[tuple[Sequence[str], Panel]]:
        """Each deck, or the rows, with its lugs: jumpers within it, nothing of what leads away.

        ``labels`` says that.
        """
        leads = leads_of(self.spec, self.wiring)
        backs = backs_of(self.spec, self.wiring, leads, position=self.position)
        own = (back for back in backs if back.switch == self.switch.name)
        return [(tuple(back.lugs), _titled(self._with_jumpers(back), back.title)) for back in own]

    def _with_jumpers(self, back: Back) -> Panel:
        """A deck with the jumpers between its lugs, as far as they find a way."""
        leads = [
            lead for lead in leads_of(self.spec, self.wiring) if {*lead.ends} <= back.lugs.keys()
        ]
        if any(lead.shows not in back.jumpers for lead in leads):
            portion, nothing = Pictured([back], leads, ()), Lettering([], "", [])
            panel = portion_drawn(self.spec, self.wiring, portion, nothing, (self.width, _WISHED))
            if panel is not None:
                return panel
        box = hull(item.box for item in back.items)
        return Panel(back.items, box.width, box.height).moved(-box.left, -box.top)

    def labels(self) -> Mapping[str, Sequence[Label]]:
        """Lug → what is soldered to it, jumpers at both ends."""
        return soldered_to(self.spec, self.wiring, self.switch)

    def notes(self) -> list[Note]:
        """What is said over the drawing; what can hurt or be missed at a cost is bold."""
        switch = self.switch
        own = {switch.terminal(lug): lug for lug in switch.terminals}
        jumpers = (f"{wire_named(wire.id, wire.colour)} {' – '.join(own[end] for end in wire.ends)}"
                   for wire in self.wiring.wires if {*wire.ends} <= own.keys())  # fmt: skip
        key = (f"{shown} is lug {lug}" for lug, shown in numbered(switch.terminals).items()
               if shown != lug)  # fmt: skip
        doubt = layout_doubt(switch)
        told = (
            ("Lugs, the common first: ", _own_names(switch)),
            ("Jumpers: ", "; ".join(jumpers)),
            ("Key: ", "; ".join(key)),
            ("Note: ", switch.note),
        )
        plain = [self._what_it_is(), self._how_seen(), self._positions()]
        plain += [f"{opening}{text}" for opening, text in told if text]
        bold = [*self.live(), *not_metering(self.spec, self.wiring, switch)]
        bold += [f"{doubt[0].upper()}{doubt[1:]}, and prove them."] if doubt else []
        return [Note(text, text in bold) for text in (*plain, *bold)]

    def live(self) -> Iterator[str]:
        """Lugs that carry 50 V or more with the power on, or may, the highest first."""
        volts = lug_volts(self.spec, self.wiring)
        at = [(here, lug) for lug in self.switch.terminals
              if (here := volts.get(self.switch.terminal(lug))) is not None]  # fmt: skip
        lugs: dict[str, list[str]] = {}
        for here, lug in sorted(at, key=lambda one: -abs(one[0].volts)):
            lugs.setdefault(here.said.replace("-", "−", here.volts < 0.0), []).append(lug)
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
        positions = lug_positions(self.switch)
        if self.seen_from == "front":
            return "Seen from the front: mirrored, the lugs are on the far side."
        if positions.round:
            said = "Seen from behind: clockwise at the knob runs anticlockwise here."
            if positions.against_the_knob:
                return f"{said} The throws of this switch run against the knob, clockwise here."
            return said
        if style_of(self.switch) == "toggle":
            return (
                "Seen from behind. A toggle's lever closes the lugs on its far side "
                "(common practice; prove it with the ohmmeter)."
            )
        if self.sprung:
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


def _titled(panel: Panel, title: str) -> Panel:
    """A deck with its title over it, where there are several."""
    if not title:
        return panel
    box = hull(item.box for item in panel.items)
    said = text_at(title, box.centre[0], box.top - 2.0, _SMALL, "centre", bold=True)
    return replace(panel, items=(said, *panel.items))


def _own_names(switch: Switch) -> str:
    """Which lugs are a pole's, where their names do not say so; the common first."""
    poles = list(zip(pole_letters(len(switch.poles)), switch.poles, strict=True))
    if all(lug.startswith(letter) for letter, pole in poles for lug in pole):
        return ""
    return "; ".join(f"pole {letter}: {', '.join(pole)}" for letter, pole in poles)
