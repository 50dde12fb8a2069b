"""While switching: paths interrupted and strays (contract, 'While switching', 6 and 7)."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from rewire.circuit.glances import Glances
from rewire.circuit.states import Frame, States
from rewire.compare.behind import Behind
from rewire.compare.facts import Move, StepFacts
from rewire.compare.flows import Flow, Flows, Unlike
from rewire.compare.passages import Passage, extras, passage
from rewire.compare.switching import crosses, links_on, lone_breaking_section, rich_blocks
from rewire.compare.views import View, pairs_of
from rewire.spec.model import Control


def interrupted_facts(behind: Behind, control: Control, facts: StepFacts) -> None:
    """Points whose path the other wiring lets go of for a moment, its gaps tied over."""
    flows = behind.flows
    view = flows.other.view
    if not flows.lost.any:
        return
    glances = Glances(view.ways, view.contacts, control.name)
    rich = rich_blocks(view, control.name)
    moves = [
        move
        for move in _moves(view, control)
        if any(glances.block_may_let_go(block, *move[1:]) for block in rich)
    ]
    for portals in _portals(flows.other, control.name) if moves else ():
        gate = _gate(behind, portals, moves, flows.lost)
        legs = view.ways.legs(*portals) if gate.moves else ()
        for move in gate.moves:
            if glances.may_let_go(legs, *move[1:]):
                _interrupted_behind(behind, gate, move, facts)


@dataclass(frozen=True, slots=True)
class Gate:
    """Two portals, and the moves in which anything can be found between or behind them."""

    portals: tuple[int, int]
    points: tuple[str, str] | None
    """A point on each, None if one has none."""
    alike: bool
    """Whether all points on each portal are on one place in the original too."""
    moves: Sequence[Move]
    telling: Collection[Move]
    """Those in which the portals themselves can be a fact."""

    def pairs(self, behind: Behind, control: str, settled: bool) -> Iterator[tuple[str, str]]:
        """Points to ask about, one behind each portal; newcomers if the portals are settled."""
        if settled and self.alike:
            return behind.pairs_of_newcomers(control, self.portals)
        return behind.pairs(control, self.portals)


def _gate(behind: Behind, portals: tuple[int, int], moves: Sequence[Move], unlike: Unlike) -> Gate:
    """Portals that are linked over nothing but twins, with no newcomers behind them, are alike."""
    points = _points_on(behind.flows.other, portals)
    if points is None or not behind.flows.gained.split.isdisjoint(portals):
        return Gate(portals, points, False, moves, moves)
    telling = unlike.moves_between(points, moves)
    if len(telling) == len(moves) or not any(
        behind.newcomers(moves[0][0], portal) for portal in portals
    ):
        return Gate(portals, points, True, telling, telling)
    return Gate(portals, points, True, moves, telling)


def _interrupted_behind(behind: Behind, gate: Gate, move: Move, facts: StepFacts) -> None:
    """Interruptions between what hangs behind two portals.

    What hangs behind a portal stands still, so it is cut off just when the
    portals are; and if the original does not hold the portals, it holds points
    behind them only if it ties one of them to its portal otherwise.
    """
    flows, states = behind.flows, behind.states
    settled = move not in gate.telling
    if gate.points is not None and not settled:
        scene, mask = _let_go(flows, states, gate.points, move, facts)
        if not mask:
            return
        settled = not mask & scene.here.always(*scene.ends_here)
    for points in gate.pairs(behind, move[0], settled):
        if flows.lost.moves_between(points, [move]):
            scene, mask = _let_go(flows, states, points, move, facts)
            mask &= scene.here.always(*scene.ends_here)
            facts.add("interrupted", [(p,) for p in points], move, scene.frame, mask)


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
    view = flows.other.view
    if not flows.gained.any or lone_breaking_section(view, control.name, flows.assumed):
        return
    glances = Glances(view.ways, view.contacts, control.name)
    moves = _moves(view, control)
    for portals in _portals(flows.other, control.name) if moves else ():
        gate = _gate(behind, portals, moves, flows.gained)
        legs = view.ways.legs(*portals) if gate.moves else ()
        links = links_on(view.ways, legs)
        for move in gate.moves:
            if glances.may_meet(legs, *move[1:]) and crosses(links, view.contacts, move):
                _strays_behind(behind, gate, move, facts)


def _strays_behind(behind: Behind, gate: Gate, move: Move, facts: StepFacts) -> None:
    """Strays between what hangs behind two portals.

    If the portals don't meet, neither does anything behind them; if they do and
    the original lets them meet as well, only newcomers can stray.
    """
    flows, states = behind.flows, behind.states
    settled = move not in gate.telling
    if gate.points is not None and gate.alike and not settled:
        settled = not _stray(flows, states, gate.points, move, facts)[1]
    for u, v in gate.pairs(behind, move[0], settled):
        if flows.gained.moves_between((u, v), [move]):
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
