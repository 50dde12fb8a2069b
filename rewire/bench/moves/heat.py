"""Where volts can stand: at points, and wherever closed contacts can carry them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from math import prod

from rewire.circuit import States
from rewire.circuit.contacts import contacts_of, links_of
from rewire.circuit.nets import nets_of
from rewire.circuit.ties import Bond, bonds_at_rest, controls_of, spread
from rewire.spec.model import Point, Spec, Switch, Wiring

LIMIT = 50.0
"""Volts from which a place gets a caution: the project's own, as on the printed sheet."""
_MOST_STATES = 10_000


def most_volts(point: Point) -> float:
    """The most that is written of a point, in volts with its sign; 0 where nothing is."""
    return max((volts or 0.0 for volts in (point.volts, point.rises_to)), key=abs)


def is_high(point: Point) -> bool:
    """Whether a point gets a caution."""
    return abs(most_volts(point)) >= LIMIT


def hot_places(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Place → its caution, for places that some state ties to a point of 50 V or more.

    The chassis is never hot, nor what is reached over it alone. Where the controls have too
    many states, contacts are followed in all their positions at once: rather one caution too
    many.
    """
    nets = nets_of(spec, wiring)
    cold = {nets.of[p.name] for p in spec.points.values() if p.chassis}
    at, states = _bonds(spec, wiring)
    hot: dict[int, Point] = {}
    for point in sorted(spec.points.values(), key=lambda p: (-abs(most_volts(p)), p.name)):
        start = nets.of[point.name]
        if is_high(point) and start not in cold:
            for net in spread(at, start, states, cold.__contains__):
                hot.setdefault(net, point)
    said = {net: _caution(point) for net, point in hot.items() if net not in cold}
    return {place: said[net] for place, net in nets.of.items() if net in said}


def _bonds(spec: Spec, wiring: Wiring) -> tuple[dict[int, list[Bond]], int]:
    """What contacts link, by net, and the states that can occur."""
    contacts = contacts_of(spec, wiring, nets_of(spec, wiring))
    links = list(links_of(contacts))
    controls = controls_of(links, contacts)
    if prod(len(spec.controls[name].positions) for name in controls) > _MOST_STATES:
        bonds, possible = [(link.places, 1) for link in links], 1
    else:
        states = States(spec.controls, spec.never)
        frame = states.frame(controls)
        bonds, possible = bonds_at_rest(links, contacts, frame), states.possible(frame)
    at: dict[int, list[Bond]] = {}
    for bond in bonds:
        for place in bond[0]:
            at.setdefault(place, []).append(bond)
    return at, possible


def _caution(point: Point) -> str:
    return f"up to {most_volts(point):g} V{' AC' if point.ac else ''} ({point.name})"


def contact_neighbours(spec: Spec, wiring: Wiring) -> dict[int, set[int]]:
    """Net → nets that a switch ties it to in some position."""
    nets = nets_of(spec, wiring)
    beside: dict[int, set[int]] = {}
    for part in spec.parts_of(wiring).values():
        if isinstance(part, Switch):
            for group in _closed(part):
                tied = {nets.of[part.terminal(lug)] for lug in group}
                for net in tied:
                    beside.setdefault(net, set()).update(tied)
    return beside


def _closed(switch: Switch) -> Iterator[tuple[str, ...]]:
    for section in switch.sections:
        for at_position in section.groups:
            yield from at_position


def spread_over(
    beside: Mapping[int, set[int]], start: Iterable[int], not_over: set[int]
) -> set[int]:
    """Nets reached from some, those of ``not_over`` neither entered nor passed."""
    reached = {net for net in start if net not in not_over}
    pending = list(reached)
    while pending:
        for net in beside.get(pending.pop(), ()):
            if net not in reached and net not in not_over:
                reached.add(net)
                pending.append(net)
    return reached
