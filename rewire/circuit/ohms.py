"""Ohms between two nets in plain Python, for rules: no numerics library on the way to a check."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations
from math import inf
from typing import TYPE_CHECKING

from rewire.circuit.graph import Joiner

if TYPE_CHECKING:
    from rewire.circuit.circuit import Circuit

Resistance = tuple[int, int, float]
"""Two nets and the ohms between them; 0 joins them, infinity is left out."""
SLACK = 1e-9
"""Share of a limit allowed for rounding: what meets a limit exactly is within it."""


def most_within(limit: float) -> float:
    """The most ohms that count as within a limit."""
    return limit * (1.0 + SLACK)


def least_beyond(limit: float) -> float:
    """The least ohms that count as beyond a limit."""
    return limit * (1.0 - SLACK)


def part_ohms(circuit: Circuit, most: bool) -> Iterator[Resistance]:
    """The resistances of all parts between nets, at the most or the least that the spec says.

    What is not stated counts as infinite where a connection is wanted and as zero where
    isolation is; a pot whose setting is not stated has no more than its whole in either leg.
    """
    of = circuit.nets.of
    for part in circuit.parts.values():
        unknown = part.most_ohms if most else 0.0
        share = 1.0 if most else part.cold_share
        for leg in part.legs:
            a, b = (of[part.terminal(lug)] for lug in leg.lugs)
            yield a, b, unknown if leg.ohms is None else share * leg.ohms
        if part.passes_dc and not part.legs:
            one, other = part.full_terminals
            yield of[one], of[other], unknown


def ohms_between(count: int, resistances: Iterable[Resistance], a: int, b: int) -> float:
    """Resistance between two of ``count`` nets: 0 if they are one, infinite if nothing links them.

    Every other net is taken out in turn, its star of conductances replaced by the mesh that does
    the same: between each two neighbours the product over the sum (A. Rosen, "A new network
    theorem", Journal of the IEE 62, 1924). Exact, and no worse conditioned than elimination.

    >>> ohms_between(3, [(0, 1, 30.0), (1, 2, 30.0), (0, 2, 60.0)], 0, 2)
    30.0
    """
    known = list(resistances)
    joiner = Joiner(count)
    for one, two, ohms in known:
        if ohms == 0.0:
            joiner.join((one, two))
    start, end = joiner.root(a), joiner.root(b)
    if start == end:
        return 0.0
    mesh: dict[int, dict[int, float]] = {start: {}, end: {}}
    for one, two, ohms in known:
        if ohms not in (0.0, inf):
            _link(mesh, joiner.root(one), joiner.root(two), 1.0 / ohms)
    for node in sorted(mesh.keys() - {start, end}, key=lambda n: (len(mesh[n]), n)):
        star = mesh.pop(node)
        total = sum(star.values())
        for other in star:
            del mesh[other][node]
        for (one, siemens), (two, more) in combinations(sorted(star.items()), 2):
            _link(mesh, one, two, siemens * more / total)
    siemens = mesh[start].get(end, 0.0)
    return 1.0 / siemens if siemens else inf


def _link(mesh: dict[int, dict[int, float]], a: int, b: int, siemens: float) -> None:
    if a != b:
        for one, two in ((a, b), (b, a)):
            beside = mesh.setdefault(one, {})
            beside[two] = beside.get(two, 0.0) + siemens
