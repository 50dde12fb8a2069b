"""The ladder: nets as rails from top to bottom, parts and contacts as rungs between them.

What was is struck through, what is new is framed; each carries its number. Rungs that do not
meet stand side by side in one band.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rewire.draw.changes import Changes, Rail, Rung, Side
from rewire.draw.scene import (
    XY,
    Box,
    Dash,
    Item,
    Line,
    Panel,
    Symbol,
    around,
    line_mm,
    middle_baseline,
    text_at,
    visible,
    width_mm,
    wrap,
)  # fmt: skip

_POINTS = 7.0
_LINE = line_mm(_POINTS)
_GREY = 0.45
"""What goes, of black."""
_LOOKS: Mapping[str, tuple[float, Dash, float]] = {
    "kept": (0.3, "solid", 0.0), "replaced": (0.3, "solid", 0.0), "new": (0.6, "solid", 0.0),
    "removed": (0.3, "dashed", _GREY),
}  # fmt: skip
"""Mark → line width in mm, dash, grey."""
_NARROWEST, _WIDEST = 14.0, 46.0
"""Distance between rails, mm."""
_CLEAR, _ABOVE, _UNDER, _BELOW, _RETURN, _STUB = 0.9, 1.0, 0.9, 1.0, 2.6, 1.6
"""From rails to words; over and under the words, under a row; to a lead that comes back; mm."""
_SYMBOLS: Mapping[str, XY] = {
    "resistor": (7.0, 2.6), "meter": (6.4, 6.4), "pot": (7.0, 2.6), "contact": (7.4, 2.8),
    "lamp": (5.0, 5.0), "fuse": (7.0, 2.6), "choke": (7.6, 2.6), "capacitor": (4.0, 4.6),
    "diode": (4.4, 4.0), "tie": (3.0, 1.6),
}  # fmt: skip
"""Width and height of the symbols lying, mm; any other kind is as large as a resistor."""


def _size(kind: str) -> XY:
    return _SYMBOLS.get(kind, _SYMBOLS["resistor"])


def ladder_panels(changes: Changes, width: float, height: float) -> list[Panel]:
    """The drawn rungs on as many panels as they need.

    Args:
        changes: with at least one rung that is drawn.
        width: of the panels, mm.
        height: that none is higher than, mm; but for a rung that is higher by itself.
    """
    ladders = _fitting(changes.drawn, changes, width, height)
    seen = Counter(rail.number for ladder in ladders for rail in ladder.rails)
    return [_panel(replace(ladder, names=_names(ladder, seen, width)), width) for ladder in ladders]


def _fitting(rungs: Sequence[Rung], changes: Changes, width: float, height: float) -> list[Ladder]:
    """One ladder, or those of the halves of the rungs where it is too wide or too high."""
    rails = {rail for rung in rungs for rail in rung.rails}
    if (len(rails) - 1) * _NARROWEST <= width - 2.0:
        ladder = _ladder(rungs, changes, width)
        if ladder.height <= height or len(rungs) == 1:
            return [ladder]
    half = len(rungs) // 2
    parts = (rungs[:half], rungs[half:])
    return [one for part in parts for one in _fitting(part, changes, width, height)]


# Where things stand -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Lead:
    """From a side of a symbol to a rail; None is an open end.

    ``sign``: -1 left, 1 right, 0 the foot. ``level`` 0 runs straight, any other beneath the
    symbol, counted downwards. ``end`` is the number of the terminal.
    """

    rail: int | None
    sign: int
    level: int
    end: int


@dataclass(frozen=True, slots=True)
class PlacedRung:
    """A rung at its place; heights from the top of the row, mm."""

    rung: Rung
    tags: tuple[Tag, ...]
    below: tuple[str, ...]
    middle: float
    line: float
    """Height of the line through the symbol."""
    leads: tuple[Lead, ...]
    height: float

    @property
    def flipped(self) -> bool:
        """Whether the last terminal is at the left."""
        return any(lead.end and lead.sign < 0 for lead in self.leads)

    def level(self, number: int) -> float:
        """Height of a lead."""
        return self.line + (_size(self.rung.kind)[1] / 2 + _RETURN * number if number else 0.0)


@dataclass(frozen=True, slots=True)
class Name:
    """A rail's name over its upper end, its lines from a depth on downwards, mm."""

    lines: tuple[str, ...]
    align: str
    depth: float

    @property
    def foot(self) -> float:
        """Where its last line ends."""
        return self.depth + _LINE * len(self.lines)


