"""The lugs of a switch as they are drawn, before sizes: wafers, or rows and columns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from rewire.draw.lugview.contacts import Pile, pile_of
from rewire.records.lug_positions import Position, lug_positions
from rewire.records.spec import Switch
from rewire.records.switches import pole_letters

_IN_LINE = 4.0
"""An inner lug nearer to the direction of an outer one is drawn beside it, degrees."""
_BESIDE = 7.5


@dataclass(frozen=True, slots=True)
class Wafer:
    """One deck of a rotary switch: lugs at clock angles in degrees, as drawn."""

    title: str
    outer: tuple[tuple[str, float], ...]
    inner: tuple[tuple[str, float], ...] = ()
    tracks: int = 0
    """Jumper tracks there is room for, at least."""

    @property
    def lugs(self) -> tuple[str, ...]:
        """Outer before inner."""
        return tuple(lug for lug, _ in self.outer + self.inner)

    def mirrored(self) -> Wafer:
        """The wafer as seen from the other side."""
        turned = [tuple((lug, -at % 360) for lug, at in ring) for ring in (self.outer, self.inner)]
        return replace(self, outer=turned[0], inner=turned[1])

    def renamed(self, name: Callable[[str], str]) -> Wafer:
        """The wafer with other names for its lugs."""
        rings = [tuple((name(lug), at) for lug, at in ring) for ring in (self.outer, self.inner)]
        return replace(self, outer=rings[0], inner=rings[1])


@dataclass(frozen=True, slots=True)
class Grid:
    """Lugs in rows and columns; None is an empty place."""

    rows: tuple[tuple[str | None, ...], ...]
    pile: Pile | None = None
    """The springs of a relay or jack, whose lugs stand in one column."""
    lanes: tuple[int, ...] = ()
    """Jumpers there is room for between the columns, at least; counted from the left edge."""

    @property
    def lugs(self) -> tuple[str, ...]:
        """Row by row."""
        return tuple(lug for row in self.rows for lug in row if lug is not None)

    def mirrored(self) -> Grid:
        """The lugs as seen from the other side."""
        rows = tuple(tuple(reversed(row)) for row in self.rows)
        pile = self.pile and replace(self.pile, facing=-self.pile.facing)
        return replace(self, rows=rows, lanes=self.lanes[::-1], pile=pile)

    def renamed(self, name: Callable[[str], str]) -> Grid:
        """The same with other names for its lugs."""
        rows = tuple(tuple(None if lug is None else name(lug) for lug in row) for row in self.rows)
        return replace(self, rows=rows, pile=self.pile and self.pile.renamed(name))


Arrangement = Grid | tuple[Wafer, ...]


def arrange(switch: Switch) -> Arrangement:
    """The lugs of a switch as seen from behind."""
    positions = lug_positions(switch)
    if not positions.round:
        return Grid(positions.grid, pile_of(switch) if switch.layout is None else None)
    decks = positions.decks
    return tuple(_wafer(switch, deck, n, len(decks)) for n, deck in enumerate(decks, start=1))


def _wafer(switch: Switch, deck: Sequence[Position], number: int, count: int) -> Wafer:
    outer = tuple((p.lug, p.clock or 0.0) for p in deck if not p.inner)
    inner = ((p.lug, p.clock or 0.0) for p in deck if p.inner)
    beside = tuple((lug, _beside(at, [a for _, a in outer])) for lug, at in inner)
    return Wafer(_deck_title(number, count, _poles_on(switch, deck)), outer, beside)


def _beside(at: float, outer: Sequence[float]) -> float:
    """An inner lug's direction, a little past the outer lug that would bar its leader."""
    barred = any(min((at - other) % 360, (other - at) % 360) < _IN_LINE for other in outer)
    return (at + _BESIDE) % 360 if barred else at


def _poles_on(switch: Switch, deck: Sequence[Position]) -> str:
    there = {one.lug for one in deck}
    named = zip(pole_letters(len(switch.poles)), switch.poles, strict=True)
    letters = [letter for letter, pole in named if pole[0] in there]
    return f": pole{'s' if len(letters) > 1 else ''} {', '.join(letters)}" if letters else ""


def _deck_title(number: int, count: int, poles: str) -> str:
    if count == 1:
        return ""
    near = " (nearest the knob)" if number == 1 else ""
    return f"deck {number} of {count}{near}{poles}"
