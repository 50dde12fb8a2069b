"""What a lug view is drawn of: where the lugs of a switch stand, how they look, what they bear.

This is the only room where the lug view reads a wiring; placing and routing see these records.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from rewire.circuit.circuit import circuit_of
from rewire.draw.labels import Label
from rewire.draw.scene import XY, Box, Item, Symbol, around, middle_baseline, text_at, width_mm
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

POINTS = 8.0
HEIGHT = 4.4
"""Of a lug, mm."""
JUMPER = 0.5
"""Width of the line of a jumper, mm."""
LONGEST = 15.0
"""A wider name gives way to a number, mm."""
NARROW = 7.0
"""The same where lugs stand close."""
_LEAST_WIDTH = 5.0
_OUTLINES = ("square", "round", "pointed", "chamfered", "waisted", "slanted")
"""Outline of the lugs of the first, second … section of a switch."""
_IN_LINE = 4.0
"""An inner lug nearer to the direction of an outer one is drawn beside it, degrees."""
_BESIDE = 7.5
_NAMED_AT_MOST = 3


@dataclass(frozen=True, slots=True)
class Face:
    """How a lug looks: the name in it, its outline, its size in mm."""

    name: str
    shown: str
    outline: str
    common: bool
    width: float
    ghost: bool = False
    """Shown again in a later part of the same picture."""

    def box(self, centre: XY) -> Box:
        """Where it stands."""
        return around(centre, self.width, HEIGHT)

    def painted(self, centre: XY, net: str) -> list[Item]:
        """Outline and name about a centre."""
        shows = f"{'again' if self.ghost else 'lug'}:{self.name}"
        outline = Symbol(
            self.outline, self.box(centre), shows, net, width=0.55 if self.common else 0.3,
            dash="dashed" if self.ghost else "solid",
        )  # fmt: skip
        name = text_at(
            self.shown, centre[0], middle_baseline(centre[1], POINTS), POINTS, align="centre",
            bold=self.common, shows=shows, net=net, on=shows,
        )  # fmt: skip
        return [outline, name]


def faces_of(
    lugs: Iterable[str], section_of: Mapping[str, int], commons: set[str], longest: float = LONGEST
) -> list[Face]:
    """A face for each lug; names too long for a lug get a number, listed in a key.

    Past the sixth section the outlines come again, with a double line.
    """
    faces: list[Face] = []
    numbered = 0
    for name in lugs:
        shown = name
        if width_mm(name, POINTS, bold=True) > longest:
            numbered += 1
            shown = f"#{numbered}"
        again, section = divmod(section_of.get(name, len(_OUTLINES) - 1), len(_OUTLINES))
        outline = _OUTLINES[section] + ("-double" if again else "")
        width = max(_LEAST_WIDTH, width_mm(shown, POINTS, bold=name in commons) + 2.4)
        faces.append(Face(name, shown, outline, name in commons, width))
    return faces


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
class Jumper:
    """A wire from one lug of the switch to another of its lugs."""

    id: str
    ends: tuple[str, str]
    colour: str | None
    said: str
    """Its number as printed."""
    ends_said: tuple[str, str]
    """Its lugs as printed."""

    @property
    def shows(self) -> str:
        """How the scene names it."""
        return f"jumper:{self.id}"

    def labels(self, deck: Mapping[str, int]) -> Iterator[Label]:
        """Its two ends as labels that refer to each other, where no line can be drawn.

        ``deck`` gives a lug's deck by number, where the two ends are on different ones.
        """
        letters = f" {self.colour}" if self.colour else ""
        for here, there in ((0, 1), (1, 0)):
            on = f" (deck {deck[self.ends[there]]})" if deck else ""
            text = f"{self.said}{letters} → lug {self.ends_said[there]}{on}"
            yield Label(self.ends[here], "jumper", self.id, text, self.colour)


@dataclass(frozen=True, slots=True)
class Soldered:
    """Everything soldered to one switch in one wiring."""

    labels: tuple[Label, ...]
    jumpers: tuple[Jumper, ...]
    net_of: Mapping[str, str]
    """Bare lug → a name for its net that is the same for all lugs on it."""


def soldered_to(spec: Spec, wiring: Wiring, switch: Switch) -> Soldered:
    """What is soldered to a switch, in the order of the file: wires, leads of parts, nets."""
    own = {switch.terminal(lug): lug for lug in switch.terminals}
    circuit = circuit_of(spec, wiring)
    labels: list[Label] = []
    for wire in (*wiring.wires, *wiring.cut_wires):
        near, far = wire.ends if wire.ends[0] in own else wire.ends[::-1]
        if near in own and far not in own:
            text = f"{wire_named(wire.id, wire.colour)} → {'cut off' if far == CUT else far}"
            labels.append(Label(own[near], "wire", wire.id, text, wire.colour))
    for part in circuit.parts.values():
        for lug, place in zip(part.terminals, part.between or (), strict=False):
            if place in own:
                lead = part.terminal(lug)
                labels.append(Label(own[place], "part", lead, f"{lead}, the part's own lead"))
    for net in wiring.nets:
        labels += (
            Label(own[one], "net", _net_id(net, one), _on_net(net, one, own))
            for one in net.members if one in own
        )  # fmt: skip
    jumpers = []
    for wire in wiring.wires:
        first, second = (own.get(end) for end in wire.ends)
        if first is not None and second is not None:
            ends = (first, second)
            jumpers.append(Jumper(wire.id, ends, wire.colour, wire.id, ends))
    net_of = {lug: f"net {circuit.nets.of[terminal]}" for terminal, lug in own.items()}
    return Soldered(tuple(labels), tuple(jumpers), net_of)


def wire_named(number: str, colour: str | None) -> str:
    """Number and colour letters: ``W12 RD``."""
    return f"{number} {colour}" if colour else number


def _net_id(net: Net, member: str) -> str:
    return f"{net.name or net.place}@{member}"


def _on_net(net: Net, member: str, own: Mapping[str, str]) -> str:
    """Points before lugs of parts: a point is a place one can put a finger on."""
    others = sorted((m for m in net.members if m != member), key=lambda m: "." in m)
    short = [own.get(m, m) for m in others]
    shown = ", ".join(short[:_NAMED_AT_MOST])
    more = len(short) - _NAMED_AT_MOST
    tail = f" and {more} more" if more > 0 else ""
    head = f"{net.name}: " if net.name else ""
    return f"{head}on net with {shown}{tail}" if short else f"{head}on a net of its own"


@dataclass(frozen=True, slots=True)
class Drawing:
    """A single wafer or grid, and what is drawn of it."""

    unit: Wafer | Grid
    faces: Mapping[str, Face]
    labels: tuple[Label, ...]
    jumpers: tuple[Jumper, ...]
    net_of: Mapping[str, str]

    def told(self, jumpers: Iterable[Jumper]) -> Drawing:
        """The same with some jumpers as labels in place of lines."""
        out = list(jumpers)
        labels = (label for jumper in out for label in jumper.labels({}))
        kept = tuple(jumper for jumper in self.jumpers if jumper not in out)
        return replace(self, labels=(*self.labels, *labels), jumpers=kept)
