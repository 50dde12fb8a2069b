"""Where the lugs of a switch stand as one looks at it, and what is soldered to each, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from rewire.circuit.circuit import circuit_of
from rewire.records.part import Section
from rewire.records.spec import CUT, Net, Spec, Wiring
from rewire.records.switches import (
    Position,
    Switch,
    lug_positions,
    moving_lug,
    pile_column,
    pole_letters,
    resting_on,
    style_of,
)

_IN_LINE = 4.0
"""An inner lug nearer to the direction of an outer one is drawn beside it, degrees."""
_BESIDE = 7.5
_NAMED_AT_MOST = 3


@dataclass(frozen=True, slots=True)
class Wafer:
    """One deck of a rotary switch: lugs at clock angles in degrees, as drawn."""

    title: str
    outer: tuple[tuple[str, float], ...]
    inner: tuple[tuple[str, float], ...] = ()

    @property
    def lugs(self) -> tuple[str, ...]:
        """Outer before inner."""
        return tuple(lug for lug, _ in self.outer + self.inner)

    def mirrored(self) -> Wafer:
        """The wafer as seen from the other side."""
        outer, inner = (tuple((lug, -at % 360) for lug, at in ring)
                        for ring in (self.outer, self.inner))  # fmt: skip
        return Wafer(self.title, outer, inner)


@dataclass(frozen=True, slots=True)
class Spring:
    """A fixed spring beside a moving one."""

    moving: str
    fixed: str
    closed: bool
    """Whether the two touch in the control's first position."""
    rank: int
    """1 is next to the moving spring; the others reach over it."""


@dataclass(frozen=True, slots=True)
class Pile:
    """The springs of a relay or jack, as the trade draws them: each with its lug at the rear.

    The spring that moves is long; above it lie the springs that it rests on, below it those
    that it goes to when the relay pulls or the plug goes in.
    """

    kind: str
    """``relay`` or ``jack``."""
    springs: tuple[Spring, ...]
    facing: int = 1
    """1 where the lugs stand at the right ends of the springs, else -1."""
    moved: Mapping[str, float] = field(default_factory=dict)
    """Moving spring → how far it stands from its rest, of its way to the spring it goes to."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Lugs in rows and columns; None is an empty place."""

    rows: tuple[tuple[str | None, ...], ...]
    pile: Pile | None = None
    """The springs of lugs that stand in one column."""

    @property
    def lugs(self) -> tuple[str, ...]:
        """Row by row."""
        return tuple(lug for row in self.rows for lug in row if lug is not None)

    def mirrored(self) -> Grid:
        """The lugs as seen from the other side."""
        rows = tuple(row[::-1] for row in self.rows)
        pile = self.pile and replace(self.pile, facing=-self.pile.facing)
        return Grid(rows, pile)


Arrangement = Grid | tuple[Wafer, ...]


def arrange(switch: Switch, *, mirrored: bool = False, position: int = 0) -> Arrangement:
    """The lugs of a switch as seen from behind, or mirrored as from the front.

    Springs stand as they do in a position, counted from 0.
    """
    positions = lug_positions(switch)
    if not positions.round:
        grid = Grid(positions.grid, _pile(switch, position) if switch.layout is None else None)
        return grid.mirrored() if mirrored else grid
    decks = positions.decks
    wafers = (_wafer(switch, deck, n, len(decks)) for n, deck in enumerate(decks, start=1))
    return tuple(wafer.mirrored() if mirrored else wafer for wafer in wafers)


def _wafer(switch: Switch, deck: Sequence[Position], number: int, count: int) -> Wafer:
    outer = tuple((p.lug, p.clock or 0.0) for p in deck if not p.inner)
    inner = tuple((p.lug, _beside(p.clock or 0.0, [a for _, a in outer])) for p in deck if p.inner)
    there = {one.lug for one in deck}
    named = zip(pole_letters(len(switch.poles)), switch.poles, strict=True)
    letters = [letter for letter, pole in named if pole[0] in there]
    poles = f": pole{'s' if len(letters) > 1 else ''} {', '.join(letters)}" if letters else ""
    near = " (nearest the knob)" if number == 1 else ""
    return Wafer(f"deck {number} of {count}{near}{poles}" if count > 1 else "", outer, inner)


def _beside(at: float, outer: Sequence[float]) -> float:
    """An inner lug's direction, a little past the outer lug that would bar its leader."""
    barred = any(min((at - other) % 360, (other - at) % 360) < _IN_LINE for other in outer)
    return (at + _BESIDE) % 360 if barred else at


