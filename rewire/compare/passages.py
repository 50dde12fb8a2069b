"""Passages: two points and everything between them while one control moves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from rewire.circuit.circuit import Contact
from rewire.circuit.connectivity import Moving, controls_of, moving
from rewire.circuit.graph import Link
from rewire.circuit.states import Frame, States, widen
from rewire.compare.facts import Found, Groups, Move
from rewire.compare.flows import Flow, Flows

Extra = tuple[tuple[int, ...], Frame, int]
"""Places tied besides the contacts, and the states of the others in which they are."""


@dataclass(frozen=True, slots=True)
class Passage:
    """Two points and all ways between them, in both wirings, in one move."""

    frame: Frame
    possible: int
    ends_here: tuple[int, int]
    ends_there: tuple[int, int]
    here: Moving
    there: Moving
    here_mended: Moving
    """With the anchors of each bridge tied."""
    there_mended: Moving
    """With the anchors of each gap tied."""


def passage(
    flows: Flows,
    states: States,
    points: tuple[str, str],
    move: Move,
    shorts: Callable[[Contact, bool], bool],
    gaps_there: Sequence[Extra] = (),
    bridges_here: Sequence[Extra] = (),
) -> Passage:
    """Gather what can matter to a path between two points while one control moves."""
    here, there = flows.original, flows.other
    ends_here = here.points[points[0]], here.points[points[1]]
    ends_there = there.points[points[0]], there.points[points[1]]
    links_here = _links_among(here, ends_here, bridges_here)
    links_there = _links_among(there, ends_there, gaps_there)
    names = controls_of(links_here, here.view.contacts)
    names |= controls_of(links_there, there.view.contacts)
    for extra in (*gaps_there, *bridges_here):
        names.update(control.name for control in extra[1].controls)
    asking = f"moving {move[0]}: the paths between {points[0]} and {points[1]}"
    frame = states.frame(names - {move[0]}, asking)
    moving_here = moving(
        links_here,
        here.view.contacts,
        frame,
        move,
        lambda number: shorts(here.view.contacts[number], True),
    )
    moving_there = moving(
        links_there,
        there.view.contacts,
        frame,
        move,
        lambda number: shorts(there.view.contacts[number], False),
    )
    return Passage(
        frame=frame,
        possible=states.possible_steps(frame, *move),
        ends_here=ends_here,
        ends_there=ends_there,
        here=moving_here,
        there=moving_there,
        here_mended=_mended(moving_here, bridges_here, frame),
        there_mended=_mended(moving_there, gaps_there, frame),
    )


def _links_among(flow: Flow, ends: tuple[int, int], extras: Sequence[Extra]) -> list[Link]:
    """Links on any way between the ends, over ties besides the contacts if there are any."""
    tied_besides = (place for places, _, _ in extras for place in places)
    return flow.view.tree.between((*ends, *tied_besides))


def _mended(still: Moving, extras: Sequence[Extra], frame: Frame) -> Moving:
    bonds = tuple((places, widen(narrow, mask, frame)) for places, narrow, mask in extras)
    return replace(still, still=(*still.still, *bonds))


def extras(flow: Flow, facts: Sequence[tuple[Groups, Found]]) -> list[Extra]:
    """Gaps or bridges as ties between all the anchors they name."""
    extras = []
    for groups, found in facts:
        places = tuple(dict.fromkeys(flow.anchors[a] for group in groups for a in group))
        if len(places) > 1:
            extras.append((places, found.frame, found.mask))
    return extras
