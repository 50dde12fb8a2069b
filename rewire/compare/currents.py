"""While switching: paths interrupted and strays (contract, 'While switching', 6 and 7)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

from rewire.circuit.contacts import Contact, Link, contacts_of
from rewire.circuit.nets import Joiner, Nets
from rewire.circuit.states import Frame, States, widen
from rewire.circuit.ties import Moving, controls_of, moving
from rewire.compare.facts import Groups, Move, StepFacts
from rewire.compare.switching import crosses, links_on, rich_blocks
from rewire.compare.timing import Assumption
from rewire.compare.views import View, Views, bars_of, pairs_of, uncovered
from rewire.spec.model import Control, Spec, Wiring

Extra = tuple[tuple[int, ...], Frame, int]
"""Places tied besides the contacts, and the states of the others in which they are."""


@dataclass(frozen=True)
class Flow:
    """Where current can flow in one wiring: what is always linked is one place."""

    view: View
    points: Mapping[str, int]
    """Per point its place."""
    anchors: Mapping[str, int]
    """Per anchor its place."""

    @cached_property
    def points_at(self) -> Mapping[int, Sequence[str]]:
        """Points by place."""
        found: dict[int, list[str]] = {}
        for point, place in self.points.items():
            found.setdefault(place, []).append(point)
        return found


def flow_of(spec: Spec, wiring: Wiring, nets: Nets, seat: Mapping[str, str]) -> Flow:
    """Merge all nets that parts, or contacts closed in every position, link."""
    contacts = contacts_of(spec, wiring, nets)
    plain = View(contacts)
    joiner = Joiner(len(nets.members))
    for bar in bars_of(spec.parts_of(wiring).values(), nets):
        joiner.join(bar.places)
    for link in plain.links:
        control = spec.controls[contacts[link.contact].control]
        if link.positions == (1 << len(control.positions)) - 1:
            joiner.join(link.places)
    places = joiner.numbered()
    return Flow(
        view=plain.moved_to(places),
        points={point: places[nets.of[point]] for point in spec.points},
        anchors={anchor: places[nets.of[terminal]] for anchor, terminal in seat.items()},
    )


@dataclass(frozen=True)
class Flows:
    """Both wirings' flows, and where one can do what the other can't."""

    original: Flow
    other: Flow
    assumed: Assumption

    @cached_property
    def lost(self) -> tuple[frozenset[int], frozenset[int]]:
        """Blocks of the original without a twin in the other; its places split there."""
        return _fresh(self.original, self.other, self.assumed, original=True)

    @cached_property
    def gained(self) -> tuple[frozenset[int], frozenset[int]]:
        """Blocks of the other without a twin in the original; its places split there."""
        return _fresh(self.other, self.original, self.assumed, original=False)


def flows_of(views: Views, other: Wiring, assumed: Assumption) -> Flows:
    """The flows of a comparison."""
    spec, seat = views.spec, views.roles.seat
    return Flows(
        original=flow_of(spec, spec.original, views.nets[0], {anchor: anchor for anchor in seat}),
        other=flow_of(spec, other, views.nets[1], seat),
        assumed=assumed,
    )


def _fresh(
    first: Flow, second: Flow, assumed: Assumption, original: bool
) -> tuple[frozenset[int], frozenset[int]]:
    image = {
        place: {second.points[point] for point in points}
        for place, points in first.points_at.items()
    }
    split = frozenset(place for place, seen in image.items() if len(seen) > 1)

    def key_first(place: int) -> object:
        seen = image.get(place)
        if seen is None:
            return first.view.lugs_at[place]
        return ("split", place) if place in split else ("at", *seen)

    def key_second(place: int) -> object:
        return ("at", place) if place in second.points_at else second.view.lugs_at[place]

    fresh = uncovered(
        first.view.contacts,
        key_first,
        second.view.contacts,
        key_second,
        lambda contact, is_first: assumed.likeness(contact, is_first == original),
    )
    if not fresh:
        return frozenset(), split
    ways = first.view.ways
    links = (link for link in first.view.links if link.contact in fresh)
    return frozenset(ways.block_of(link) for link in links), split


def interrupted_facts(flows: Flows, states: States, control: Control, facts: StepFacts) -> None:
    """Points whose path the other wiring lets go of for a moment, its gaps tied over."""
    there = flows.other
    rich = rich_blocks(there.view, control.name)
    blocks, split = flows.lost
    if not rich or not (blocks or split):
        return
    for portals in _portals(there, control.name):
        if rich.isdisjoint(leg.block for leg in there.view.ways.legs(*portals)):
            continue
        for points in _points_behind(there, control.name, portals):
            if _concerned(flows.original, points, blocks, split):
                for move in _moves(there.view, control):
                    frame, mask = interrupted(flows, states, points, move, facts)
                    facts.add("interrupted", [(p,) for p in points], move, frame, mask)


def interrupted(
    flows: Flows, states: States, points: tuple[str, str], move: Move, facts: StepFacts
) -> tuple[Frame, int]:
    """States of the others in which a path between two points is interrupted by a move."""
    scene = passage(flows, states, points, move, flows.assumed.breaks)
    mask = scene.possible & scene.there.before(*scene.ends_there)
    mask &= scene.there.after(*scene.ends_there) & scene.here.always(*scene.ends_here)
    if not mask & ~scene.there.always(*scene.ends_there):
        return scene.frame, 0
    gaps = _extras(flows.other, facts.during("gap", move))
    if gaps:
        scene = passage(flows, states, points, move, flows.assumed.breaks, gaps_there=gaps)
        mask = scene.possible & scene.there.before(*scene.ends_there)
        mask &= scene.there.after(*scene.ends_there) & scene.here.always(*scene.ends_here)
    return scene.frame, mask & ~scene.there_mended.always(*scene.ends_there)


def stray_facts(flows: Flows, states: States, control: Control, facts: StepFacts) -> None:
    """Points with a path for a moment in the other wiring only, its bridges allowed for."""
    there = flows.other
    blocks, split = flows.gained
    if not (blocks or split):
        return
    for portals in _portals(there, control.name):
        links = links_on(there.view.ways, there.view.ways.legs(*portals))
        moves = _crossing_moves(flows, links, control)
        if not moves:
            continue
        for points in _points_behind(there, control.name, portals):
            if _concerned(there, points, blocks, split):
                for move in moves:
                    frame, mask = stray(flows, states, points, move, facts)
                    facts.add("stray", [(p,) for p in points], move, frame, mask)


def stray(
    flows: Flows, states: States, points: tuple[str, str], move: Move, facts: StepFacts
) -> tuple[Frame, int]:
    """States of the others in which a move makes a path between two points that is not meant."""
    scene = passage(flows, states, points, move, flows.assumed.bridges)
    if not _strays(scene) & ~scene.here.ever(*scene.ends_here):
        return scene.frame, 0
    bridges = _extras(flows.original, facts.during("bridge", move))
    if bridges:
        scene = passage(flows, states, points, move, flows.assumed.bridges, bridges_here=bridges)
    return scene.frame, _strays(scene) & ~scene.here_mended.ever(*scene.ends_here)


def _strays(scene: Passage) -> int:
    mask = scene.possible & scene.there.ever(*scene.ends_there)
    mask &= ~scene.there.before(*scene.ends_there) & ~scene.there.after(*scene.ends_there)
    return mask & ~scene.here.before(*scene.ends_here) & ~scene.here.after(*scene.ends_here)


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
    return flow.view.ways.between((*ends, *tied_besides))


def _mended(still: Moving, extras: Sequence[Extra], frame: Frame) -> Moving:
    bonds = tuple((places, widen(narrow, mask, frame)) for places, narrow, mask in extras)
    return replace(still, still=(*still.still, *bonds))


def _extras(flow: Flow, found: Sequence[tuple[Groups, Frame, int]]) -> list[Extra]:
    """Gaps or bridges as ties between all the anchors they name."""
    extras = []
    for groups, frame, mask in found:
        places = tuple(dict.fromkeys(flow.anchors[a] for group in groups for a in group))
        if len(places) > 1:
            extras.append((places, frame, mask))
    return extras


def _moves(view: View, control: Control) -> list[Move]:
    """Moves of a control in which some section moves."""
    contacts = [view.contacts[n] for n in view.contacts_by_control.get(control.name, ())]
    return [
        (control.name, *step) for step in control.steps() if any(c.moves(*step) for c in contacts)
    ]


def _crossing_moves(flows: Flows, links: Sequence[Link], control: Control) -> list[Move]:
    """Moves in which the links can be closed together in a way they never are at rest."""
    contacts = flows.other.view.contacts
    movers = {link.contact for link in links if contacts[link.contact].control == control.name}
    if len(movers) == 1:
        (number,) = movers
        if not flows.assumed.bridges(contacts[number], original=False):
            return []
    moves = _moves(flows.other.view, control)
    return [move for move in moves if crosses(links, contacts, move)]


def _portals(flow: Flow, control: str) -> Iterator[tuple[int, int]]:
    """Pairs of places between which the way starts and ends with what a control moves."""
    ways = flow.view.ways
    moved = _moved_blocks(flow, control)
    places = {place for block in moved for place in ways.places_in[block]}
    for a, b in pairs_of(places):
        if ways.linked(a, b):
            legs = ways.legs(a, b)
            if legs[0].block in moved and legs[-1].block in moved:
                yield a, b


def _moved_blocks(flow: Flow, control: str) -> frozenset[int]:
    ways = flow.view.ways
    return frozenset(ways.block_of(k) for k in flow.view.links_by_control.get(control, ()))


def _points_behind(flow: Flow, control: str, portals: tuple[int, int]) -> Iterator[tuple[str, str]]:
    """Pairs of points, one behind each portal on the side away from the other."""
    moved = _moved_blocks(flow, control)
    sides = (_hanging(flow, moved, portal) for portal in portals)
    yield from product(*sides)


def _hanging(flow: Flow, moved: frozenset[int], portal: int) -> list[str]:
    """Points that ways without ``moved`` blocks link to a place."""
    ways = flow.view.ways
    seen = {portal}
    waiting = [portal]
    for place in waiting:
        for block in ways.blocks_at.get(place, ()):
            if block in moved:
                continue
            fresh = [p for p in ways.places_in[block] if p not in seen]
            seen.update(fresh)
            waiting.extend(fresh)
    return [point for place in waiting for point in flow.points_at.get(place, ())]


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
