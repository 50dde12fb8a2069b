"""Live points that a declared difference puts on the chassis or on other volts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import prod

from rewire.circuit.connectivity import bonds_at_rest, controls_of, tied
from rewire.circuit.graph import NO_SECTION
from rewire.circuit.states import States
from rewire.compare.comparison import Comparison
from rewire.compare.findings import Finding, State
from rewire.compare.in_words import in_states
from rewire.records.spec import Point
from rewire.words.wording import listing

MOST_STATES = 4096


def live_points(both: Comparison, states: States, findings: Sequence[Finding]) -> Iterator[Finding]:
    """What follows from declared joins and links: volts where the original had none.

    Two points count if one has volts and the other is the chassis or has other volts, and the
    other wiring joins them, or links them over added parts, where the original has no path.
    """
    declared = {f.kind for f in findings if f.meant and f.kind in ("joined", "linked")}
    if not declared:
        return
    points = [p for p in both.spec.points.values() if p.chassis or p.volts or p.rises_to]
    found: dict[tuple[str, tuple[State, ...]], list[str]] = {}
    for one, two in combinations(sorted(points, key=lambda p: p.chassis), 2):
        if _volts(one) != _volts(two):
            at = _put_on(both, states, one, two, sorted(declared))
            found.setdefault((two.name, at), []).append(one.name)
    for (two_name, at), names in found.items():
        if at:
            yield Finding(
                kind="live",
                meant=False,
                message=f"what is declared puts {listing(names)} on {two_name} {in_states(at)}",
                groups=tuple(sorted((name,) for name in (*names, two_name))),
                states=at,
            )


def _volts(point: Point) -> tuple[float, float]:
    return (point.volts or 0.0), (point.rises_to or 0.0)


def _put_on(
    both: Comparison, states: States, one: Point, two: Point, kinds: Sequence[str]
) -> tuple[State, ...]:
    """States in which one point comes onto another."""
    barred, seats, here = both.barred, both.down.seat, both.flows[0]
    pair = seats[one.name], seats[two.name]
    links = barred.tree_with_bars.between(pair)
    if "linked" not in kinds:
        links = [link for link in links if link.contact != NO_SECTION]
    was = here.points[one.name], here.points[two.name]
    kept = here.graph.tree.between(was)
    names = controls_of(links, barred.contacts) | controls_of(kept, here.graph.contacts)
    if prod(len(states.controls[name].positions) for name in names) > MOST_STATES:
        return ()
    frame = states.frame(names)
    now = tied(bonds_at_rest(links, barred.contacts, frame), *pair, states.possible(frame))
    now &= ~tied(bonds_at_rest(kept, here.graph.contacts, frame), *was, frame.full)
    return tuple(State(tuple(state.items())) for state in frame.states(now))
