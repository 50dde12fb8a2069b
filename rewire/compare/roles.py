"""Roles, found by comparing: which part does whose work, turned parts and exchanged ones too.

Two terminals of a resistor may be exchanged without any difference; only a comparison shows it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from rewire.circuit.circuit import Case
from rewire.circuit.roles import Roles, roles_as_written
from rewire.circuit.states import States
from rewire.compare.comparison import Comparison, rest_facts
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


def turn(spec: Spec, other: Wiring, states: States) -> tuple[Comparison, RestFacts]:
    """Try each part of two terminals both ways, in order of names, and keep what fits better.

    The comparison with every exchange in place that leaves fewer facts, and those facts.
    """
    both = Comparison(spec, other, roles_as_written(spec, other))
    if other is spec.original:
        return both, RestFacts()
    found = rest_facts(both, states)
    count = found.count(states)
    for part in _candidates(both):
        if not count:
            break
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
