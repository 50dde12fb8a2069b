"""Roles, found by comparing: which part does whose work, turned parts and exchanged ones too.

Two terminals of a resistor may be exchanged without any difference; only a comparison shows it.
"""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from rewire.circuit.circuit import Case
from rewire.circuit.roles import Roles, roles_as_written
from rewire.circuit.states import States
from rewire.compare.at_rest import AtRest, net_facts, rest_facts
from rewire.compare.comparison import Comparison, Direction
from rewire.compare.findings import RestFacts
from rewire.records.part import Part
from rewire.records.spec import Spec, Wiring


def roles_between(spec: Spec, wiring: Wiring) -> Roles:
    """Which part of a wiring replaces which of the original, turned parts included.

    Everybody asks here. It is worked out once for each wiring.

    Raises:
        LimitReached: more states than can be compared.
    """
    return _roles_between(Case(spec, wiring))


@lru_cache(maxsize=64)
def _roles_between(case: Case) -> Roles:
    return turn(case.spec, case.wiring, States(case.spec.controls, case.spec.never))[0].roles


def turn(spec: Spec, other: Wiring, states: States) -> tuple[Comparison, AtRest]:
    """Try each part of two terminals both ways, in order of names, and keep what fits better.

    The comparison with every exchange in place that leaves fewer facts, and those facts.
    """
    both = Comparison(spec, other, roles_as_written(spec, other))
    if other is spec.original:
        return both, AtRest(RestFacts(), RestFacts(), RestFacts())
    found = rest_facts(both, states)
    count = found.count(states)
    for part in _candidates(both):
        if not count:
            break
        added = found.linked.of and not part.passes_dc
        if not (added or _may_help(both, states, found, part)):
            continue
        trial = replace(both, roles=both.roles.exchanged(part))
        trial_found = rest_facts(trial, states)
        if trial_found.count(states) < count:
            both, found, count = trial, trial_found, trial_found.count(states)
    return both, found


def _candidates(both: Comparison) -> Iterator[Part]:
    """Parts of two terminals that both have a role and could be exchanged with effect."""
    there, here = both.down.seat, both.up.seat
    parts = {**both.spec.parts, **both.spec.original.parts}
    for name in sorted(parts):
        part = parts[name]
        if not part.two_ended or not set(part.full_terminals) <= there.keys():
            continue
        one, two = part.full_terminals
        if there[one] != there[two] and here[one] != here[two]:
            yield part


def _may_help(both: Comparison, states: States, found: AtRest, part: Part) -> bool:
    """Whether exchanging a part can leave fewer facts at all.

    Only the nets of the two terminals change in step 1, and step 2 can leave no fewer facts
    than none: an exchange that costs as much as step 2 found is not worth a full trial.
    """
    ends = part.full_terminals
    nets = [
        (way, net)
        for way, own in ((both.down, both.up.seat), (both.up, both.down.seat))
        for net in (own[terminal] for terminal in ends)
    ]
    most = found.in_pairs.count(states) + sum(_cost(way, net, states) for way, net in nets)
    return most > 0 and most > sum(
        _cost(_turned(way, net, ends, way is both.down), net, states) for way, net in nets
    )


def _cost(way: Direction, net: int, states: States) -> int:
    """How many facts step 1 finds in one net."""
    facts = RestFacts()
    net_facts(way, net, states, facts)
    return facts.count(states)


def _turned(way: Direction, net: int, ends: tuple[str, ...], by_seat: bool) -> Direction:
    """One net seen with two anchors exchanged in the other wiring."""
    one, two = ends
    names = way.anchors[net]
    if by_seat:
        seat = ChainMap({one: way.seat[two], two: way.seat[one]}, dict(way.seat))
        return replace(way, anchors={net: names}, seat=seat)
    swap = {one: two, two: one}
    return replace(way, anchors={net: tuple(swap.get(name, name) for name in names)})
