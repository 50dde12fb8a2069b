"""Where volts can stand: at points, and wherever closed contacts can carry them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from rewire.circuit.nets import nets_of
from rewire.spec.model import Point, Spec, Switch, Wiring

LIMIT = 50.0
"""Volts from which a place gets a caution: the project's own, as on the printed sheet."""


def most_volts(point: Point) -> float:
    """The most that is written of a point, in volts with its sign; 0 where nothing is."""
    return max((volts or 0.0 for volts in (point.volts, point.rises_to)), key=abs)


def is_high(point: Point) -> bool:
    """Whether a point gets a caution."""
    return abs(most_volts(point)) >= LIMIT


def hot_places(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Place → its caution, for places that some position ties to a point of 50 V or more.

    Contacts are followed in all their positions at once, but never over the chassis: rather
    one caution too many.
    """
    nets = nets_of(spec, wiring)
    beside = contact_neighbours(spec, wiring)
    cold = {nets.of[p.name] for p in spec.points.values() if p.chassis}
    points = sorted(spec.points.values(), key=lambda p: (-abs(most_volts(p)), p.name))
    hot: dict[int, Point] = {}
    for point in points:
        if is_high(point) and nets.of[point.name] not in cold:
            for net in spread_over(beside, [nets.of[point.name]], {*cold, *hot}):
                hot.setdefault(net, point)
    said = {net: _caution(point) for net, point in hot.items()}
    return {place: said[net] for place, net in nets.of.items() if net in said}


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
