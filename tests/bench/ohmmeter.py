"""An ohmmeter on a spec's plain mapping, and mistakes made in that mapping.

Independent of the program: places are a graph, resistances come from the pseudo-inverse of its
Laplacian (D. J. Klein and M. Randic, "Resistance distance", J. Math. Chem. 12, 1993; from memory).
Only the description of a mistake is the program's.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import networkx as nx
import numpy as np

from rewire.bench.mistakes import Mistake
from rewire.bench.repairs import seen_from_the_other_side
from rewire.records.spec import Spec, Wiring
from tests.reference.circuit import (
    control_positions,
    joins_of,
    kind_of,
    lugs_of,
    pole_lugs,
    switch_pieces,
)

Raw = dict[str, Any]
State = Mapping[str, str]
Between = Callable[[frozenset[str]], float]
"""Ohms between two places."""
COLD = 0.1
SCALE = {"": 1.0, "k": 1e3, "M": 1e6, "m": 1e-3, "u": 1e-6, "µ": 1e-6}


def ohms(text: str) -> float:
    """``180 ohm + 9.1 ohm``, ``4 kohm``; pieces in series only."""
    return sum(amount(piece, "ohm") for piece in text.split("+"))


def amount(text: str, unit: str) -> float:
    match = re.fullmatch(rf"\s*([\d.]+)\s*([kMmuµ]?){unit}\s*", text)
    assert match is not None, text
    return float(match[1]) * SCALE[match[2]]


@dataclass
class Ohmmeter:
    """One wiring of a spec's mapping, with what was done wrong in it."""

    spec: Raw
    wiring: str
    fitted: Mapping[str, float] = field(default_factory=dict)
    """Part → ohms, or share for the setting of a pot, of what the spec leaves open."""
    gone: set[str] = field(default_factory=set)
    shorted: set[str] = field(default_factory=set)
    factor: dict[str, float] = field(default_factory=dict)
    reversed: set[str] = field(default_factory=set)
    bridges: list[tuple[str, str]] = field(default_factory=list)
    dead: set[frozenset[str]] = field(default_factory=set)
    """Pairs of lugs between which no contact closes."""

    @property
    def parts(self) -> dict[str, Raw]:
        return {**self.spec.get("parts", {}), **self.spec["wirings"][self.wiring].get("parts", {})}

    def places(self) -> list[str]:
        terminals = (f"{name}.{lug}" for name, part in self.parts.items() for lug in lugs_of(part))
        return [*self.spec.get("points", {}), *terminals]

    def tied(self, state: State) -> Any:
        graph = nx.Graph()
        graph.add_nodes_from(self.places())
        for join in joins_of(self.parts, self.spec["wirings"][self.wiring]):
            nx.add_path(graph, join)
        for name, part in self.parts.items():
            if kind_of(part) == "switch":
                for group in self.closed(name, part, state):
                    first, *others = (f"{name}.{lug}" for lug in sorted(group))
                    pairs = ((first, other) for other in others)
                    graph.add_edges_from(p for p in pairs if frozenset(p) not in self.dead)
            if name in self.shorted:
                graph.add_edge(f"{name}.{lugs_of(part)[0]}", f"{name}.{lugs_of(part)[-1]}")
        graph.add_edges_from(self.bridges)
        return graph

    def closed(self, name: str, part: Raw, state: State) -> Iterator[list[str]]:
        positions = control_positions(self.spec, part["control"])
        at = state[part["control"]]
        if name in self.reversed:
            at = positions[len(positions) - 1 - positions.index(at)]
        for _, groups in switch_pieces(part, positions):
            yield from groups[at]

    def bars(self) -> Iterator[tuple[str, str, float]]:
        for name, part in self.parts.items():
            if name in self.gone:
                continue
            times = self.factor.get(name, 1.0)
            for one, other, value in self.values(name, part):
                yield f"{name}.{one}", f"{name}.{other}", value * times

    def values(self, name: str, part: Raw) -> Iterator[tuple[str, str, float]]:
        kind = kind_of(part)
        if kind == "pot":
            fit = part.get("setting") == "fit"
            share = self.fitted[name] if fit else amount(part["setting"], "%") / 100.0
            whole = ohms(part["pot"])
            yield "ccw", "wiper", whole * share
            yield "wiper", "cw", whole * (1.0 - share)
        elif kind == "resistor":
            yield (
                "1",
                "2",
                self.fitted[name] if part["resistor"] == "fit" else ohms(part["resistor"]),
            )
        elif kind in ("meter", "choke"):
            yield (*lugs_of(part), ohms(part["resistance"]))  # type: ignore[misc]
        elif kind == "lamp":
            yield "1", "2", COLD * amount(part["lamp"], "V") / amount(part["current"], "A")
        elif kind == "fuse":
            yield "1", "2", ohms(part.get("resistance", "0 ohm"))

    def all_ohms(self, state: State) -> Between:
        """Ohms between two places; infinite where nothing links them, nan through a meter
        for AC, whose rectifier no ohmmeter measures."""
        found = self.solved(state)
        if not self.rectified:
            return found
        other = self.through_rectifiers(state)

        def known(pair: frozenset[str]) -> float:
            one, two = found(pair), other(pair)
            return one if one == two or np.isclose(one, two, rtol=1e-6) else np.nan

        return known

    @property
    def rectified(self) -> list[str]:
        """The meters for AC."""
        return [n for n, p in self.parts.items() if p.get("ac") == "yes" and "meter" in p]

    def through_rectifiers(self, state: State) -> Between:
        """What one bench's ohmmeter reads: each meter for AC as twice its resistance."""
        twice = {name: 2.0 * self.factor.get(name, 1.0) for name in self.rectified}
        return replace(self, factor={**self.factor, **twice}).solved(state)

    def solved(self, state: State) -> Between:
        """Ohms between every two places with each meter as its resistance."""
        tied = self.tied(state)
        for one, other, value in self.bars():
            if value == 0.0:
                tied.add_edge(one, other)
        piece = {
            place: n for n, places in enumerate(nx.connected_components(tied)) for place in places
        }
        count = max(piece.values()) + 1
        laplacian = np.zeros((count, count))
        linked = nx.Graph()
        linked.add_nodes_from(range(count))
        for one, other, value in self.bars():
            a, b = piece[one], piece[other]
            if value > 0.0 and a != b:
                linked.add_edge(a, b)
                laplacian[[a, b], [a, b]] += 1.0 / value
                laplacian[[a, b], [b, a]] -= 1.0 / value
        apart = np.full((count, count), np.inf)
        for nodes in nx.connected_components(linked):
            own = sorted(nodes)
            inverse = np.linalg.pinv(laplacian[np.ix_(own, own)], hermitian=True, rcond=1e-13)
            diagonal = np.diagonal(inverse)
            apart[np.ix_(own, own)] = diagonal[:, None] + diagonal[None] - 2.0 * inverse

        def between(pair: frozenset[str]) -> float:
            one, other = (piece[place] for place in pair)
            return 0.0 if one == other else float(apart[one, other])

        return between


