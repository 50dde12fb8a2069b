"""Rigs of any size, and the peer: a networkx graph built anew for each state.

A rig is a big set as it might be met: switches of one to four poles and two to 24 throws, each
common and most throws on a point of their own, some throws shared between the poles, some on the
ground bar of their panel, some unused. In the substitute one wire in a hundred is lost, and one
in two hundred has changed places with the next. All is invented, by a generator of fixed seed.
"""

from __future__ import annotations

import itertools
import random
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import prod

import networkx as nx

from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch

THROWS = (2, 3, 4, 5, 6, 8, 11, 12, 18, 24)
LARGEST = 10_000
PANEL = 12
"""Switches on a panel."""
SAMPLE = 40
"""States in which the peer is measured; the others take as long."""

Wires = list[tuple[str, str]]


@dataclass(slots=True)
class Rig:
    """A rig while it grows."""

    seed: int
    knobs: list[tuple[str, int]] = field(default_factory=list)
    parts: list[str] = field(default_factory=list)
    wires: Wires = field(default_factory=list)
    points: dict[str, None] = field(default_factory=dict)
    lugs: int = 0
    luck: random.Random = field(init=False)

    def __post_init__(self) -> None:
        self.luck = random.Random(self.seed)

    def add(self, knob: str, throws: int) -> None:
        """One more switch on a knob."""
        name = f"S{len(self.parts)}"
        poles = "ABCD"[: self.luck.randint(1, 4)]
        timing = self.luck.choice(("shorting", "non-shorting"))
        kind = f"{len(poles)}P{throws}T"
        self.parts.append(f"      {name}: {{switch: {kind}, control: {knob}, timing: {timing}}}")
        for pole in poles:
            self.wire(f"{name}.{pole}", f"{name}-{pole}")
            for throw in range(1, throws + 1):
                self.wire_throw(name, pole, throw)
        self.lugs += len(poles) * (throws + 1)

    def wire_throw(self, name: str, pole: str, throw: int) -> None:
        """A throw to a point of its own, to one it shares, to the chassis, or nowhere."""
        where = self.luck.random()
        shared = "A" if where < 0.4 else pole
        if where > 0.1:
            to = self.bar() if where < 0.2 else f"{name}-{shared}-{throw}"
            self.wire(f"{name}.{pole}{throw}", to)

    def bar(self) -> str:
        """The ground bar of the panel that grows.

        On one chassis for all, a lead that newly gets there meets whatever any other switch puts
        on it: the findings themselves would grow with the square, whoever counts them.
        """
        return f"BAR{len(self.parts) // PANEL}"

    def wire(self, lug: str, point: str) -> None:
        """A wire from a lug to a point."""
        self.points[point] = None
        self.wires.append((lug, point))

    def botched(self) -> Wires:
        """The wires as somebody else put them."""
        kept = [wire for wire in self.wires if self.luck.random() > 0.01]
        for place, ((lug, here), (other, there)) in enumerate(itertools.pairwise(kept)):
            if self.luck.random() < 0.005:
                kept[place : place + 2] = [(lug, there), (other, here)]
        return kept

    def text(self) -> bytes:
        """The spec."""
        return "\n".join([
            "rewire: 1", "title: a large rig", "controls:", *_stops(self.knobs),
            "points:", *(f"  {point}: {{}}" for point in self.points), "wirings:",
            "  original:", "    parts:", *self.parts, "    wires:", *_written(self.wires),
            "  substitute:", "    parts:", *self.parts, "    wires:", *_written(self.botched()),
        ]).encode()  # fmt: skip


def _stops(knobs: Sequence[tuple[str, int]]) -> Iterator[str]:
    for knob, throws in knobs:
        yield f"  {knob}: [{', '.join(f'P{stop}' for stop in range(1, throws + 1))}]"


def _written(wires: Wires) -> Iterator[str]:
    yield from (f"      - [{lug}, {point}]" for lug, point in wires)


def rig(lugs: int, seed: int = 1) -> bytes:
    """A rig in which every switch has a knob of its own."""
    growing = Rig(seed)
    while growing.lugs < lugs:
        knob = f"K{len(growing.knobs)}", growing.luck.choice(THROWS)
        growing.knobs.append(knob)
        growing.add(*knob)
    return growing.text()


def ganged(lugs: int, knobs: int, seed: int = 1) -> bytes:
    """A rig of few knobs of 24 positions, the switches ganged on them in turn."""
    growing = Rig(seed)
    growing.knobs = [(f"K{number}", 24) for number in range(knobs)]
    for knob in itertools.cycle(growing.knobs):
        if growing.lugs >= lugs:
            return growing.text()
        growing.add(*knob)
    raise AssertionError


def states_of(spec: Spec) -> int:
    """Combinations of the positions of all controls."""
    return prod(len(control.positions) for control in spec.controls.values())


def seconds_a_state(spec: Spec) -> float:
    """Processor seconds that networkx takes for one state, the plain way.

    The graph of both wirings is built from the wires and closed contacts, and its connected
    components are taken; the mean over some states by lot.
    """
    luck = random.Random(1)
    start = time.process_time()
    for _ in range(SAMPLE):
        at = {c.name: luck.randrange(len(c.positions)) for c in spec.controls.values()}
        for wiring in spec.wirings.values():
            graph = nx.Graph((str(wire.ends[0]), str(wire.ends[1])) for wire in wiring.wires)
            graph.add_edges_from(_closed(wiring, at))
            list(nx.connected_components(graph))
    return (time.process_time() - start) / SAMPLE


def _closed(wiring: Wiring, at: dict[str, int]) -> Iterator[tuple[str, str]]:
    """Lugs that the contacts close, in one state."""
    for switch in wiring.parts.values():
        assert isinstance(switch, Switch)
        for section in switch.sections:
            for group in section.groups[at[switch.control]]:
                first, *rest = (switch.terminal(lug) for lug in group)
                yield from ((first, other) for other in rest)
