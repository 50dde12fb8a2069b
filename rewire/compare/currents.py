"""While switching: paths interrupted and strays (contract, 'While switching', 6 and 7)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rewire.circuit.circuit import ContactGraph
from rewire.circuit.connectivity import QUESTIONS, Moving, Question, in_step
from rewire.circuit.graph import CandidatePairs, PairsIn
from rewire.circuit.states import Frame, States
from rewire.compare.behind import Behind
from rewire.compare.facts import Found, Move, StepFacts
from rewire.compare.flows import Flow, Flows, Unlike, Way
from rewire.compare.passages import Passage, extras, passage
from rewire.compare.switching import crosses
from rewire.records.spec import Control


def interrupted_facts(behind: Behind, control: Control, facts: StepFacts) -> None:
    """Points whose path the other wiring lets go of for a moment, its gaps tied over."""
    flows = behind.flows
    if not flows.lost.any:
        return
    moves = _moves(flows.other.view, control)
    for gate, move in _gates(behind, moves, flows.lost, CandidatePairs.held):
        _interrupted_behind(behind, gate, move, facts)


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
    places = sorted({place for block in moved for place in flow.view.tree.places_in[block]})
    crowd = CandidatePairs(flow.view.tree, flow.view.links_by_control.get(control, ()), places)
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
    if not flow.view.tree.linked(*portals):
        return None
    legs = flow.view.tree.path(*portals)
    if legs[0] not in moved or legs[-1] not in moved:
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


def _interrupted_behind(behind: Behind, gate: Gate, move: Move, facts: StepFacts) -> None:
    """Interruptions between what hangs behind two portals.

    What hangs behind a portal stands still, so it is cut off just when the
    portals are; and if the original does not hold the portals, it holds points
    behind them only if it ties one of them to its portal otherwise.
    """
    flows, states = behind.flows, behind.states
    settled = _settled(gate, flows.lost, move)
    if gate.points is not None and not settled:
        scene, let_go = _let_go(flows, states, gate.points, move, facts)
        if not let_go:
            return
        settled = not any(mask & _holds(scene, question) for question, mask in let_go)
    for points in _asked(behind, gate, move, settled, flows.lost):
        scene, let_go = _let_go(flows, states, points, move, facts)
        for question, mask in let_go:
            found = Found(scene.frame, mask & _holds(scene, question), question is in_step)
            facts.add("interrupted", [(p,) for p in points], move, found)


def _holds(scene: Passage, question: Question) -> int:
    """States in which the original keeps a path through a move."""
    return question(scene.here).always(*scene.ends_here)


Asked = list[tuple[Question, int]]
"""Per question the states of the others in which something is so; those with none left out."""


def _let_go(
    flows: Flows, states: States, points: tuple[str, str], move: Move, facts: StepFacts
) -> tuple[Passage, Asked]:
    """When a move lets go of a path there is before and after, the gaps of the move tied over."""
    scene = passage(flows, states, points, move, flows.assumed.breaks)
    let_go = _lost(scene, scene.there)
    gaps = extras(flows.other, facts.during("gap", move)) if let_go else []
    if gaps:
        scene = passage(flows, states, points, move, flows.assumed.breaks, gaps_there=gaps)
        let_go = _lost(scene, scene.there_mended)
    return scene, let_go


def _lost(scene: Passage, mended: Moving) -> Asked:
    """As each on its own may do all that is done in step, that is asked first."""
    ends = scene.ends_there
    mask = scene.possible & scene.there.before(*ends)
    mask = mask and mask & scene.there.after(*ends)
    found: Asked = []
    for question in QUESTIONS:
        mask = mask and mask & ~question(mended).always(*ends)
        if mask:
            found.append((question, mask))
    return found


def stray_facts(behind: Behind, control: Control, facts: StepFacts) -> None:
    """Points with a path for a moment in the other wiring only, its bridges allowed for."""
    flows = behind.flows
    if not flows.gained.any:
        return
    view = flows.other.view
    for gate, move in _gates(behind, _moves(view, control), flows.gained, CandidatePairs.met):
        if crosses(view.tree.between(gate.portals), view.contacts, move):
            _strays_behind(behind, gate, move, facts)


def _strays_behind(behind: Behind, gate: Gate, move: Move, facts: StepFacts) -> None:
    """Strays between what hangs behind two portals.

    If the portals don't meet, neither does anything behind them; if they do and
    the original lets them meet as well, only newcomers can stray.
    """
    flows, states = behind.flows, behind.states
    settled = _settled(gate, flows.gained, move)
    if gate.points is not None and not settled:
        settled = not _stray(flows, states, gate.points, move, facts)[1]
    for points in _asked(behind, gate, move, settled, flows.gained):
        frame, stray = _stray(flows, states, points, move, facts)
        for question, mask in stray:
            found = Found(frame, mask, question is in_step)
            facts.add("stray", [(p,) for p in points], move, found)


def _stray(
    flows: Flows, states: States, points: tuple[str, str], move: Move, facts: StepFacts
) -> tuple[Frame, Asked]:
    """When a move makes a path between two points that is not meant, its bridges allowed for."""
    scene = passage(flows, states, points, move, flows.assumed.bridges)
    stray = _apart(scene, scene.here, _momentary(scene))
    bridges = extras(flows.original, facts.during("bridge", move)) if stray else []
    if not bridges:
        return scene.frame, stray
    scene = passage(flows, states, points, move, flows.assumed.bridges, bridges_here=bridges)
    return scene.frame, _apart(scene, scene.here_mended, _momentary(scene))


def _apart(scene: Passage, here: Moving, momentary: Asked) -> Asked:
    """Those states in which the original makes no path in the same question's combinations."""
    left = [
        (question, mask & ~question(here).ever(*scene.ends_here)) for question, mask in momentary
    ]
    return [(question, mask) for question, mask in left if mask]


def _momentary(scene: Passage) -> Asked:
    """States with a path in some combination of the other wiring, and at rest in neither.

    As each on its own may do all that is done in step, that is asked first.
    """
    ends = scene.ends_there
    mask = scene.possible & ~scene.there.before(*ends)
    mask = mask and mask & ~scene.there.after(*ends)
    found: Asked = []
    for question in QUESTIONS:
        mask = mask and mask & question(scene.there).ever(*ends)
        if mask and not found:
            here, ends_here = scene.here, scene.ends_here
            mask &= ~here.before(*ends_here) & ~here.after(*ends_here)
        if mask:
            found.append((question, mask))
    return found


def _points_on(flow: Flow, places: tuple[int, int]) -> tuple[str, str] | None:
    """A point on each of two places, None if one has none."""
    found = [min(flow.points_at.get(place, [""])) for place in places]
    return (found[0], found[1]) if all(found) else None


def _moves(view: ContactGraph, control: Control) -> list[Move]:
    """Moves of a control in which some section moves."""
    contacts = [view.contacts[n] for n in view.contacts_by_control.get(control.name, ())]
    return [
        (control.name, *step) for step in control.steps() if any(c.moves(*step) for c in contacts)
    ]
