"""The marked-up view: both wirings of the changed section in one picture, and its table."""

from __future__ import annotations

from rewire.draw.marked.order import clusters
from rewire.draw.marked.place import NARROWEST
from rewire.draw.marked.section import Section, section_of
from rewire.draw.marked.sheets import sheet_panel, sheets_of
from rewire.draw.marked.values import chosen_of
from rewire.draw.measure import descent_mm, line_mm, text_at, visible, wrap
from rewire.draw.scene import FOOT, MARGIN, PAPER, Item, Panel, Paper, Scene
from rewire.draw.stack import stacked
from rewire.spec.model import Spec, Wiring
from rewire.values import WiringValues

_TITLE = 11.0
_SMALL = 7.5


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
    """The same as panels, for a page that holds other things too."""
    section = section_of(spec, wiring, chosen_of(values))
    return tuple(_pictures(section, wiring, paper))


def _pictures(section: Section, wiring: Wiring, paper: Paper) -> list[Panel]:
    width = PAPER[paper][0] - 2 * MARGIN
    height = PAPER[paper][1] - 2 * MARGIN - FOOT
    head = _head(wiring, 9, 9, width)
    most = int((width - 2.0) // NARROWEST) + 1
    sheets = [
        sheet
        for bundle in clusters(section.drawn, most)
        for sheet in sheets_of(bundle, section, width, height - head.height)
    ]
    panels = []
    for number, sheet in enumerate(sheets, 1):
        top = _head(wiring, number, len(sheets), width)
        picture = sheet_panel(sheet, width).moved(0.0, top.height)
        panels.append(Panel((*top.items, *picture.items), width, top.height + picture.height))
    return panels


def _head(wiring: Wiring, number: int, count: int, width: float) -> Panel:
    part = f" (part {number} of {count})" if count > 1 else ""
    title = f"Marked up: original to {wiring.name}{part}"
    key = (
        "Solid: stays. Dashed, grey, struck through: goes. Framed, heavy, numbered: new. A dot "
        "joins; lines that cross without one do not. Numbers are keyed to the table."
    )
    lines = [(line, _TITLE, True) for line in wrap(visible(title), width, _TITLE, True)]
    lines += [(line, _SMALL, False) for line in wrap(key, width, _SMALL)]
    items: list[Item] = []
    y = 0.0
    for line, points, bold in lines:
        y += line_mm(points)
        items.append(text_at(line, 0.0, y - descent_mm(points), points, bold=bold))
    return Panel(tuple(items), width, y + 3.0)
