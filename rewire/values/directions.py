"""Directions: which way a resistance moves a reading, proved from the shape of the circuit.

The change of a meter's current with a resistance R is the voltage that the drive
puts across R, times the voltage that a current sent in at the meter's + and out at
its - puts across it, times something positive (Source: the adjoint network, S. W.
Director and R. A. Rohrer, "The generalized adjoint network and network
sensitivities", IEEE Trans. CT-16, 1969). Where every way through a branch runs
through it the same way round, the sign of such a voltage is the same whatever the
values are, and so is the direction.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rewire.circuit.dc import Ends
from rewire.values.circuits import Circuit

Members = tuple[tuple[int, int], ...]
"""Branches in one bundle, each with +1 or -1 for the way round it lies in it."""
_MOST_STEPS = 20_000
_SOURCE = -1


@dataclass(slots=True)
class _Bundle:
    ends: Ends
    members: Members


def directions(circuit: Circuit) -> dict[int, int]:
    """For each value of a circuit with a meter: +1, -1, or 0 if it moves nothing.

    A value that is left out may move the reading either way, as far as the shape tells.
    """
    assert circuit.meter is not None
    driven = _driven_signs(circuit)
    felt = _signs(_edges(circuit, source=True), circuit.branches[circuit.meter].ends)
    found: dict[int, set[int]] = {}
    unproved: set[int] = set()
    for number, branch in enumerate(circuit.branches):
        volts = driven.get(number)
        if number == circuit.meter:
            sign = None if volts is None else -volts
        else:
            sign = _product(volts, felt.get(number))
        for value in {branch.value, branch.share} - {None}:
            assert value is not None
            if sign is None:
                unproved.add(value)
            else:
                turned = -sign if value == branch.share and branch.upper else sign
                found.setdefault(value, set()).add(turned)
    return {
        value: max(signs, key=abs)
        for value, signs in found.items()
        if value not in unproved and len(signs - {0}) < 2
    }


def _product(one: int | None, other: int | None) -> int | None:
    if one == 0 or other == 0:
        return 0
    return None if one is None or other is None else one * other


def _driven_signs(circuit: Circuit) -> dict[int, int]:
    """Signs of the voltages that all drives together put across the branches."""
    signs = _signs(_edges(circuit, source=False), circuit.ends)
    for drive in circuit.also:
        if drive.amps == 0.0:
            continue
        ends = drive.ends if drive.amps > 0 else (drive.ends[1], drive.ends[0])
        theirs = _signs(_edges(circuit, source=True), ends)
        signs = {
            n: signs[n] or theirs[n]
            for n in signs.keys() & theirs.keys()
            if signs[n] * theirs[n] >= 0
        }
    return signs


def _edges(circuit: Circuit, source: bool) -> list[_Bundle]:
    """The branches, and the source of a voltage drive where it matters."""
    edges = [_Bundle(b.ends, ((n, 1),)) for n, b in enumerate(circuit.branches)]
    if source and circuit.volts is not None:
        edges.append(_Bundle(circuit.ends, ((_SOURCE, 1),)))
    return edges


def _signs(bundles: list[_Bundle], ends: Ends) -> dict[int, int]:
    """Which way a current from one node to another goes through each branch.

    +1 with its ends, -1 against them, 0 not at all; left out where ways go both ways.
    """
    signs: dict[int, int] = {}
    core = _reduced(list(bundles), ends, signs)
    seen = _ways_through(core, ends)
    for number, bundle in enumerate(core):
        ways = seen[number] if seen is not None else {1, -1}
        if len(ways) == 2:
            continue
        sign = next(iter(ways), 0)
        signs.update((member, sign * turned) for member, turned in bundle.members)
    return signs


def _reduced(bundles: list[_Bundle], ends: Ends, signs: dict[int, int]) -> list[_Bundle]:
    """Put what is in parallel or in series into one bundle, again and again."""
    while True:
        _drop_loops(bundles, signs)
        if not (_join_parallel(bundles) or _join_series(bundles, ends, signs)):
            return bundles


def _drop_loops(bundles: list[_Bundle], signs: dict[int, int]) -> None:
    for bundle in [b for b in bundles if b.ends[0] == b.ends[1]]:
        signs.update((member, 0) for member, _ in bundle.members)
        bundles.remove(bundle)


def _join_parallel(bundles: list[_Bundle]) -> bool:
    by_ends: dict[frozenset[int], _Bundle] = {}
    for bundle in list(bundles):
        first = by_ends.setdefault(frozenset(bundle.ends), bundle)
        if first is not bundle:
            turned = 1 if first.ends == bundle.ends else -1
            first.members += tuple((m, s * turned) for m, s in bundle.members)
            bundles.remove(bundle)
    return len(by_ends) < len(bundles)


def _join_series(bundles: list[_Bundle], ends: Ends, signs: dict[int, int]) -> bool:
    """Join the first two bundles in series, or take off a loose end; whether there was one."""
    at: dict[int, list[_Bundle]] = {}
    for bundle in bundles:
        for node in bundle.ends:
            at.setdefault(node, []).append(bundle)
    for node, here in at.items():
        if node in ends or len(here) > 2:
            continue
        for bundle in here:
            bundles.remove(bundle)
        if len(here) == 1:
            signs.update((member, 0) for member, _ in here[0].members)
        else:
            bundles.append(_in_series(here[0], here[1], node))
        return True
    return False


def _in_series(one: _Bundle, other: _Bundle, node: int) -> _Bundle:
    start, head = _turned(one, node, to=True)
    stop, tail = _turned(other, node, to=False)
    return _Bundle((start, stop), head + tail)


def _turned(bundle: _Bundle, node: int, to: bool) -> tuple[int, Members]:
    """The far end of a bundle, and its members as they lie on the way to or from a node."""
    a, b = bundle.ends
    if (b if to else a) == node:
        return (a if to else b), bundle.members
    return (b if to else a), tuple((member, -sign) for member, sign in bundle.members)


def _ways_through(bundles: Sequence[_Bundle], ends: Ends) -> list[set[int]] | None:
    """Per bundle the ways round that simple ways run through it; None if too many to try."""
    seen: list[set[int]] = [set() for _ in bundles]
    at: dict[int, list[int]] = {}
    for number, bundle in enumerate(bundles):
        for node in bundle.ends:
            at.setdefault(node, []).append(number)
    steps = 0
    for way in _simple_ways(bundles, at, ends):
        steps += len(way) + 1
        if steps > _MOST_STEPS:
            return None
        for number, sign in way:
            seen[number].add(sign)
    return seen


def _simple_ways(
    bundles: Sequence[_Bundle], at: dict[int, list[int]], ends: Ends
) -> Iterator[list[tuple[int, int]]]:
    """Ways that visit no node twice; also what was tried in vain, as an empty way."""
    way: list[tuple[int, int]] = []
    visited = {ends[0]}
    pending = [(ends[0], iter(at.get(ends[0], ())))]
    while pending:
        node, left = pending[-1]
        number = next(left, None)
        if number is None:
            pending.pop()
            visited.discard(node)
            if way:
                way.pop()
            yield []
            continue
        a, b = bundles[number].ends
        other, sign = (b, 1) if node == a else (a, -1)
        if other == ends[1]:
            yield [*way, (number, sign)]
        elif other not in visited:
            visited.add(other)
            way.append((number, sign))
            pending.append((other, iter(at[other])))