@dataclass(frozen=True, slots=True)
class Ladder:
    """Rungs in bands, and their rails from the left with places and names."""

    rails: tuple[Rail, ...]
    at: Mapping[int, float]
    names: Mapping[int, Name]
    bands: tuple[tuple[PlacedRung, ...], ...]

    @property
    def height(self) -> float:
        """Millimetres."""
        bands = sum(max(r.line for r in b) + max(r.height - r.line for r in b) for b in self.bands)
        return max(name.foot for name in self.names.values()) + 3.0 + bands


def _ladder(rungs: Sequence[Rung], changes: Changes, width: float) -> Ladder:
    order = _rail_order(rungs)
    place = {rail: number for number, rail in enumerate(order)}
    wants = [max(tag.width for tag in _tags(r, changes, 1000.0)) + 2 * _CLEAR for r in rungs]
    edges = _edges([_gaps(rung, place) for rung in rungs], wants, max(len(order) - 1, 1), width)
    at = {rail: edges[number] for rail, number in place.items()}
    bands: list[list[PlacedRung]] = []
    for rung in rungs:
        row = _row(rung, changes, place, edges)
        first, last = _reach(rung, place)
        spans = ([_reach(other.rung, place) for other in band] for band in bands)
        free = (n for n, band in enumerate(spans) if all(last < a or b < first for a, b in band))
        number = next(free, len(bands))
        if number == len(bands):
            bands.append([])
        bands[number].append(row)
    rails = tuple(changes.rails[rail] for rail in order)
    ladder = Ladder(rails, at, {}, tuple(map(tuple, bands)))
    every = Counter(dict.fromkeys(order, 2))
    return replace(ladder, names=_names(ladder, every, width))


def _rail_order(rungs: Sequence[Rung]) -> list[int]:
    """An order of the rails with short rungs: each in turn is put where they are shortest."""
    reaches = Counter(tuple(sorted(rung.rails)) for rung in rungs if len(rung.rails) > 1)
    rails = list(dict.fromkeys(rail for rung in rungs for rail in sorted(rung.rails)))

    def length(order: Sequence[int]) -> int:
        at = {rail: number for number, rail in enumerate(order)}
        known = (([at[r] for r in reach if r in at], n) for reach, n in reaches.items())
        return sum(n * (max(places) - min(places)) for places, n in known if places)

    order: list[int] = []
    for _ in range(9):
        before = list(order)
        for rail in rails:
            others = [other for other in order if other != rail]
            trials = ([*others[:n], rail, *others[n:]] for n in range(len(others), -1, -1))
            order = min(trials, key=length)
        if order == before:
            break
    return order


def _gaps(rung: Rung, place: Mapping[int, int]) -> tuple[int, int]:
    """First and last gap between rails in which the symbol may stand.

    A rung that ends on one rail stands beside it, at the right where there is a right.
    """
    ends = {place[end] for end in (rung.ends[0], rung.ends[-1]) if end is not None}
    spots = sorted(ends or {place[rail] for rail in rung.rails})
    if len(spots) > 1:
        return spots[0], spots[-1] - 1
    gap = min(spots[0], max(len(place) - 2, 0))
    return gap, gap


def _reach(rung: Rung, place: Mapping[int, int]) -> tuple[int, int]:
    """First and last rail that a rung covers, the gap of its symbol included."""
    first, last = _gaps(rung, place)
    spots = [place[rail] for rail in rung.rails]
    return min(first, *spots), max(last + 1, *spots)


def _edges(
    gaps: Sequence[tuple[int, int]], wants: Sequence[float], count: int, width: float
) -> list[float]:
    """Places of the rails: gaps as wide as what must stand in them, the rest shared out evenly."""
    sizes = [_NARROWEST] * count
    for (first, last), want in sorted(zip(gaps, wants, strict=True), key=lambda p: -p[1]):
        if first == last:
            sizes[first] = max(sizes[first], min(want, _WIDEST))
    spare = width - 2.0 - sum(sizes)
    if spare >= 0:
        sizes = [size + min(spare / count, _WIDEST - _NARROWEST) for size in sizes]
    else:
        share = 1.0 + spare / (sum(sizes) - _NARROWEST * count)
        sizes = [_NARROWEST + (size - _NARROWEST) * share for size in sizes]
    edges = [max((width - sum(sizes)) / 2, 1.0)]
    for size in sizes:
        edges.append(edges[-1] + size)
    return edges


