"""While switching: paths interrupted and strays (contract, 'While switching', 6 and 7)."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.circuit.glances import Glances
from rewire.circuit.states import Frame, States
from rewire.compare.behind import Behind
from rewire.compare.facts import Move, StepFacts
from rewire.compare.flows import Flow, Flows
from rewire.compare.passages import Passage, extras, passage
from rewire.compare.switching import crosses, links_on, lone_breaking_section, rich_blocks
from rewire.compare.views import View, pairs_of
from rewire.spec.model import Control

Extra = tuple[tuple[int, ...], Frame, int]
"""Places tied besides the contacts, and the states of the others in which they are."""


def interrupted_facts(behind: Behind, control: Control, facts: StepFacts) -> None:
    """Points whose path the other wiring lets go of for a moment, its gaps tied over."""
    flows = behind.flows
    there = flows.other
    blocks, split = flows.lost
    if not (blocks or split):
        return
    glances = Glances(there.view.ways, there.view.contacts, control.name)
    rich = rich_blocks(there.view, control.name)
    moves = [
        move
        for move in _moves(there.view, control)
        if any(glances.block_may_let_go(block, *move[1:]) for block in rich)
    ]
    if not moves:
        return
    for portals in _portals(there, control.name):
        legs = there.view.ways.legs(*portals)
        for move in moves:
            if glances.may_let_go(legs, *move[1:]):
                _interrupted_behind(behind, portals, move, facts)


def _interrupted_behind(
    behind: Behind, portals: tuple[int, int], move: Move, facts: StepFacts
) -> None:
    """Interruptions between what hangs behind two portals.

    What hangs behind a portal stands still, so it is cut off just when the
    portals are; and if the original does not hold the portals, it holds points
    behind them only if it ties one of them to its portal otherwise.
    """
    flows, states = behind.flows, behind.states
    blocks, split = flows.lost
    pairs = behind.pairs(move[0], portals)
    on_them = _points_on(flows.other, portals)
    if on_them is not None:
        scene, mask = _let_go(flows, states, on_them, move, facts)
        if not mask:
            return
        if _not_split(flows, portals) and not mask & scene.here.always(*scene.ends_here):
            pairs = behind.pairs_of_newcomers(move[0], portals)
    for points in pairs:
        if _concerned(flows.original, points, blocks, split):
            scene, mask = _let_go(flows, states, points, move, facts)
            mask &= scene.here.always(*scene.ends_here)
            facts.add("interrupted", [(p,) for p in points], move, scene.frame, mask)


def _not_split(flows: Flows, portals: tuple[int, int]) -> bool:
    """Whether all points on each portal are on one place in the original too."""
    return flows.gained[1].isdisjoint(portals)


def _let_go(
    flows: Flows, states: States, points: tuple[str, str], move: Move, facts: StepFacts
) -> tuple[Passage, int]:
    """States of the others in which a move lets go of a path there is before and after."""
    scene = passage(flows, states, points, move, flows.assumed.breaks)
    ends = scene.ends_there
    mask = scene.possible & scene.there.before(*ends) & scene.there.after(*ends)
    mask &= ~scene.there.always(*ends)
    gaps = extras(flows.other, facts.during("gap", move)) if mask else []
    if not gaps:
        return scene, mask
    scene = passage(flows, states, points, move, flows.assumed.breaks, gaps_there=gaps)
    mask = scene.possible & scene.there.before(*ends) & scene.there.after(*ends)
    return scene, mask & ~scene.there_mended.always(*ends)


def stray_facts(behind: Behind, control: Control, facts: StepFacts) -> None:
    """Points with a path for a moment in the other wiring only, its bridges allowed for."""
    flows = behind.flows
    there = flows.other
    blocks, split = flows.gained
    if not (blocks or split):
        return
    glances = Glances(there.view.ways, there.view.contacts, control.name)
    moves = _moves(there.view, control)
    if not moves or lone_breaking_section(there.view, control.name, flows.assumed):
        return
    for portals in _portals(there, control.name):
        legs = there.view.ways.legs(*portals)
        links = links_on(there.view.ways, legs)
        for move in moves:
            if glances.may_meet(legs, *move[1:]) and crosses(links, there.view.contacts, move):
                _strays_behind(behind, portals, move, facts)


def _strays_behind(behind: Behind, portals: tuple[int, int], move: Move, facts: StepFacts) -> None:
    """Strays between what hangs behind two portals.

    If the portals don't meet, neither does anything behind them; if they do and
    the original lets them meet as well, only newcomers can stray.
    """
    flows, states = behind.flows, behind.states
    blocks, split = flows.gained
    pairs = behind.pairs(move[0], portals)
    on_them = _points_on(flows.other, portals)
    if (
        on_them is not None
        and _not_split(flows, portals)
        and not _stray(flows, states, on_them, move, facts)[1]
    ):
        pairs = behind.pairs_of_newcomers(move[0], portals)
    for u, v in pairs:
        if _concerned(flows.other, (u, v), blocks, split):
            frame, mask = _stray(flows, states, (u, v), move, facts)
            facts.add("stray", [(u,), (v,)], move, frame, mask)


def _stray(
    flows: Flows, states: States, points: tuple[str, str], move: Move, facts: StepFacts
) -> tuple[Frame, int]:
    """States of the others in which a move makes a path between two points that is not meant."""
    scene = passage(flows, states, points, move, flows.assumed.bridges)
    mask = _momentary(scene)
    if mask:
        mask &= ~scene.here.ever(*scene.ends_here)
    bridges = extras(flows.original, facts.during("bridge", move)) if mask else []
    if not bridges:
        return scene.frame, mask
    scene = passage(flows, states, points, move, flows.assumed.bridges, bridges_here=bridges)
    return scene.frame, _momentary(scene) & ~scene.here_mended.ever(*scene.ends_here)


def _momentary(scene: Passage) -> int:
    """States with a path in some combination of the other wiring, and at rest in neither."""
    mask = scene.possible & scene.there.ever(*scene.ends_there)
    if mask:
        mask &= ~scene.there.before(*scene.ends_there) & ~scene.there.after(*scene.ends_there)
    if mask:
        mask &= ~scene.here.before(*scene.ends_here) & ~scene.here.after(*scene.ends_here)
    return mask


def _points_on(flow: Flow, places: tuple[int, int]) -> tuple[str, str] | None:
    """A point on each of two places, None if one has none."""
    found = [min(flow.points_at.get(place, [""])) for place in places]
    return (found[0], found[1]) if all(found) else None


def _moves(view: View, control: Control) -> list[Move]:
    """Moves of a control in which some section moves."""
    contacts = [view.contacts[n] for n in view.contacts_by_control.get(control.name, ())]
    return [
        (control.name, *step) for step in control.steps() if any(c.moves(*step) for c in contacts)
    ]


def _portals(flow: Flow, control: str) -> Iterator[tuple[int, int]]:
    """Pairs of places between which the way starts and ends with what a control moves."""
    ways = flow.view.ways
    moved = flow.moved_blocks(control)
    places = {place for block in moved for place in ways.places_in[block]}
    for a, b in pairs_of(places):
        if ways.linked(a, b):
            legs = ways.legs(a, b)
            if legs[0].block in moved and legs[-1].block in moved:
                yield a, b


def _concerned(
    flow: Flow, points: tuple[str, str], blocks: frozenset[int], split: frozenset[int]
) -> bool:
    """Whether a flow links two points over something that has no twin."""
    a, b = (flow.points[point] for point in points)
    if a == b:
        return a in split
    ways = flow.view.ways
    if not ways.linked(a, b):
        return False
    return not blocks.isdisjoint(leg.block for leg in ways.legs(a, b))
