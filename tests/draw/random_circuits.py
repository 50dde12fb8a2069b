"""Random wirings with one reading, written as specs: rows, sets, bridges, every kind of part."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ_abcdefghijkmnopqrstuvwxyz0123456789-"
PLAIN: dict[str, Callable[[random.Random], str]] = {
    "R": lambda rng: f"resistor: {rng.choice((1, 4.7, 33, 150, 1000, 220000))} ohm",
    "RB": lambda _: "resistor: 180 ohm + (22 ohm + 10 ohm) || 9.1 ohm",
    "L": lambda _: "choke: 10 H, resistance: 250 ohm",
    "H": lambda _: "lamp: 6.3 V, current: 150 mA",
    "F": lambda _: "fuse: 1 A, resistance: 0.2 ohm",
}
BLOCKING = {"C": "capacitor: 100 nF", "D": "diode: silicon"}
QUANTITIES = (
    "current: [IN, OUT], full_scale: 30 mA",
    "voltage: [IN, OUT], full_scale: 25 V",
    "voltage: [IN, OUT], full_scale: 25 V, source_resistance: 1 kohm",
)


@dataclass
class Sketch:
    """A wiring being made: who sits on which node."""

    rng: random.Random
    longest: int
    nodes: int = 2
    members: dict[int, list[str]] = field(default_factory=dict)
    parts: list[str] = field(default_factory=list)
    contacts: int = 0

    def new_node(self) -> int:
        self.nodes += 1
        return self.nodes - 1

    def name(self, head: str) -> str:
        """A name of its own, short or long."""
        name = f"{head}{len(self.parts)}"
        more = self.rng.choice((0, 0, 0, 6, self.longest)) - len(name) - 1
        tail = "".join(self.rng.choice(LETTERS) for _ in range(more))
        return f"{name}_{tail}" if more > 0 else name

    def land(self, terminal: str, node: int) -> None:
        self.members.setdefault(node, []).append(terminal)

    def leaf(self, a: int, b: int, blocking: float) -> None:
        roll = self.rng.random()
        if roll < 0.2:
            self.contact(a, b)
        elif roll < 0.3:
            self.pot(a, b)
        elif roll < 0.3 + blocking:
            self.plain(*self.rng.choice(list(BLOCKING.items())), a, b)
        else:
            head = self.rng.choice(["R", "R", "R", *PLAIN])
            self.plain(head, PLAIN[head](self.rng), a, b)

    def plain(self, head: str, value: str, a: int, b: int) -> None:
        lugs = {"D": ("A", "K"), "M": ("+", "-")}.get(head, ("1", "2"))
        name = self.name(head)
        self.parts.append(f"{name}: {{{value}}}")
        ends = [a, b]
        self.rng.shuffle(ends)
        for lug, node in zip(lugs, ends, strict=True):
            self.land(f"{name}.{lug}", node)

    def contact(self, a: int, b: int) -> None:
        self.land(f"S1.C{self.contacts}", a)
        self.land(f"S1.T{self.contacts}", b)
        self.contacts += 1

    def pot(self, a: int, b: int) -> None:
        """A rheostat, or a divider whose wiper goes to a node of its own."""
        name = self.name("RV")
        self.parts.append(f"{name}: {{pot: 500 ohm, setting: {self.rng.randrange(5, 96)} %}}")
        self.land(f"{name}.ccw", a)
        if self.rng.random() < 0.6:
            self.land(f"{name}.wiper", b)
            self.land(f"{name}.cw", b)
            return
        wiper = self.new_node()
        self.land(f"{name}.wiper", wiper)
        self.land(f"{name}.cw", b)
        self.plain("R", PLAIN["R"](self.rng), wiper, b)

    def grow(self, a: int, b: int, depth: int, bridges: float, blocking: float) -> None:
        if depth == 0 or self.rng.random() < 0.15:
            self.leaf(a, b, blocking)
            return
        roll = self.rng.random()
        if roll < bridges:
            self.bridge(a, b, depth, bridges, blocking)
        elif roll < bridges + (1 - bridges) / 2:
            stops = [a, *(self.new_node() for _ in range(self.rng.choice((1, 1, 2)))), b]
            for one, other in pairwise(stops):
                self.grow(one, other, depth - 1, bridges, blocking)
        else:
            for _ in range(self.rng.choice((2, 2, 3))):
                self.grow(a, b, depth - 1, bridges, blocking)

    def bridge(self, a: int, b: int, depth: int, bridges: float, blocking: float) -> None:
        """Some nodes linked at random, all of them between the two ends."""
        inner = [self.new_node() for _ in range(self.rng.choice((2, 2, 3, 5)))]
        pairs = {(a, n) for n in inner[:2]} | {(n, b) for n in inner[-2:]}
        pairs |= set(pairwise(inner))
        for _ in range(self.rng.choice((0, 2, 5))):
            one, other = self.rng.sample([a, b, *inner], 2)
            pairs.add((min(one, other), max(one, other)))
        for one, other in sorted(pairs):
            self.grow(one, other, self.rng.choice((0, 0, min(1, depth - 1))), bridges, blocking)


def random_circuit(
    seed: int, *, depth: int = 5, bridges: float = 0.1, blocking: float = 0.05, longest: int = 40
) -> str:
    """A spec of one wiring whose reading ``r`` runs from the point IN to the point OUT."""
    rng = random.Random(seed)
    sketch = Sketch(rng, longest)
    deep = rng.randint(1, depth)
    middle, last = sketch.new_node(), sketch.new_node()
    sketch.grow(0, middle, deep - 1, bridges, blocking)
    sketch.plain("M", f"meter: 1 mA, resistance: {rng.choice((50, 75, 1200))} ohm", middle, last)
    if rng.random() < 0.5:
        sketch.plain("R", PLAIN["R"](rng), middle, last)
    sketch.grow(last, 1, deep - 1, bridges, blocking)
    if rng.random() < 0.5:
        sketch.grow(0, 1, deep - 1, bridges, blocking)
    return _written(sketch)


def _written(sketch: Sketch) -> str:
    rng = sketch.rng
    points = {0: "IN", 1: "OUT"}
    for node in range(2, sketch.nodes):
        if rng.random() < 0.3:
            size = rng.choice((3, 12, sketch.longest)) - 4
            points[node] = f"P{node}" + "".join(rng.choice(LETTERS) for _ in range(size))
    nets = []
    for node, members in sketch.members.items():
        landed = [*members, points[node]] if node in points else members
        if len(landed) > 1:
            nets.append(f"[{', '.join(landed)}]")
    parts = list(sketch.parts)
    if sketch.contacts:
        lugs = ", ".join(f"[C{n}, T{n}]" for n in range(sketch.contacts))
        parts.append(
            f"S1: {{switch: {sketch.contacts}PST, control: TURN, positions: {{ON: 1}}, "
            f"lugs: [{lugs}]}}"
        )
    quantity = rng.choice(QUANTITIES)
    body = "\n".join(f"      {part}" for part in parts)
    wiring = f"\n    parts:\n{body}\n    nets:\n" + "\n".join(f"      - {net}" for net in nets)
    named = ", ".join(
        f"{name}: {{{'chassis: yes' if node == 1 else ''}}}" for node, name in points.items()
    )
    return (
        f"rewire: 1\ntitle: made\ncontrols: {{TURN: [ON]}}\npoints: {{{named}}}\n"
        f"readings:\n  r: {{when: {{TURN: ON}}, {quantity}}}\n"
        f"wirings:\n  original:{wiring}\n  other:{wiring}\n"
    )
