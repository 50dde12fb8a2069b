"""A block: something beside the switches while it is drawn, and when it is done.

A block is drawn about an origin at its inner end; ``u`` counts outwards from the switch, so that
a block is turned to the other side by its sign.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from rewire.draw.courses import Door
from rewire.draw.leads import FINE, POINTS, Lead, Stop, Tag, Thing, drawn
from rewire.draw.scene import (
    XY,
    Box,
    Item,
    Line,
    Symbol,
    Text,
    around,
    hull,
    line_mm,
    middle_baseline,
    text_at,
    visible,
    width_mm,
    wrap,
)
from rewire.records.part import Part

_WIDEST = 34.0
"""Of a point's name and place, mm."""
OUT = 3.0
"""How far a wire runs straight out of a block, mm."""
CHASSIS = (5.0, 3.0)
"""Width and height of the symbol, mm."""


@dataclass(frozen=True, slots=True)
class Block:
    """Something beside the switch, drawn about its own origin."""

    items: tuple[Item, ...]
    doors: Mapping[tuple[str, str], tuple[Door, ...]]
    """(``shows`` of a lead, terminal) → where its course may begin."""
    box: Box
    solid: tuple[Box, ...]
    """What no wire may run through."""
    within: frozenset[str] = frozenset()
    """``shows`` of the leads that are drawn whole inside the block."""
    rim: float | None = None
    """The x of what belongs to the rim of the picture; None where nothing does."""

    def moved(self, dx: float, dy: float) -> Block:
        """The block at another place."""
        return replace(
            self, items=tuple(item.moved(dx, dy) for item in self.items),
            doors={key: tuple(door.moved(dx, dy) for door in ways)
                   for key, ways in self.doors.items()},
            box=self.box.moved(dx, dy), solid=tuple(box.moved(dx, dy) for box in self.solid),
        )  # fmt: skip


@dataclass(slots=True)
class Pen:
    """A block while it is drawn; the x of a place is ``side`` times its ``u``."""

    thing: Thing
    side: int
    flat: bool = False
    """Whether names and values of parts stand on one line."""
    items: list[Item] = field(default_factory=list)
    doors: dict[tuple[str, str], tuple[Door, ...]] = field(default_factory=dict)
    solid: list[Box] = field(default_factory=list)
    within: set[str] = field(default_factory=set)

    def at(self, u: float, y: float) -> XY:
        """The place in the picture of one in ``u`` and y, mm."""
        return (self.side * u, y)

    def box(self, u0: float, u1: float, top: float, bottom: float) -> Box:
        """The box between two ``u`` and two heights, mm."""
        left, right = sorted((self.side * u0, self.side * u1))
        return Box(left, top, right, bottom)

    def symbol(self, kind: str, box: Box, shows: str, net: str | None, width: float = FINE) -> None:
        """A symbol that no wire may run through."""
        self.items.append(Symbol(kind, box, shows, net, width))
        self.solid.append(box)

    def door(self, lead: Lead, terminal: str, *ways: tuple[XY, XY]) -> None:
        """Ways out, each from a place to another, in ``u`` and y."""
        self.doors[lead.shows, terminal] = tuple(
            Door((self.at(*start), self.at(*end)), start[0] == end[0]) for start, end in ways
        )

    def link(self, lead: Lead, *points: XY) -> None:
        """A lead that is drawn whole in the block."""
        self.items.append(drawn(lead, [self.at(*point) for point in points]))
        self.within.add(lead.shows)

    def chassis(self, lead: Lead, u: float, y: float) -> None:
        """Its symbol, named where there is more than one chassis."""
        box = around(self.at(u, y + CHASSIS[1] / 2), *CHASSIS)
        point = next(end for end in lead.ends if end in self.thing.chassis)
        self.symbol("chassis", box, f"lug:{point}", lead.net)
        if len(self.thing.chassis) > 1:
            self.words([(visible(point), False)], u, box.bottom, "centre", f"point:{point}")

    def words(self, said: Sequence[tuple[str, bool]], u: float, top: float, align: str,
              shows: str, on: str = "") -> float:  # fmt: skip
        """Lines of text under each other; the height below them."""
        how = {"centre": "centre", "outwards": "left" if self.side > 0 else "right",
               "inwards": "right" if self.side > 0 else "left"}[align]  # fmt: skip
        for number, (line, bold) in enumerate(said):
            base = middle_baseline(top + line_mm(POINTS) * (number + 0.5), POINTS)
            self.items.append(text_at(line, self.side * u, base, POINTS, how, bold=bold,
                                      shows=shows, on=on))  # fmt: skip
        return top + line_mm(POINTS) * len(said)

    def done(self, rim: float | None = None) -> Block:
        """The block as it is drawn; ``rim`` is the ``u`` of what belongs to the rim."""
        texts = [item.box.grown(0.2) for item in self.items if isinstance(item, Text)]
        lines = [i.box for i in self.items if isinstance(i, Line)]
        ends = [around(d.points[-1], 0.0, 0.0) for ways in self.doors.values() for d in ways[:1]]
        solid = (*self.solid, *texts, *(box.grown(0.4) for box in lines))
        return Block(
            tuple(self.items), self.doors, hull([*solid, *ends]), solid, frozenset(self.within),
            rim and self.side * rim,
        )  # fmt: skip


def shows_of(stop: Stop) -> str:
    """How the scene names a part or a point."""
    assert stop.what is not None
    return f"part:{stop.what.name}" if isinstance(stop.what, Part) else stop.what.shows


def tag_said(what: Tag) -> list[tuple[str, bool]]:
    """Name and volts of a point, then its place: lines, each with whether it is bold."""
    name = visible(what.name)
    both = f"{name} {what.volts}".rstrip()
    fits = width_mm(both, POINTS, bold=True) <= _WIDEST
    first = [both] if fits else [*wrap(name, _WIDEST, POINTS, bold=True), what.volts]
    where = _balanced(visible(what.where)) if what.where else ()
    return [*((line, True) for line in first), *((line, False) for line in where)]


def _balanced(text: str) -> tuple[str, ...]:
    """The text in as few lines as it takes, these as narrow as can be."""
    most = len(wrap(text, _WIDEST, POINTS))
    widths = (_WIDEST * n / 16 for n in range(8, 17))
    return next(lines for width in widths if len(lines := wrap(text, width, POINTS)) == most)
