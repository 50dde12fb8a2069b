"""Scanned pages: numbered notes on the image, and the table that says what they mean."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rewire.bench.turnover import assigned, differing
from rewire.circuit.circuit import circuit_of
from rewire.compare.roles import roles_between
from rewire.draw.diagram import Chosen, chosen_values
from rewire.draw.images import Dark, Upright, images_of
from rewire.draw.scene import (
    FOOT,
    MARGIN,
    PAPER,
    XY,
    Box,
    Item,
    Line,
    Panel,
    Paper,
    ScanImage,
    Scene,
    Symbol,
    around,
    middle_baseline,
    paragraphs,
    text_at,
)  # fmt: skip
from rewire.draw.sheets import Cell, Paragraph, SheetTable, room_below, stacked, tabled
from rewire.records.part import Part
from rewire.records.spec import Page, PageNote, Spec, Wiring
from rewire.records.switches import Switch
from rewire.values.answers import WiringValues

_MOST_LUGS = 60
"""Lugs of one part that are listed."""
_SHARE = 0.62
"""Of a sheet's height, for the image."""
_STEP, _STRIP, _RADIUS, _RING = 5.0, 10.0, (2.9, 2.0), 3.0
"""From one balloon to the next; room for them at each side; half a balloon; ring at a spot; mm."""
Values = Mapping[str, WiringValues]
"""Wiring → what was found for it."""


def scanned_view(
    spec: Spec, wirings: Sequence[Wiring], paper: Paper = "a4", *, values: Values | None = None
) -> tuple[Scene, ...]:
    """Sheets with the scanned pages of a spec, its notes, and what each wiring changes there.

    Raises:
        SpecError: images that cannot be used, all at once, each with its place in the spec.
    """
    return tuple(
        scene
        for page, panels in _pages(spec, wirings, paper, values)
        for scene in stacked(panels, paper, f"{page.title or page.image}: notes on a scanned page")
    )


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
    width, height = PAPER[paper][0] - 2 * MARGIN, PAPER[paper][1] - 2 * MARGIN - FOOT
    was = NotedWiring(spec, spec.original, {})
    now = [
        NotedWiring(spec, w, chosen_values(spec, w, (values or {}).get(w.name))) for w in wirings
    ]
    images = images_of(spec, max(width, height))
    return [
        (page, list(_panels(page, images[page.image], [was, *now], width, height)))
        for page in spec.pages
    ]