def mistaken(right: Ohmmeter, spec: Spec, wiring: Wiring, mistake: Mistake) -> Ohmmeter:
    """The same wiring with a mistake made in it."""
    wrong = copy.deepcopy(right)
    told = wrong.spec["wirings"][wrong.wiring]
    wires = told.get("wires", [])
    number = {wire.id: n for n, wire in enumerate(wiring.wires)}
    if mistake.kind == "left out":
        del wires[number[str(mistake.wire)]]
    elif mistake.kind == "wrong lug":
        land(wires, number[str(mistake.wire)], *mistake.lugs)
    elif mistake.kind == "exchanged":
        land(wires, number[str(mistake.wire)], mistake.lugs[0], mistake.lugs[1])
        land(wires, number[str(mistake.other)], mistake.lugs[1], mistake.lugs[0])
    elif mistake.kind in ("bridge", "contact stuck"):
        wrong.bridges.append((mistake.lugs[0], mistake.lugs[1]))
    elif mistake.kind == "contact open":
        wrong.dead.add(frozenset(mistake.lugs))
    elif mistake.kind in ("open", "part left out"):
        wrong.gone.add(str(mistake.part))
    elif mistake.kind == "shorted":
        wrong.shorted.add(str(mistake.part))
    elif mistake.kind == "other value":
        wrong.factor[str(mistake.part)] = mistake.edit.scaled[0][1]
    elif mistake.kind == "decade":
        wrong.factor[str(mistake.part)] = 10.0 if "ten times" in mistake.text else 0.1
    else:
        turn(wrong, spec, wiring, mistake)
    return wrong


def ends_of(wire: Any) -> list[str]:
    return [wire["from"], wire["to"]] if isinstance(wire, Mapping) else list(wire[:2])


def land(wires: list[Any], number: int, meant: str, instead: str) -> None:
    ends = ends_of(wires[number])
    ends[ends.index(meant)] = instead
    wires[number] = ends


def turn(wrong: Ohmmeter, spec: Spec, wiring: Wiring, mistake: Mistake) -> None:
    name = str(mistake.part)
    if "positions run" in mistake.text:
        wrong.reversed.add(name)
        return
    part = wrong.parts[name]
    if mistake.kind == "mirrored":
        renamed = seen_from_the_other_side(spec.parts_of(wiring)[name])  # type: ignore[arg-type]
    else:
        lands = other_end_first(wrong.spec, part)
        renamed = {f"{name}.{lug}": f"{name}.{other}" for lug, other in lands.items()}
    told = wrong.spec["wirings"][wrong.wiring]
    told["wires"] = [[renamed.get(end, end) for end in ends_of(w)] for w in told.get("wires", [])]
    nets = told.get("nets", [])
    listed = list(nets.values()) if isinstance(nets, Mapping) else nets
    told["nets"] = [[renamed.get(end, end) for end in net] for net in listed]
    for parts in (wrong.spec.get("parts", {}), told.get("parts", {})):
        for other in parts.values():
            if "between" in other:
                other["between"] = [renamed.get(end, end) for end in other["between"]]


def other_end_first(spec: Raw, part: Raw) -> dict[str, str]:
    """Throws that positions use, counted from the other end."""
    positions = control_positions(spec, part["control"])
    given = part.get("positions")
    used = set()
    for index, position in enumerate(positions):
        throw = str(index + 1) if given is None else given.get(position, "open")
        if throw != "open":
            used.add(int(throw))
    back = dict(zip(sorted(used), sorted(used, reverse=True), strict=True))
    return {pole[at]: pole[other] for pole in pole_lugs(part) for at, other in back.items()}
