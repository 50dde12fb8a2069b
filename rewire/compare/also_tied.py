"""Who else is tied with the places of a finding, and in which positions.

A finding speaks of two nets that are tied directly. What hangs on them over further contacts is
part of the same tie, and where that depends on positions the finding's own states do not say so:
two leads joined in every position are joined with the chassis in the one in which one of them
stands on it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from math import prod

from rewire.circuit.circuit import ContactGraph
from rewire.circuit.connectivity import bonds_at_rest, controls_of, tied
from rewire.circuit.states import Frame, States, widen
from rewire.compare.comparison import Comparison
from rewire.compare.findings import AlsoTied, FindingKind, Groups, State
from rewire.compare.words import group_name

MOST_STATES = 4096
"""Product of the positions of the controls that are looked at together for one net."""
MOST = 64
"""Nets looked at for one finding: the nearest, by contacts in between."""


@dataclass(frozen=True, slots=True)
class Party:
    """The wiring in which the places of a finding are tied."""

    graph: ContactGraph
    at: dict[str, int]
    """Anchor → its net."""
    named: dict[int, str]
    """Net → what it is called."""


def party_of(both: Comparison, kind: FindingKind) -> Party:
    """Of what is joined the other wiring, of what is lost the original."""
    way = both.up if kind == "joined" else both.down
    at = {anchor: net for net, anchors in way.anchors.items() for anchor in anchors}
    known = both.spec.points
    return Party(
        graph=way.first,
        at=at,
        named={net: group_name(anchors, known) for net, anchors in way.anchors.items()},
    )


def also_tied(
    party: Party, states: States, groups: Groups, frame: Frame, mask: int
) -> Iterator[AlsoTied]:
    """What else is tied with the groups in some of the states, in order of names.

    Args:
        party: where they are tied.
        states: of the spec's controls.
        groups: of the finding.
        frame: of its states.
        mask: its states.
    """
    own = {party.at[anchor] for group in groups for anchor in group}
    start = party.at[groups[0][0]]
    outward = _reached(party.graph, start)
    near = islice((net for net in outward if net in party.named and net not in own), MOST)
    for net in sorted(near, key=party.named.__getitem__):
        yield from _tied_with(party, states, (start, net), frame, mask)


def _reached(graph: ContactGraph, start: int) -> Iterator[int]:
    """Places that contacts can tie to one, the controls anyhow; the nearest first."""
    found = {start}
    waiting = deque([start])
    while waiting:
        place = waiting.popleft()
        yield place
        for link in graph.links_at.get(place, ()):
            fresh = [other for other in link.places if other not in found]
            found.update(fresh)
            waiting += fresh


def _tied_with(
    party: Party, states: States, pair: tuple[int, int], frame: Frame, mask: int
) -> Iterator[AlsoTied]:
    links = party.graph.tree.between(pair)
    names = controls_of(links, party.graph.contacts)
    own = {control.name for control in frame.controls}
    bound = not own.isdisjoint(states.linked(names))
    if bound:
        names |= own
    if prod(len(states.controls[name].positions) for name in names) > MOST_STATES:
        yield AlsoTied(party.named[pair[1]], None)
        return
    wide = states.frame(names)
    asked = states.possible(wide) & (widen(frame, mask, wide) if bound else wide.full)
    found = tied(bonds_at_rest(links, party.graph.contacts, wide), *pair, asked)
    if found == asked != 0:
        yield AlsoTied(party.named[pair[1]], ())
    elif found:
        at = (State(tuple(state.items())) for state in wide.states(found))
        yield AlsoTied(party.named[pair[1]], tuple(at))
