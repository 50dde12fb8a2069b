"""The marked-up view: both wirings of the changed section in one picture, and its table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.bench.moves import default_source
from rewire.draw.lugview.metering import not_metering
from rewire.draw.marked.contacts import APART
from rewire.draw.marked.keyed import tables_of
from rewire.draw.marked.order import clusters
from rewire.draw.marked.place import NARROWEST
from rewire.draw.marked.section import Section, section_of
from rewire.draw.marked.sheets import Room, paged, sheet_panel
from rewire.draw.marked.values import chosen_of
from rewire.draw.measure import descent_mm, line_mm, text_at, visible, wrap
from rewire.draw.scene import FOOT, MARGIN, PAPER, Item, Panel, Paper, Scene
from rewire.draw.stack import BETWEEN, stacked
from rewire.draw.tabled import Table, room_below, tabled
from rewire.records.spec import Spec, Switch, Wiring
from rewire.values import WiringValues

_TITLE = 11.0
_SMALL = 7.5
_KEY = (
    "Solid: stays. Dashed, grey, struck through: goes. Framed, heavy, numbered: new, see the "
    "table. Only dots join."
)


def marked_view(
    spec: Spec, wiring: Wiring, paper: Paper = "a4", *, values: WiringValues | None = None
) -> tuple[Scene, ...]:
    """Sheets that show what of the original stays, what goes and what is new in a wiring.

    Args:
        spec: with both.
        wiring: to be marked against the original.
        paper: the sheets' size.
        values: what was found for values that the spec leaves open; None prints them as open.
    """
    panels = marked_panels(spec, wiring, paper, values=values)
    return stacked(panels, paper, f"original to {wiring.name}: marked up")


def marked_panels(
    spec: Spec, wiring: Wiring, paper: Paper = "a4", *, values: WiringValues | None = None
) -> tuple[Panel, ...]:
    """The same as panels, each of the tables' to stand on a page of its own."""
    section = section_of(spec, wiring, chosen_of(values))
    width = PAPER[paper][0] - 2 * MARGIN
    height = PAPER[paper][1] - 2 * MARGIN - FOOT
    pictures = _pictures(spec, wiring, section, width, height)
    room = room_below(_used(pictures, height), height)
    return (*pictures, *tabled(tables_of(spec, wiring, section), width, height, room))


def marked_parts(
    spec: Spec, wiring: Wiring, paper: Paper = "a4", *, values: WiringValues | None = None
) -> tuple[list[Panel], tuple[Table, ...]]:
    """The pictures, and the tables to go under them, for a page that holds other things too."""
    section = section_of(spec, wiring, chosen_of(values))
    width = PAPER[paper][0] - 2 * MARGIN
    height = PAPER[paper][1] - 2 * MARGIN - FOOT
    return _pictures(spec, wiring, section, width, height), tables_of(spec, wiring, section)


def _used(panels: Sequence[Panel], height: float) -> float:
    """How far down the last page is taken once the panels are stacked, mm."""
    used = -BETWEEN
    for panel in panels:
        used += BETWEEN + panel.height
        if used > height:
            used = panel.height
    return used


def _pictures(
    spec: Spec, wiring: Wiring, section: Section, width: float, height: float
) -> list[Panel]:
    notes = _notes(spec, wiring, section)
    room = height - _head(wiring, 99, 99, notes, width).height
    most = int((width - 2.0) // NARROWEST) + 1
    sheets = paged(clusters(section.drawn, most), Room(section, width, room))
    panels = []
    for number, sheet in enumerate(sheets, 1):
        top = _head(wiring, number, len(sheets), notes if number == 1 else (), width)
        picture = sheet_panel(sheet, width).moved(0.0, top.height)
        panels.append(Panel((*top.items, *picture.items), width, top.height + picture.height))
    return panels


def _notes(spec: Spec, wiring: Wiring, section: Section) -> tuple[tuple[str, bool], ...]:
    """What is said over the first picture; bold where somebody would miss it at a cost."""
    if not section.drawn:
        return (("Nothing is changed.", True),)
    switches = (p for p in spec.parts_of(spec.original).values() if isinstance(p, Switch))
    said = ((s.name, note) for s in switches for note in not_metering(spec, spec.original, s))
    notes = tuple((f"{APART} {name}: {note}", True) for name, note in said)
    if not notes and any(APART in rung.below for rung in section.drawn):
        notes = ((f"{APART} This contact is not for the meter: do not omit it.", True),)
    return ((_KEY, False), *_work_begins(spec, wiring), *notes)


def _work_begins(spec: Spec, wiring: Wiring) -> Iterator[tuple[str, bool]]:
    """Said where what is on the bench is not the original: these pages are no list of work then."""
    source = default_source(spec)
    if source not in ("original", wiring.name):
        yield (
            f"This compares the maker's wiring with {wiring.name}. The work does not begin there "
            f"but from {source}: go by the list of moves from {source} to {wiring.name}.",
            True,
        )


def _head(
    wiring: Wiring, number: int, count: int, notes: Sequence[tuple[str, bool]], width: float
) -> Panel:
    part = f" (part {number} of {count})" if count > 1 else ""
    title = f"Marked up: original to {wiring.name}{part}"
    lines = [(line, _TITLE, True) for line in wrap(visible(title), width, _TITLE, True)]
    for note, bold in notes:
        lines += [(line, _SMALL, bold) for line in wrap(visible(note), width, _SMALL, bold)]
    items: list[Item] = []
    y = 0.0
    for line, points, bold in lines:
        y += line_mm(points)
        items.append(text_at(line, 0.0, y - descent_mm(points), points, bold=bold))
    return Panel(tuple(items), width, y + 3.0)
