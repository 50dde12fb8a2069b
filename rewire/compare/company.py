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
from rewire.compare.facts import Groups
from rewire.compare.findings import Company, FindingKind, State
from rewire.compare.views import Views
from rewire.compare.words import group_name

MOST_STATES = 4096
"""Product of the positions of the controls that are looked at together for one net."""
MOST = 64
"""Nets looked at for one finding: the nearest, by contacts in between."""


@dataclass(frozen=True, slots=True)
class Party:
    """The wiring in which the places of a finding are tied."""

    view: ContactGraph
    at: dict[str, int]
    """Anchor → its net."""
    named: dict[int, str]
    """Net → what it is called."""


def party_of(views: Views, kind: FindingKind) -> Party:
    """Of what is joined the other wiring, of what is lost the original."""
    sight = views.up if kind == "joined" else views.down
    at = {anchor: net for net, anchors in sight.anchors.items() for anchor in anchors}
    known = views.spec.points
    return Party(
        view=sight.first,
        at=at,
        named={net: group_name(anchors, known) for net, anchors in sight.anchors.items()},
    )


def company_of(
    party: Party, states: States, groups: Groups, frame: Frame, mask: int
) -> Iterator[Company]:
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
    outward = _reached(party.view, start)
    near = islice((net for net in outward if net in party.named and net not in own), MOST)
    for net in sorted(near, key=party.named.__getitem__):
        yield from _company(party, states, (start, net), frame, mask)


def _reached(view: ContactGraph, start: int) -> Iterator[int]:
    """Places that contacts can tie to one, the controls anyhow; the nearest first."""
    found = {start}
    waiting = deque([start])
    while waiting:
        place = waiting.popleft()
        yield place
        for link in view.links_at.get(place, ()):
            fresh = [other for other in link.places if other not in found]
            found.update(fresh)
            waiting += fresh


def _company(
    party: Party, states: States, pair: tuple[int, int], frame: Frame, mask: int
) -> Iterator[Company]:
    links = party.view.tree.between(pair)
    names = controls_of(links, party.view.contacts)
    own = {control.name for control in frame.controls}
    bound = not own.isdisjoint(states.linked(names))
    if bound:
        names |= own
    if prod(len(states.controls[name].positions) for name in names) > MOST_STATES:
        yield Company(party.named[pair[1]], None)
        return
    wide = states.frame(names)
    asked = states.possible(wide) & (widen(frame, mask, wide) if bound else wide.full)
    found = tied(bonds_at_rest(links, party.view.contacts, wide), *pair, asked)
    if found == asked != 0:
        yield Company(party.named[pair[1]], ())
    elif found:
        at = (State(tuple(state.items())) for state in wide.states(found))
        yield Company(party.named[pair[1]], tuple(at))
