"""What is joined to what on the bench: every wire, jumper, own lead, and a way to join each net.

Beside them what they lead to: stops in a row, or one thing with several lugs.

A net says what is joined, not by which wires. One way to join it is proposed: the least tree
over its members (Kruskal, Proc. Amer. Math. Soc. 7, 1956), with guesses for distances, because
nothing is placed yet.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from networkx.utils import UnionFind

from rewire.circuit.circuit import Circuit, circuit_of
from rewire.draw.lugs import wire_named
from rewire.draw.scene import (
    XY,
    Dash,
    Item,
    Line,
    Symbol,
    around,
    middle_baseline,
    text_at,
    visible,
    width_mm,
)
from rewire.records.part import Part
from rewire.records.spec import CUT, Net, Spec, Wiring
from rewire.records.switches import Position, Switch, lug_positions

POINTS = 8.0
"""Size of every word, points."""
SHADES = {
    "BK": "#1a1a1a", "BN": "#7b4a22", "RD": "#c9211e", "OG": "#f07d00", "YE": "#f5d800",
    "GN": "#2f8f2f", "BU": "#1f5fbf", "VT": "#7a3fa0", "GY": "#8c8c8c", "WH": "#ffffff",
    "PK": "#f3a6bd", "GD": "#cfa93a", "TQ": "#3fbfb5", "SR": "#c9ced3",
}  # fmt: skip
"""Letters of IEC 60757 → the shade a swatch is filled with (our own choice of shades)."""
FINE, NEW, WIRE = 0.3, 0.7, 1.0
"""The three line weights: symbols, bare leads, tags and frames; parts that are new; wires; mm."""
TAG_HEIGHT = 3.3
LIVE = "⚡"
MANY_LEADS = 3
"""A point with more leads is drawn as a bar of its own."""
_APART, _TO_CHASSIS, _ELSEWHERE, _DECK = 60.0, 26.0, 40.0, 30.0
"""Guesses of how far two terminals are from each other, mm."""
_RING, _CELL = 22.0, 9.0


@dataclass(frozen=True, slots=True)
class Lead:
    """Something conducting from one terminal to another."""

    kind: Literal["wire", "jumper", "lead", "net"]
    id: str
    ends: tuple[str, str]
    net: str
    colour: str | None = None

    @property
    def shows(self) -> str:
        """How the scene names it."""
        return f"{self.kind}:{self.id}"

    @property
    def said(self) -> str:
        """Number and colour letters; empty for own leads and nets."""
        return wire_named(self.id, self.colour) if self.kind in ("wire", "jumper") else ""


@dataclass(frozen=True, slots=True)
class Tag:
    """A place to solder to: a point of the set, a tag of a long strip."""

    name: str
    shows: str
    volts: str = ""
    live: bool = False
    where: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Stop:
    """A part, a point, or the chassis at the end of one lead, somewhere in a row."""

    what: Part | Tag | None
    ends: tuple[str, str]
    """Its terminal towards the switch and the one away from it; the same of a point."""
    value: tuple[str, ...] = ()
    new: bool = False
    clip: str = ""
    """What a voltmeter clipped across it says of a current."""


@dataclass(frozen=True, slots=True)
class Thing:
    """A row of stops; or one part or point with several lugs."""

    stops: tuple[Stop, ...]
    links: tuple[Lead, ...]
    """From each stop to the next."""
    leads: tuple[tuple[Lead, str], ...]
    """Those that leave it, or join two lugs of one part; each with the terminal it leaves."""
    chassis: frozenset[str]
    """Names of the points that are drawn by the symbol of the chassis."""

    @property
    def lugged(self) -> bool:
        """Whether it is one thing with a row of lugs."""
        what = self.stops[0].what
        if len(self.stops) > 1 or what is None:
            return False
        return len(self.leads) > MANY_LEADS if isinstance(what, Tag) else not lies(what)

    def at(self, terminal: str) -> list[Lead]:
        """The leads that leave one of its terminals."""
        return [lead for lead, end in self.leads if end == terminal]


def lies(part: Part) -> bool:
    """Whether it is a part of two leads, drawn by its symbol."""
    return part.two_ended and not part.shows_readings


def rails_of(spec: Spec, leads: Sequence[Lead]) -> set[str]:
    """Points that so many parts lead to that each says so by itself, as it does of chassis."""
    ends = Counter(end for lead in leads if lead.kind == "lead" for end in lead.ends)
    return {name for name, point in spec.points.items()
            if not point.chassis and ends[name] > MANY_LEADS}  # fmt: skip


def leads_of(spec: Spec, wiring: Wiring) -> list[Lead]:
    """Every lead of a wiring, in the order of the file; proposals for nets last."""
    circuit = circuit_of(spec, wiring)
    found = [*_wires(circuit), *_own_leads(circuit)]
    joined: UnionFind[str] = UnionFind()
    for lead in found:
        joined.union(*lead.ends)
    distance = _distances(spec, wiring)
    for net in wiring.nets:
        found += _proposed(circuit, net, joined, distance)
    return found


def _net(circuit: Circuit, terminal: str) -> str:
    return f"net {circuit.nets.of[terminal]}"


def _wires(circuit: Circuit) -> Iterator[Lead]:
    for wire in (*circuit.wiring.wires, *circuit.wiring.cut_wires):
        there = next(end for end in wire.ends if end != CUT)
        kind: Literal["jumper", "wire"] = "jumper" if wire.jumper else "wire"
        yield Lead(kind, wire.id, wire.ends, _net(circuit, there), wire.colour)


def _own_leads(circuit: Circuit) -> Iterator[Lead]:
    seen: set[frozenset[str]] = set()
    for part in circuit.parts.values():
        for lug, place in zip(part.terminals, part.between or (), strict=False):
            terminal = part.terminal(lug)
            if frozenset((terminal, place)) not in seen:
                seen.add(frozenset((terminal, place)))
                yield Lead("lead", terminal, (terminal, place), _net(circuit, terminal))


def _proposed(
    circuit: Circuit, net: Net, joined: UnionFind[str], distance: Callable[[str, str], float]
) -> Iterator[Lead]:
    pairs = sorted(combinations(net.members, 2), key=lambda pair: distance(*pair))
    number = 0
    for one, other in pairs:
        if joined[one] != joined[other]:
            joined.union(one, other)
            number += 1
            name = f"{net.name or net.place}@{number}"
            yield Lead("net", name, (one, other), _net(circuit, one))


def _distances(spec: Spec, wiring: Wiring) -> Callable[[str, str], float]:
    """A guess of how far two terminals will be from each other, mm."""
    at: dict[str, tuple[str, Position]] = {
        switch.terminal(lug): (name, position)
        for name, switch in spec.all_of(Switch, wiring).items()
        for lug, position in lug_positions(switch).of.items()
    }
    chassis = {point.name for point in spec.points.values() if point.chassis}

    def distance(one: str, other: str) -> float:
        if one in chassis or other in chassis:
            return _TO_CHASSIS
        if one not in at or other not in at:
            same = one.split(".")[0] == other.split(".")[0]
            return _CELL if same else _ELSEWHERE
        (switch, here), (across, there) = at[one], at[other]
        return _between(here, there) if switch == across else _APART

    return distance


def _between(one: Position, other: Position) -> float:
    decks = _DECK * abs(one.deck - other.deck)
    if one.clock is None or other.clock is None:
        return decks + _CELL * (abs(one.row - other.row) + abs(one.column - other.column))
    (x, y), (u, v) = (
        (r * math.sin(math.radians(p.clock or 0.0)), r * math.cos(math.radians(p.clock or 0.0)))
        for p in (one, other) for r in (_RING / 2 if p.inner else _RING,)
    )  # fmt: skip
    return decks + math.hypot(x - u, y - v)


# Lines and tags ---------------------------------------------------------------------------


def drawn(lead: Lead, points: Sequence[XY]) -> Line:
    """The line of a lead: a wire in its colour, an own lead thin, a proposal dashed."""
    ends = tuple(
        f"{kind}:{name}" for end in lead.ends
        for kind, name in (("lug", end), ("part", end.partition(".")[0]))
    )  # fmt: skip
    dash: Dash = "dashed" if lead.kind == "net" else "solid"
    if lead.colour is None or lead.kind in ("lead", "net"):
        return Line(tuple(points), lead.shows, lead.net, ends, FINE, dash)
    shades = [SHADES.get(lead.colour[n : n + 2], "#ffffff") for n in range(0, len(lead.colour), 2)]
    return Line(
        tuple(points), lead.shows, lead.net, ends, WIRE, colour=shades[0], cased=True,
        stripe=shades[1] if len(shades) > 1 else None,
    )  # fmt: skip


def tag_size(said: str) -> XY:
    """Width and height of a wire's tag, mm."""
    return (width_mm(visible(said), POINTS) + 1.4, TAG_HEIGHT)


def tag(lead: Lead, at: XY) -> list[Item]:
    """Number and letters of a wire upon its line."""
    box = around(at, *tag_size(lead.said))
    text = text_at(
        visible(lead.said), at[0], middle_baseline(at[1], POINTS), POINTS, "centre",
        shows=lead.shows, net=lead.net, on=lead.shows,
    )  # fmt: skip
    return [Symbol("tag", box, lead.shows, lead.net, FINE), text]
