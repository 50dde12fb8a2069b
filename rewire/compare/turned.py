"""Turned parts: two terminals exchanged, which for a resistor is no difference at all."""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Iterator
from dataclasses import replace

from rewire.circuit.states import States
from rewire.compare.facts import RestFacts
from rewire.compare.rest import DOWN, UP, AtRest, net_facts, rest_facts
from rewire.compare.roles import has_role
from rewire.compare.views import Sight, Views, views_of
from rewire.spec.model import Part, Wiring


def turn(views: Views, other: Wiring, states: States) -> tuple[Views, AtRest]:
    """Try each part of two terminals both ways, in order of names, and keep what fits better.

    Returns:
        The views with every exchange in place that leaves fewer facts, and those facts.
    """
    found = rest_facts(views, states)
    count = found.count(states)
    for part in _candidates(views):
        if not count:
            break
        if _net_cost(views, part, states) >= found.in_pairs.count(states):
            continue
        trial = views_of(views.spec, other, views.roles.exchanged(part), known=views)
        trial_found = rest_facts(trial, states)
        trial_count = trial_found.count(states)
        if trial_count < count:
            views, found, count = trial, trial_found, trial_count
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


def _net_cost(views: Views, part: Part, states: States) -> int:
    """Facts of step 1 that an exchange would add.

    Only the nets of the two terminals change there. Step 2 can leave no fewer
    facts than none, so an exchange that costs as much as step 2 found is not
    worth a full trial.
    """
    one, two = (part.terminal(lug) for lug in part.terminals)
    down, up = views.down, views.up
    here = {net: down.anchors[net] for net in (up.seat[one], up.seat[two])}
    there = {net: up.anchors[net] for net in (down.seat[one], down.seat[two])}
    swap = {one: two, two: one}
    turned_down = replace(
        down,
        anchors=here,
        seat=ChainMap({one: down.seat[two], two: down.seat[one]}, down.seat),
    )
    turned_up = replace(
        up, anchors={net: tuple(swap.get(a, a) for a in names) for net, names in there.items()}
    )
    now = _net_count(replace(down, anchors=here), replace(up, anchors=there), states)
    return _net_count(turned_down, turned_up, states) - now


def _net_count(down: Sight, up: Sight, states: States) -> int:
    facts = RestFacts()
    for net in down.anchors:
        net_facts(down, net, DOWN, states, facts)
    for net in up.anchors:
        net_facts(up, net, UP, states, facts)
    return facts.count(states)
