"""Scanned pages: numbered notes on the image, and the table that says what they mean."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rewire.draw.marked.values import chosen_of
from rewire.draw.measure import descent_mm, line_mm, text_at, visible, wrap
from rewire.draw.scanned.balloons import STEP, STRIP, most_notes
from rewire.draw.scanned.images import ImageRefused, Upright, fault_of, image_of
from rewire.draw.scanned.leaders import noted
from rewire.draw.scanned.told import Sight, sight_of, what_changes, what_it_was
from rewire.draw.scene import FOOT, MARGIN, PAPER, Box, Item, Panel, Paper, Picture, Scene, Symbol
from rewire.draw.stack import stacked
from rewire.draw.tabled import Cell, Piece, Table, room_below, tabled
from rewire.reading.faults import Fault, SpecError
from rewire.records.spec import Page, PageNote, Spec, Wiring
from rewire.values import WiringValues

_TITLE, _SMALL = 11.0, 7.5
_SHARE = 0.62
"""Of a sheet's height, for the image."""
Values = Mapping[str, WiringValues]
"""Wiring → what was found for it."""


def scanned_view(
    spec: Spec, wirings: Sequence[Wiring], paper: Paper = "a4", *, values: Values | None = None
) -> tuple[Scene, ...]:
    """Sheets with the scanned pages of a spec, its notes on them and their table.

    Args:
        spec: with the pages; images are read from its folder.
        wirings: of which it is said what they change at the parts that notes are about.
        paper: the sheets' size.
        values: what was found for values that the spec leaves open.

    Raises:
        SpecError: images that cannot be used, all at once, each with its place in the spec.
    """
    scenes: list[Scene] = []
    for page, panels in _pages(spec, wirings, paper, values):
        title = f"{page.title or page.image}: notes on a scanned page"
        scenes.extend(stacked(panels, paper, title))
    return tuple(scenes)


def scanned_panels(
    spec: Spec, wirings: Sequence[Wiring], paper: Paper = "a4", *, values: Values | None = None
) -> tuple[Panel, ...]:
    """The same as panels, for a page that holds other things too.

    Raises:
        SpecError: images that cannot be used, all at once, each with its place in the spec.
    """
    return tuple(p for _, panels in _pages(spec, wirings, paper, values) for p in panels)


def _pages(
    spec: Spec, wirings: Sequence[Wiring], paper: Paper, values: Values | None
) -> list[tuple[Page, list[Panel]]]:
    width = PAPER[paper][0] - 2 * MARGIN
    height = PAPER[paper][1] - 2 * MARGIN - FOOT
    was = sight_of(spec, spec.original, {})
    now = [sight_of(spec, w, chosen_of((values or {}).get(w.name))) for w in wirings]
    return [
        (page, _panels(page, image, [was, *now], width, height))
        for page, image in _images(spec, max(width, height))
    ]


def _images(spec: Spec, most_mm: float) -> list[tuple[Page, Upright]]:
    found: list[tuple[Page, Upright]] = []
    faults: list[Fault] = []
    read: dict[str, Upright] = {}  # an image that stands under many notes is read once
    for page in spec.pages:
        try:
            if page.image not in read:
                read[page.image] = image_of(spec, page, most_mm)
            found.append((page, read[page.image]))
        except ImageRefused as refused:
            faults.append(fault_of(page, refused))
    if faults:
        raise SpecError(faults)
    return found


def _panels(
    page: Page, image: Upright, sights: Sequence[Sight], width: float, height: float
) -> list[Panel]:
    """The image with as many notes as have room beside it, again with the rest, then the table."""
    head = _head(page, 99, 99, width)
    room = Box(STRIP, 0.0, width - STRIP, (height - head.height) * _SHARE)
    box = _inside(image, room)
    notes = list(enumerate(page.notes, 1))
    most = most_notes(height - head.height)
    bundles = [notes[n : n + most] for n in range(0, len(notes), most)] or [[]]
    panels: list[Panel] = []
    for number, bundle in enumerate(bundles, 1):
        top = _head(page, number, len(bundles), width)
        tall = max(box.bottom, -(-len(bundle) // 2) * STEP)
        items = [
            Picture(box, image.data, image.media, "page"),
            Symbol("frame", box, "page", width=0.2, fill=None, grey=0.5, backdrop=True),
            *noted(bundle, box, tall, image.ink),
        ]
        shifted = Panel(tuple(items), width, tall).moved(0.0, top.height)
        panels.append(Panel((*top.items, *shifted.items), width, top.height + tall))
    below = room_below(panels[-1].height, height)
    return [*panels, *tabled([_table(notes, sights)], width, height, below)]


def _inside(image: Upright, room: Box) -> Box:
    """As large as it may be, in the middle, at the top."""
    scale = min(room.width / image.width, room.height / image.height)
    wide, tall = image.width * scale, image.height * scale
    left = room.left + (room.width - wide) / 2
    return Box(left, room.top, left + wide, room.top + tall)


def _head(page: Page, number: int, count: int, width: float) -> Panel:
    part = f" (part {number} of {count})" if count > 1 else ""
    title = f"{page.title or 'Scanned page'}{part}"
    said = f"Notes on the scan {page.image}; the numbers are keyed to the table."
    lines = [(line, _TITLE, True) for line in wrap(visible(title), width, _TITLE, True)]
    lines += [(line, _SMALL, False) for line in wrap(visible(said), width, _SMALL)]
    items: list[Item] = []
    y = 0.0
    for line, points, bold in lines:
        y += line_mm(points)
        items.append(text_at(line, 0.0, y - descent_mm(points), points, bold=bold))
    return Panel(tuple(items), width, y + 3.0)


def _table(notes: Sequence[tuple[int, PageNote]], sights: Sequence[Sight]) -> Table:
    rows = tuple(tuple(_row(number, note, sights)) for number, note in notes)
    return Table("Notes", ("No.", "at", "in the original", "what changes"), (9, 26, 60, 95), rows)


def _row(number: int, note: PageNote, sights: Sequence[Sight]) -> Iterator[Cell]:
    was, *others = sights
    said = (Piece(note.text, f"text:{number}"),) if note.text else ()
    yield (Piece(str(number), f"key:{number}", bold=True),)
    yield (Piece(note.about, f"about:{number}", bold=True),) if note.about else ()
    yield tuple(what_it_was(was, note.about)) if note.about else ()
    told = (piece for now in others for piece in what_changes(was, now, note.about or ""))
    yield (*said, *told) if note.about else said