def _pile(switch: Switch, position: int) -> Pile | None:
    """Which springs of a pile touch; None where the lugs are not a pile of springs."""
    if pile_column(switch) is None:
        return None
    springs = tuple(one for section in switch.sections for one in _springs(section))
    moved = {one.moving: _moved(switch, one.moving, springs, position) for one in springs}
    return Pile(style_of(switch), springs, moved=moved) if springs else None


def _moved(switch: Switch, moving: str, springs: Sequence[Spring], position: int) -> float:
    """0 where a spring rests, 1 where it touches what it goes to, between where it touches none."""
    groups = (g for section in switch.sections for g in section.groups[position] if moving in g)
    touched = {lug for group in groups for lug in group}
    own = [one for one in springs if one.moving == moving]
    if any(one.fixed in touched for one in own if not one.closed):
        return 1.0
    resting = [one.fixed for one in own if one.closed]
    return 0.5 if resting and touched.isdisjoint(resting) else 0.0


def _springs(section: Section) -> Iterator[Spring]:
    moving = moving_lug(section)
    if moving is None:
        return
    resting = resting_on(section, moving)
    thrown = [lug for lug in section.lugs if lug != moving and lug not in resting]
    for closed, lugs in ((True, resting), (False, thrown)):
        yield from (Spring(moving, lug, closed, rank) for rank, lug in enumerate(lugs, 1))


@dataclass(frozen=True, slots=True)
class Label:
    """One thing soldered to a lug, in words."""

    kind: Literal["wire", "part", "net", "jumper"]
    id: str
    text: str
    colour: str | None = None

    @property
    def shows(self) -> str:
        """How the scene names it."""
        return f"{self.kind}:{self.id}"


def soldered_to(spec: Spec, wiring: Wiring, switch: Switch) -> dict[str, list[Label]]:
    """What is soldered to each lug: wires, leads of parts, nets, then jumpers at both ends."""
    own = {switch.terminal(lug): lug for lug in switch.terminals}
    found: dict[str, list[Label]] = {lug: [] for lug in switch.terminals}
    for told in (_wires(wiring, own), _leads(spec, wiring), _nets(wiring, own)):
        for terminal, label in told:
            if terminal in own:
                found[own[terminal]].append(label)
    return found


def _wires(wiring: Wiring, own: Mapping[str, str]) -> Iterator[tuple[str, Label]]:
    """Both ends of every wire, those of jumpers last."""
    wires = [(wire, own.keys() >= {*wire.ends}) for wire in (*wiring.wires, *wiring.cut_wires)]
    for wire, jumper in sorted(wires, key=lambda one: one[1]):
        for near, far in (wire.ends, wire.ends[::-1]):
            there = f"lug {own[far]}" if jumper else "cut off" if far == CUT else far
            text = f"{wire_named(wire.id, wire.colour)} → {there}"
            yield near, Label("jumper" if jumper else "wire", wire.id, text, wire.colour)


def _leads(spec: Spec, wiring: Wiring) -> Iterator[tuple[str, Label]]:
    """Leads of parts by what they are soldered to."""
    for part in circuit_of(spec, wiring).parts.values():
        for lug, place in zip(part.terminals, part.between or (), strict=False):
            lead = part.terminal(lug)
            yield place, Label("part", lead, f"{lead}, the part's own lead")


def _nets(wiring: Wiring, own: Mapping[str, str]) -> Iterator[tuple[str, Label]]:
    """Members of nets of which no wires are given."""
    for net in wiring.nets:
        for one in net.members:
            yield one, Label("net", f"{net.name or net.place}@{one}", _on_net(net, one, own))


def wire_named(number: str, colour: str | None) -> str:
    """Number and colour letters: ``W12 RD``."""
    return f"{number} {colour}" if colour else number


def _on_net(net: Net, member: str, own: Mapping[str, str]) -> str:
    """Points before lugs of parts: a point is a place one can put a finger on."""
    others = sorted((m for m in net.members if m != member), key=lambda m: "." in m)
    short = [own.get(m, m) for m in others]
    shown = ", ".join(short[:_NAMED_AT_MOST])
    more = len(short) - _NAMED_AT_MOST
    tail = f" and {more} more" if more > 0 else ""
    head = f"{net.name}: " if net.name else ""
    return f"{head}on net with {shown}{tail}" if short else f"{head}on a net of its own"