def _row(
    rung: Rung, changes: Changes, place: Mapping[int, int], edges: Sequence[float]
) -> PlacedRung:
    first, last = _gaps(rung, place)
    gap = max(range(first, last + 1), key=lambda g: (round(edges[g + 1] - edges[g], 3), -g))
    room = edges[gap + 1] - edges[gap] - 2 * _CLEAR
    tags = _tags(rung, changes, room)
    leads = _leads(rung, place, gap)
    below = wrap(visible(rung.below), room, _POINTS) if rung.below else ()
    half = _size(rung.kind)[1] / 2
    line = _ABOVE + sum(tag.height for tag in tags) + 0.5 * (len(tags) - 1) + _UNDER + half
    foot = line + half + _RETURN * max(lead.level for lead in leads)
    height = foot + (0.7 if below else 0.0) + _LINE * len(below) + _BELOW
    return PlacedRung(rung, tags, below, (edges[gap] + edges[gap + 1]) / 2, line, leads, height)


def _leads(rung: Rung, place: Mapping[int, int], gap: int) -> tuple[Lead, ...]:
    """Straight to two rails; else straight to one, and open, or back to it beneath the symbol."""
    last = len(rung.ends) - 1
    one, other = rung.ends[0], rung.ends[last]
    tap = [Lead(rung.ends[1], 0, 1, 1)] if last == 2 else []
    if one is not None and other is not None and one != other:
        sign = 1 if place[one] > place[other] else -1
        return (Lead(one, sign, 0, 0), Lead(other, -sign, 0, last), *tap)
    near, far = (last, 0) if one is None else (0, last)
    rail = rung.ends[near]
    sign = -1 if rail is None or place[rail] <= gap else 1
    back = 0 if rung.ends[far] is None else 1 + len(tap)
    return (Lead(rail, sign, 0, near), Lead(rung.ends[far], -sign, back, far), *tap)


