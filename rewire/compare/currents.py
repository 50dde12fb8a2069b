"""While switching: paths interrupted and strays (contract, 'While switching', 6 and 7)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rewire.circuit.crowd import Crowd, PairsIn
from rewire.circuit.states import Frame, States
from rewire.circuit.ties import QUESTIONS, Question, in_step
from rewire.compare.behind import Behind
from rewire.compare.facts import Found, Move, StepFacts
from rewire.compare.flows import Flow, Flows, Unlike, Way
from rewire.compare.passages import Passage, extras, passage
from rewire.compare.views import View
from rewire.spec.model import Control


def interrupted_facts(behind: Behind, control: Control, facts: StepFacts) -> None:
    """Points whose path the other wiring lets go of for a moment, its gaps tied over."""
    flows = behind.flows
    if not flows.lost.any:
        return
    moves = _moves(flows.other.view, control)
    for gate, move in _gates(behind, moves, flows.lost, Crowd.held):
        for question in QUESTIONS:
            _interrupted_behind(behind, gate, move, question, facts)


@dataclass(frozen=True, slots=True)
class Gate:
    """Two portals, between or behind which the wirings may differ in some move."""

    portals: tuple[int, int]
    points: tuple[str, str] | None
    """A point on each; None if one has none, or if points of one are apart in the original."""
    way: Way | None
    """What lies between the points in the wiring whose contacts may lack twins."""


def _gates(
    behind: Behind, moves: Sequence[Move], unlike: Unlike, pairs_in: PairsIn
) -> Iterator[tuple[Gate, Move]]:
    """Pairs of portals that a move can be about, each with such a move.

    Portals that are linked over nothing but twins, with no newcomers behind them, are alike.
    """
    if not moves:
        return
    flow, control = behind.flows.other, moves[0][0]
    moved = flow.moved_blocks(control)
    places = sorted({place for block in moved for place in flow.view.ways.places_in[block]})
    crowd = Crowd(flow.view.ways, flow.view.links_by_control.get(control, ()), places)
    known: dict[tuple[int, int], Gate | None] = {}
    for move in moves:
        for portals in pairs_in(crowd, *move[1:]):
            if portals not in known:
                known[portals] = _gate(behind, portals, moved, unlike)
            gate = known[portals]
            if gate is not None and (
                not _settled(gate, unlike, move)
                or any(behind.newcomers(control, portal) for portal in portals)
            ):
                yield gate, move


def _gate(
    behind: Behind, portals: tuple[int, int], moved: frozenset[int], unlike: Unlike
) -> Gate | None:
    """Two places as portals, if the way between them starts and ends with what is moved."""
    flow = behind.flows.other
    if not flow.view.ways.linked(*portals):
        return None
    legs = flow.view.ways.legs(*portals)
    if legs[0].block not in moved or legs[-1].block not in moved:
        return None
    points = None
    if behind.flows.gained.split.isdisjoint(portals):
        points = _points_on(flow, portals)
    return Gate(portals, points, points and unlike.way(points))


def _settled(gate: Gate, unlike: Unlike, move: Move) -> bool:
    """Whether a move does the same between the portals in both wirings."""
    return gate.way is not None and not unlike.differs(gate.way, move)


def _asked(
    behind: Behind, gate: Gate, move: Move, settled: bool, unlike: Unlike
) -> Iterator[tuple[str, str]]:
    """Points to ask about, one behind each portal: newcomers if the portals are settled."""
    find = behind.pairs_of_newcomers if settled else behind.pairs
    for points in find(move[0], gate.portals):
        if unlike.differs(unlike.way(points), move):
            yield points


def _interrupted_behind(
    behind: Behind, gate: Gate, move: Move, question: Question, facts: StepFacts
) -> None:
    """Interruptions between what hangs behind two portals.

    What hangs behind a portal stands still, so it is cut off just when the
    portals are; and if the original does not hold the portals, it holds points
    behind them only if it ties one of them to its portal otherwise.
    """
    flows, states = behind.flows, behind.states
    settled = _settled(gate, flows.lost, move)
    if gate.points is not None and not settled:
        scene, mask = _let_go(flows, states, gate.points, move, question, facts)
        if not mask:
            return
        settled = not mask & scene.here.always(*scene.ends_here)
    for points in _asked(behind, gate, move, settled, flows.lost):
        scene, mask = _let_go(flows, states, points, move, question, facts)
        mask = mask and mask & scene.here.always(*scene.ends_here)
        found = Found(scene.frame, mask, question is in_step)
        facts.add("interrupted", [(p,) for p in points], move, found)


def _let_go(
    flows: Flows,
    states: States,
    points: tuple[str, str],
    move: Move,
    question: Question,
    facts: StepFacts,
) -> tuple[Passage, int]:
    """States of the others in which a move lets go of a path there is before and after."""
    scene = passage(flows, states, points, move, flows.assumed.breaks).asked(question)
    ends = scene.ends_there
    mask = scene.possible & scene.there.before(*ends)
    mask = mask and mask & scene.there.after(*ends)
    mask = mask and mask & ~scene.there.always(*ends)
    gaps = extras(flows.other, facts.during("gap", move)) if mask else []
    if not gaps:
        return scene, mask
    scene = passage(flows, states, points, move, flows.assumed.breaks, gaps_there=gaps)
    scene = scene.asked(question)
    mask = scene.possible & scene.there.before(*ends) & scene.there.after(*ends)
    return scene, mask & ~scene.there_mended.always(*ends)


def stray_facts(behind: Behind, control: Control, facts: StepFacts) -> None:
    """Points with a path for a moment in the other wiring only, its bridges allowed for."""
    flows = behind.flows
    if not flows.gained.any:
        return
    moves = _moves(flows.other.view, control)
    for gate, move in _gates(behind, moves, flows.gained, Crowd.met):
        for question in QUESTIONS:
            _strays_behind(behind, gate, move, question, facts)


def _strays_behind(
    behind: Behind, gate: Gate, move: Move, question: Question, facts: StepFacts
) -> None:
    """Strays between what hangs behind two portals.

    If the portals don't meet, neither does anything behind them; if they do and
    the original lets them meet as well, only newcomers can stray.
    """
    flows, states = behind.flows, behind.states
    settled = _settled(gate, flows.gained, move)
    if gate.points is not None and not settled:
        settled = not _stray(flows, states, gate.points, move, question, facts)[1]
    for points in _asked(behind, gate, move, settled, flows.gained):
        frame, mask = _stray(flows, states, points, move, question, facts)
        found = Found(frame, mask, question is in_step)
        facts.add("stray", [(p,) for p in points], move, found)


def _stray(
    flows: Flows,
    states: States,
    points: tuple[str, str],
    move: Move,
    question: Question,
    facts: StepFacts,
) -> tuple[Frame, int]:
    """States of the others in which a move makes a path between two points that is not meant."""
    scene = passage(flows, states, points, move, flows.assumed.bridges).asked(question)
    mask = _momentary(scene)
    if mask:
        mask &= ~scene.here.ever(*scene.ends_here)
    bridges = extras(flows.original, facts.during("bridge", move)) if mask else []
    if not bridges:
        return scene.frame, mask
    scene = passage(flows, states, points, move, flows.assumed.bridges, bridges_here=bridges)
    scene = scene.asked(question)
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
