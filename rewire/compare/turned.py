"""Turned parts: two terminals exchanged, which for a resistor is no difference at all."""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache

from rewire.circuit.circuit import Case
from rewire.circuit.states import States
from rewire.compare.facts import RestFacts
from rewire.compare.findings import FindingKind
from rewire.compare.rest import DOWN, UP, AtRest, Kinds, net_facts, rest_facts
from rewire.compare.roles import Roles, has_role, roles_of
from rewire.compare.views import Sight, Views, views_of
from rewire.records.spec import Part, Spec, Wiring


def roles_between(spec: Spec, wiring: Wiring) -> Roles:
    """Which part of a wiring stands for which of the original, turned parts included.

    Everybody asks here. It is worked out once for each wiring.

    Raises:
        LimitReached: more states than can be compared.
    """
    return _roles_between(Case(spec, wiring))


@lru_cache(maxsize=64)
def _roles_between(case: Case) -> Roles:
    spec, wiring = case.spec, case.wiring
    roles = roles_of(spec, wiring)
    if wiring is spec.original:
        return roles
    views = views_of(spec, wiring, roles)
    return turn(views, wiring, States(spec.controls, spec.never))[0].roles


def turn(views: Views, other: Wiring, states: States) -> tuple[Views, AtRest]:
    """Try each part of two terminals both ways, in order of names, and keep what fits better.

    Returns:
        The views with every exchange in place that leaves fewer facts, and those facts.
    """
    found = rest_facts(views, states)
    count, in_pairs = found.count(states), found.in_pairs.count(states)
    costs = _Costs(states)
    for part in _candidates(views):
        if not count:
            break
        if not (costs.may_help(views, part, in_pairs) or (found.linked.of and not part.passes_dc)):
            continue
        trial = views_of(views.spec, other, views.roles.exchanged(part), known=views)
        trial_found = rest_facts(trial, states)
        trial_count = trial_found.count(states)
        if trial_count < count:
            views, found, count = trial, trial_found, trial_count
            in_pairs = found.in_pairs.count(states)
            costs = _Costs(states)
    return views, found


def _candidates(views: Views) -> Iterator[Part]:
    """Parts of two terminals that both have a role and could be exchanged with effect."""
    down, up = views.down, views.up
    parts = {**views.spec.parts, **views.spec.original.parts}
    for name in sorted(parts):
        part = parts[name]
        if not has_role(part) or len(part.terminals) != 2:
            continue
        one, two = (part.terminal(lug) for lug in part.terminals)
        if one not in down.seat or two not in down.seat:
            continue
        if down.seat[one] != down.seat[two] and up.seat[one] != up.seat[two]:
            yield part


@dataclass(slots=True)
class _Costs:
    """Facts of step 1 net by net, for the views that stand."""

    states: States
    known: dict[tuple[FindingKind, int], int] = field(default_factory=dict)

    def may_help(self, views: Views, part: Part, in_pairs: int) -> bool:
        """Whether exchanging a part can leave fewer facts at all.

        Only the nets of the two terminals change in step 1, and step 2 can
        leave no fewer facts than none: an exchange that costs as much as step
        2 found is not worth a full trial.
        """
        one, two = (part.terminal(lug) for lug in part.terminals)
        down, up = views.down, views.up
        nets = [(down, DOWN, up.seat[t]) for t in (one, two)]
        nets += [(up, UP, down.seat[t]) for t in (one, two)]
        spared = sum(self._now(sight, kinds, net) for sight, kinds, net in nets) + in_pairs
        for sight, kinds, net in sorted(nets, key=lambda n: len(n[0].anchors[n[2]])):
            turned = _turned(sight, net, one, two, kinds is DOWN)
            spared -= _count(turned, kinds, net, self.states)
            if spared <= 0:
                return False
        return True

    def _now(self, sight: Sight, kinds: Kinds, net: int) -> int:
        key = kinds.lost, net
        if key not in self.known:
            self.known[key] = _count(sight, kinds, net, self.states)
        return self.known[key]


def _turned(sight: Sight, net: int, one: str, two: str, by_seat: bool) -> Sight:
    """One net seen with two anchors exchanged in the other wiring."""
    swap = {one: two, two: one}
    names = sight.anchors[net]
    if by_seat:
        seat = ChainMap({one: sight.seat[two], two: sight.seat[one]}, sight.seat)
        return replace(sight, anchors={net: names}, seat=seat)
    return replace(sight, anchors={net: tuple(swap.get(name, name) for name in names)})


def _count(sight: Sight, kinds: Kinds, net: int, states: States) -> int:
    facts = RestFacts()
    net_facts(sight, net, kinds, states, facts)
    return facts.count(states)