def _names(ladder: Ladder, seen: Mapping[int, int], width: float) -> dict[int, Name]:
    """The rails' names as stairs that come down from both sides, so that none meets a rail."""
    order, names = ladder.rails, dict[int, Name]()
    depth = 0.0
    for number in range((len(order) + 1) // 2):
        left, right = order[number], order[len(order) - 1 - number]
        inner = ladder.at[order[len(order) - number].number] - 1.2 if number else width
        names[left.number] = _name(left, seen, inner - ladder.at[left.number], "left", depth)
        if left is right:
            break
        first = names[left.number]
        room = ladder.at[right.number] - ladder.at[left.number]
        second = _name(right, seen, room - 1.2, "right", depth)
        if room < _wide(first, left) + _wide(second, right) + 2.0:
            second = replace(second, depth=first.foot + 0.5)
        names[right.number] = second
        depth = max(first.foot, second.foot) + 0.5
    return names


def _name(rail: Rail, seen: Mapping[int, int], room: float, align: str, depth: float) -> Name:
    new = " (new)" if rail.fate == "new" else ""
    more = " …" if seen[rail.number] > 1 else ""
    text = f"{visible(rail.name)}{new}{more}"
    return Name(wrap(text, max(room, 6.0), _POINTS, _bold(rail)), align, depth)


def _bold(rail: Rail) -> bool:
    return rail.fate == "new" or bool(rail.points)


def _wide(name: Name, rail: Rail) -> float:
    return max(width_mm(line, _POINTS, _bold(rail)) for line in name.lines)


@dataclass(frozen=True, slots=True)
class Tag:
    """Lines of one side of a rung with its number, if it has one."""

    shows: str
    lines: tuple[str, ...]
    number: str
    fate: str
    """``kept``, ``removed`` or ``new``."""

    @property
    def badge(self) -> float:
        """Width of the number's box, mm."""
        return width_mm(self.number, _POINTS, bold=True) + 1.6 if self.number else 0.0

    @property
    def width(self) -> float:
        """With number and frame, mm."""
        new = self.fate == "new"
        return max(width_mm(line, _POINTS, new) for line in self.lines) + 1.4 + self.badge

    @property
    def height(self) -> float:
        """With frame, mm."""
        return _LINE * len(self.lines) + (0.8 if self.fate == "new" else 0.0)


def _tags(rung: Rung, changes: Changes, width: float) -> tuple[Tag, ...]:
    """From the top down, none wider than ``width`` mm."""
    number = str(changes.numbers.get(rung.key, ""))
    tags = []
    if rung.was is not None and rung.mark in ("removed", "replaced"):
        tags.append(_tag(rung.was, number if rung.mark == "removed" else "", "removed", width))
    if rung.now is not None:
        tags.append(_tag(rung.now, number, "kept" if rung.mark == "kept" else "new", width))
    return tuple(tags)


def _tag(side: Side, number: str, fate: str, width: float) -> Tag:
    """In one line if there is room, else the value under the name, else wrapped."""
    bare = Tag(f"{fate}:{side.shows}", ("",), number, fate)
    room, bold = width - bare.width, fate == "new"
    whole = visible(side.text)
    if width_mm(whole, _POINTS, bold) <= room:
        return replace(bare, lines=(whole,))
    pieces = (piece for piece in (side.name, side.value) if piece)
    lines = (line for piece in pieces for line in wrap(visible(piece), room, _POINTS, bold))
    return replace(bare, lines=tuple(lines))


def _tag_items(tag: Tag, middle: float, top: float) -> Iterator[Item]:
    new, gone = tag.fate == "new", tag.fate == "removed"
    left, foot = middle - tag.width / 2, top + tag.height
    field = Box(left + tag.badge, top, left + tag.width, foot)
    if tag.number:
        yield from _badge(tag, Box(left, top, field.left, foot))
    if new:
        yield Symbol("frame", field, tag.shows, width=0.35)
    first = field.centre[1] - _LINE * len(tag.lines) / 2
    for number, line in enumerate(tag.lines):
        height = first + _LINE * (number + 0.5)
        text = text_at(
            line, field.centre[0], middle_baseline(height, _POINTS), _POINTS, align="centre",
            bold=new, grey=_GREY if gone else 0.0, shows=tag.shows, on=tag.shows,
        )  # fmt: skip
        yield text
        if gone and line.strip():
            yield _strike((text.x - 0.3, height), (text.x + text.width + 0.3, height), tag.shows)


def _strike(start: XY, end: XY, shows: str) -> Line:
    return Line((start, end), shows, width=0.3, grey=0.25)


def _badge(tag: Tag, box: Box) -> Iterator[Item]:
    """White on black where it is new."""
    shows, new = f"number:{tag.number}:{tag.shows}", tag.fate == "new"
    x, y = box.centre
    yield Symbol(
        "frame", box, shows, width=0.35 if new else 0.2, dash="solid" if new else "dashed",
        fill="black" if new else "white", grey=0.0 if new else _GREY,
    )  # fmt: skip
    yield text_at(
        tag.number, x, middle_baseline(y, _POINTS), _POINTS, align="centre", bold=True,
        grey=1.0 if new else _GREY, shows=shows, on=shows,
    )  # fmt: skip


def _panel(ladder: Ladder, width: float) -> Panel:
    items: list[Item] = []
    y = max(name.foot for name in ladder.names.values()) + 1.5
    for band in ladder.bands:
        line = max(row.line for row in band)
        for row in band:
            items.extend(_row_items(row, y + line - row.line, ladder.at))
        y += line + max(row.height - row.line for row in band)
    bottom = y + 1.5
    for rail in ladder.rails:
        items.extend(_rail_items(rail, ladder.names[rail.number], ladder.at[rail.number], bottom))
    return Panel(tuple(items), width, bottom)


def _net(rail: int | None) -> str | None:
    return None if rail is None else f"rail {rail}"


def _rail_items(rail: Rail, name: Name, x: float, bottom: float) -> Iterator[Item]:
    width, dash, grey = _LOOKS[rail.fate]
    shows = f"rail:{rail.number}"
    yield Line(
        ((x, name.foot + 0.3), (x, bottom)), shows, _net(rail.number),
        width=0.45 if rail.fate == "kept" else width, dash=dash, grey=grey,
    )  # fmt: skip
    for number, line in enumerate(name.lines):
        height = name.depth + _LINE * (number + 0.5)
        text = text_at(
            line, x, middle_baseline(height, _POINTS), _POINTS, align=name.align, grey=grey,
            shows=f"{shows}:top", on=f"{shows}:top", bold=_bold(rail), net=_net(rail.number),
        )  # fmt: skip
        yield text
        if rail.fate == "removed":
            yield _strike((text.x, height), (text.x + text.width, height), f"{shows}:top")


def _row_items(row: PlacedRung, top: float, at: Mapping[int, float]) -> Iterator[Item]:
    rung = row.rung
    shows = f"rung:{rung.side.shows}" + (f":{rung.mark}" if rung.moved else "")
    y = top + _ABOVE
    for tag in row.tags:
        yield from _tag_items(tag, row.middle, y)
        y += tag.height + 0.5
    yield from _symbol(row, top, shows)
    for lead in row.leads:
        yield from _lead(row, lead, top, at, shows)
    foot = top + row.height - _BELOW - _LINE * len(row.below)
    for number, line in enumerate(row.below):
        yield _word(row, line, (row.middle, foot + _LINE * (number + 0.5)), f"{shows}:below")


def _word(row: PlacedRung, text: str, at: XY, shows: str, on: str = "") -> Item:
    grey = _GREY if row.rung.mark == "removed" else 0.0
    return text_at(
        text, at[0], middle_baseline(at[1], _POINTS), _POINTS, align="centre", grey=grey,
        shows=shows, on=on,
    )  # fmt: skip


def _symbol(row: PlacedRung, top: float, shows: str) -> Iterator[Item]:
    kind, mark = row.rung.kind, row.rung.mark
    width, dash, grey = _LOOKS["new" if mark == "replaced" and kind != "contact" else mark]
    box = around((row.middle, top + row.line), *_size(kind))
    y = box.centre[1]
    if kind == "contact":
        for x in (box.left + 0.65, box.right - 0.65):
            yield Symbol("disc", around((x, y), 1.3, 1.3), shows, width=0.3, grey=grey)
        blade = Box(box.left + 1.3, box.top - 0.3, box.right - 1.9, y)
        yield Symbol("rising", blade, shows, width=width, dash=dash, grey=grey)
    else:
        forms = {"tie": "box", "pot": "resistor-lying"}
        turned = "diode-up-lying" if kind == "diode" and row.flipped else f"{kind}-lying"
        yield Symbol(forms.get(kind, turned), box, shows, width=width, dash=dash, grey=grey)
    if kind == "meter":
        yield _word(row, row.rung.side.value.rpartition(" ")[2], box.centre, shows, on=shows)
        signs = "−+" if row.flipped else "+−"
        for sign, x in zip(signs, (box.left - 1.6, box.right + 1.6), strict=True):
            yield _word(row, sign, (x, y - 2.2), f"{shows}:sign")
    if kind == "pot":
        arrow = Box(row.middle - 0.7, box.bottom, row.middle + 0.7, box.bottom + 1.4)
        yield Symbol("flow-up", arrow, shows, width=0.1, grey=grey)
    if mark == "removed":
        yield _strike((box.left + 1.2, box.top - 0.4), (box.right - 1.2, box.bottom + 0.4), shows)


def _lead(
    row: PlacedRung, lead: Lead, top: float, at: Mapping[int, float], shows: str
) -> Iterator[Item]:
    """From the symbol to its rail with a dot, or to an open end."""
    width, dash, grey = _LOOKS[row.rung.mark]
    wide, tall = _size(row.rung.kind)
    level = top + row.level(lead.level)
    start = (row.middle + lead.sign * wide / 2, top + row.line + (0 if lead.sign else tall / 2))
    out = start[0] + lead.sign * _STUB
    if lead.rail is None:
        points = [start, (out, start[1] + (0.0 if lead.sign else _STUB))]
    elif lead.level == 0:
        points = [start, (at[lead.rail], start[1])]
    else:
        points = [start, *([(out, start[1])] if lead.sign else []), (out, level),
                  (at[lead.rail], level)]  # fmt: skip
    named, net = f"{shows}:{lead.end}", _net(lead.rail)
    yield Line(
        tuple(points), named, net, joins=(shows, f"end:{lead.end}"), width=width, dash=dash,
        grey=grey,
    )  # fmt: skip
    x, y = points[-1]
    if lead.rail is not None:
        yield Symbol("joint", around((x, y), 1.1, 1.1), named, net, fill="black", grey=grey)
        return
    ring = around((x + 0.6 * lead.sign, y + (0.0 if lead.sign else 0.6)), 1.2, 1.2)
    yield Symbol("disc", ring, named, None, grey=grey)