def _panels(
    page: Page, image: Upright, seen: Sequence[NotedWiring], width: float, height: float
) -> Iterator[Panel]:
    """The image with as many notes as have room beside it, again with the rest, then the table."""
    notes = list(enumerate(page.notes, 1))
    room = height - _head(page, "", width).height
    box = _inside(image, Box(_STRIP, 0.0, width - _STRIP, room * _SHARE))
    most = 2 * max(1, int(room // _STEP))
    bundles = [notes[n : n + most] for n in range(0, len(notes), most)] or [[]]
    used = 0.0
    for number, bundle in enumerate(bundles, 1):
        part = f" (part {number} of {len(bundles)})" if len(bundles) > 1 else ""
        head = _head(page, part, width)
        tall = max(box.bottom, -(-len(bundle) // 2) * _STEP)
        frame = Symbol("frame", box, "page", width=0.2, fill=None, grey=0.5, backdrop=True)
        picture = ScanImage(box, image.data, image.media, "page")
        items = (picture, frame, *_noted(bundle, box, tall, image.dark))
        used = head.height + tall
        moved = (item.moved(0.0, head.height) for item in items)
        yield Panel((*head.items, *moved), width, used)
    yield from tabled([_table(notes, seen)], width, height, room_below(used, height))


def _head(page: Page, part: str, width: float) -> Panel:
    said = f"Notes on the scan {page.image}; the numbers are keyed to the table."
    title = f"{page.title or 'Scanned page'}{part}"
    texts, height = paragraphs([(title, 11.0, True), (said, 8.0, False)], width)
    return Panel(tuple(texts), width, height + 3.0)


def _inside(image: Upright, room: Box) -> Box:
    """As large as it may be, in the middle, at the top."""
    scale = min(room.width / image.width, room.height / image.height)
    wide, tall = image.width * scale, image.height * scale
    left = room.left + (room.width - wide) / 2
    return Box(left, room.top, left + wide, room.top + tall)


# Balloons -----------------------------------------------------------------------------------


def _noted(
    notes: Sequence[tuple[int, PageNote]], page: Box, bottom: float, dark: Dark
) -> Iterator[Item]:
    """Rings about the spots, balloons at both sides, and the leaders between them."""
    spots = [(page.left + n.at[0] * page.width, page.top + n.at[1] * page.height) for _, n in notes]
    starts = _starts(spots, page, bottom, dark) if notes else []
    for width, grey in ((0.9, 1.0), (0.35, 0.0)):
        for (number, _), start, spot in zip(notes, starts, spots, strict=True):
            if line := _short_of(start, spot):
                yield Line(line, f"leader:{number}", width=width, grey=grey)
        for spot in dict.fromkeys(spots):
            ring = around(spot, _RING, _RING)
            yield Symbol("disc", ring, "spot", width=width, fill=None, grey=grey, backdrop=True)
    for (number, _), (x, y) in zip(notes, starts, strict=True):
        outwards = -_RADIUS[0] if x < page.left else _RADIUS[0]
        yield from _balloon(str(number), (x + outwards, y))


def _starts(spots: Sequence[XY], page: Box, bottom: float, dark: Dark) -> list[XY]:
    """Where each leader leaves its balloon: so that none cross, and off the page's ink if may be.

    The leaders are first the shortest in sum, so none cross: two that do are shorter with
    their balloons exchanged (a classic exercise; for labels at a boundary see Bekos, Kaufmann,
    Symvonis and Wolff, Computational Geometry 36, 2007). Then each in turn may take a free
    place from which it runs over less ink.
    """
    sides = (page.left - _STRIP + 2 * _RADIUS[0], page.right + _STRIP - 2 * _RADIUS[0])
    count = 2 * max(1, int((bottom - page.top) // _STEP)) - 1
    places = [(x, page.top + _STEP * (n + 1) / 2) for n in range(count) for x in sides]
    rows = [place for n, place in enumerate(places) if n // 2 % 2 == 0]
    near = np.array([[-math.dist(spot, place) for place in rows] for spot in spots])
    starts = [rows[at] for _, at in assigned(near)]
    for number, spot in enumerate(spots):
        others = [(s, spots[n]) for n, s in enumerate(starts) if n != number]
        free = [place for place in places if all(_apart(place, spot, *one) for one in others)]
        costs = {at: _ink(dark, page, at, spot) + 0.2 * math.dist(at, spot) for at in free}
        starts[number] = min(costs, key=costs.__getitem__, default=starts[number])
    return starts


def _apart(place: XY, spot: XY, other: XY, its_spot: XY) -> bool:
    """Whether two balloons keep their distance, and their leaders do not cross."""
    if place[0] == other[0] and abs(place[1] - other[1]) < _STEP - 1e-6:
        return False
    turns = [
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        for a, b, c in (
            (place, spot, other), (place, spot, its_spot),
            (other, its_spot, place), (other, its_spot, spot),
        )
    ]  # fmt: skip
    return spot == its_spot or turns[0] * turns[1] > 0 or turns[2] * turns[3] > 0


def _ink(dark: Dark, page: Box, start: XY, end: XY) -> float:
    """Millimetres of ink that a leader runs over."""
    length = math.dist(start, end)
    shares = np.linspace(0.0, 1.0, max(2, round(length)))
    across = (start[0] + (end[0] - start[0]) * shares - page.left) / page.width
    down = (start[1] + (end[1] - start[1]) * shares - page.top) / page.height
    inside = (across > 0) & (across < 1) & (down > 0) & (down < 1)
    rows, columns = dark.shape
    met = dark[(down[inside] * rows).astype(int), (across[inside] * columns).astype(int)]
    return float(met.sum() * length / len(shares))


def _short_of(start: XY, spot: XY) -> tuple[XY, XY] | None:
    """From a balloon to the ring's edge; None where the balloon is nearer than that."""
    length = math.dist(start, spot)
    part = 1.0 - _RING / 2 / length if length else 0.0
    end = (start[0] + (spot[0] - start[0]) * part, start[1] + (spot[1] - start[1]) * part)
    return (start, end) if part > 0.0 else None


def _balloon(number: str, middle: XY) -> Iterator[Item]:
    shows, (x, y) = f"note:{number}", middle
    yield Symbol("round", around(middle, 2 * _RADIUS[0], 2 * _RADIUS[1]), shows, width=0.35)
    yield text_at(
        number, x, middle_baseline(y, 8.0), 8.0, align="centre", bold=True, shows=shows, on=shows
    )


# What the table says ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class NotedWiring:
    """One wiring as a note sees it."""

    spec: Spec
    wiring: Wiring
    chosen: Chosen

    def part(self, name: str) -> Part | None:
        """A part of the wiring by its name."""
        return circuit_of(self.spec, self.wiring).parts.get(name)

    def landing(self, place: str) -> str:
        """What wires, nets and leads join a place to; of a net with points, these alone."""
        joined: set[str] = set()
        for group in circuit_of(self.spec, self.wiring).soldered:
            others = {other for other in group if other != place} if place in group else set()
            points = others & self.spec.points.keys() - {place}
            joined |= points if points and place not in self.spec.points else others
        return ", ".join(sorted(joined)) or "nothing"

    def lugs(self, part: Part) -> list[str]:
        """Each lug of a part and what it is joined to."""
        return [f"{t}: {self.landing(part.terminal(t))}" for t in part.terminals[:_MOST_LUGS]]

    def named(self, part: Part) -> str:
        """Name and value."""
        return f"{part.name} {self.chosen.get(part.name, part.value)}".rstrip()


def _table(notes: Sequence[tuple[int, PageNote]], seen: Sequence[NotedWiring]) -> SheetTable:
    rows = tuple(tuple(_row(number, note, seen)) for number, note in notes)
    return SheetTable(
        "Notes", ("No.", "at", "in the original", "what changes"), (9, 26, 60, 95), rows
    )


def _row(number: int, note: PageNote, seen: Sequence[NotedWiring]) -> Iterator[Cell]:
    was, *others = seen
    said = (Paragraph(note.text, f"text:{number}"),) if note.text else ()
    yield (Paragraph(str(number), f"key:{number}", bold=True),)
    yield (Paragraph(note.about, f"about:{number}", bold=True),) if note.about else ()
    yield tuple(_as_it_was(was, note.about)) if note.about else ()
    told = (piece for now in others for piece in _changes(was, now, note.about or ""))
    yield (*said, *told) if note.about else said


def _as_it_was(was: NotedWiring, about: str) -> Iterator[Paragraph]:
    part = was.part(about)
    if about in was.spec.points:
        yield Paragraph(was.landing(about))
    elif part is None:
        yield Paragraph("not there")
    else:
        yield Paragraph(was.named(part), f"was:{about}", bold=True)
        yield from map(Paragraph, was.lugs(part))


def _changes(was: NotedWiring, now: NotedWiring, about: str) -> Iterator[Paragraph]:
    """What becomes of a part or point in another wiring, its name in front."""
    told = list(_told(was, now, about))
    for number, said in enumerate(told or ["stays as it is"]):
        head = f"{now.wiring.name}: " if number == 0 else ""
        yield Paragraph(f"{head}{said}", f"told:{now.wiring.name}:{about}", bold=bool(told))


def _told(was: NotedWiring, now: NotedWiring, about: str) -> Iterator[str]:
    """What is not as it was; nothing where all is."""
    part = was.part(about)
    if about in was.spec.points:
        old, new = was.landing(about), now.landing(about)
        yield from [f"{old} → {new}"] if old != new else []
    elif part is not None:
        yield from _of_part(was, now, part)
    elif (added := now.part(about)) is None:
        yield "not there"
    else:
        yield f"new: {now.named(added)}"
        yield from now.lugs(added)


def _of_part(was: NotedWiring, now: NotedWiring, part: Part) -> Iterator[str]:
    heir = _heir(now, part)
    if heir is None:
        takers = roles_between(now.spec, now.wiring).takers(part) if part.has_role else ()
        yield f"goes; in its place {' and '.join(takers)}" if takers else "goes"
        return
    old, new = was.named(part), now.named(heir)
    if old != new:
        yield f"{old} → {new}"
    elif heir.name != part.name or differing(part, heir):
        yield f"{old} → another {new}"
    if part.sections and heir.name != part.name:
        yield "lug by lug in the lug view"
    else:
        yield from _moves(was, now, part, heir)


def _heir(now: NotedWiring, part: Part) -> Part | None:
    """The part that stands for all of it; for a switch, one on the same control."""
    switches = now.spec.all_of(Switch, now.wiring)
    here = now.spec.all_of(Switch, now.spec.original).get(part.name)
    if here is None:
        return now.part(heirs_of(now.spec, now.wiring).get(part.name, ""))
    same = (s for s in switches.values() if s.control == here.control)
    return switches.get(part.name) or next(same, None)


def heirs_of(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Original part → the one part that stands for all of it, terminal for terminal."""
    roles, now = roles_between(spec, wiring), circuit_of(spec, wiring).parts
    found = {}
    for name, part in circuit_of(spec, spec.original).parts.items():
        takers = roles.takers(part) if part.has_role and name not in roles.missing else ()
        heir = now[takers[0]] if len(takers) == 1 else None
        if heir and (part.kind, len(part.terminals)) == (heir.kind, len(heir.terminals)):
            found[name] = heir.name
    return found


def _moves(was: NotedWiring, now: NotedWiring, part: Part, heir: Part) -> Iterator[str]:
    """Lugs with something else on them than before."""
    pairs = [(place, heir.terminal(lug)) for lug, place in (heir.replaces or {}).items()]
    pairs = pairs or [(part.terminal(lug), part.terminal(lug)) for lug in part.terminals]
    changed = []
    for old, new in pairs:
        before, after = was.landing(old), now.landing(new)
        if before != after:
            named = old if old == new else f"{old} → {new}"
            changed.append(f"{named}: {before} → {after}")
    yield from changed[:_MOST_LUGS]
    if len(changed) > _MOST_LUGS:
        yield f"and {len(changed) - _MOST_LUGS} more lugs, see the lug view"
