"""What stands still while one control moves: what hangs on the places that the move links."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import prod

from rewire.circuit.circuit import ContactGraph
from rewire.circuit.connectivity import (
    Bond,
    beside,
    bonds_at_rest,
    controls_of,
    moving,
    spread,
    tied,
)
from rewire.circuit.graph import Ends, Link
from rewire.circuit.states import MOST_STATES, Frame, States
from rewire.compare.comparison import Comparison, Direction, Flow, TimingOf, unlike_contacts
from rewire.compare.findings import Move
from rewire.records.spec import Control


@dataclass(frozen=True)
class Unlike:
    """Where one flow can do what another can't."""

    flow: Flow
    blocks: frozenset[int]
    """With a contact that the other flow has not alike."""
    split: frozenset[int]
    """Places whose points are on several places in the other flow."""

    def between(self, points: tuple[str, str]) -> bool:
        """Whether anything between two points is unlike."""
        a, b = (self.flow.points[point] for point in points)
        if a == b:
            return a in self.split
        tree = self.flow.graph.tree
        return tree.linked(a, b) and not self.blocks.isdisjoint(tree.path(a, b))


def unlike_flows(first: Flow, second: Flow, timing_of: TimingOf) -> Unlike:
    """Where the first flow can do what the second can't."""
    image = {
        place: {second.points[point] for point in points}
        for place, points in first.points_at.items()
    }
    split = frozenset(place for place, seen in image.items() if len(seen) > 1)

    def key_first(place: int) -> object:
        seen = image.get(place)
        if seen is None:
            return first.graph.lugs_at[place]
        return ("split", place) if place in split else ("at", *seen)

    def key_second(place: int) -> object:
        return ("at", place) if place in second.points_at else second.graph.lugs_at[place]

    unlike = unlike_contacts((first.graph, key_first), (second.graph, key_second), timing_of)
    return Unlike(first, first.graph.blocks_of(unlike), split)


@dataclass
class StandingSide:
    """Points that contacts which a control does not move link to a place of the other wiring."""

    both: Comparison
    states: States
    _sides: dict[tuple[str, int], list[str]] = field(default_factory=dict)
    _new: dict[tuple[str, int], list[str]] = field(default_factory=dict)
    _comes: dict[tuple[int, str, str | None], bool] = field(default_factory=dict)

    def side(self, control: str, place: int) -> list[str]:
        """Points that paths without anything of a control link to a place."""
        key = control, place
        if key not in self._sides:
            self._sides[key] = self._reached(control, place)
        return self._sides[key]

    def _reached(self, control: str, place: int) -> list[str]:
        flow = self.both.flows[1]
        tree, moved = flow.graph.tree, flow.graph.blocks_by_control[control]
        seen = {place}
        waiting = [place]
        for one in waiting:
            for block in tree.blocks_at.get(one, ()):
                if block not in moved:
                    fresh = [p for p in tree.places_in[block] if p not in seen]
                    seen.update(fresh)
                    waiting.extend(fresh)
        return [point for one in waiting for point in flow.points_at.get(one, ())]

    def new(self, control: str, place: int) -> list[str]:
        """Points of the side that only the other wiring connects to the place, in some state."""
        key = control, place
        if key not in self._new:
            self._new[key] = [
                point for point in self.side(control, place)
                if self._doubtful(place, point) and self._comes_new(place, point, control)
            ]  # fmt: skip
        return self._new[key]

    @cached_property
    def _unlike(self) -> frozenset[int]:
        here, there = self.both.flows
        return unlike_flows(there, here, lambda contact, first: None).blocks  # noqa: ARG005

    def _doubtful(self, place: int, point: str) -> bool:
        """Whether a contact on the path to a point is unlike, timings aside."""
        flow = self.both.flows[1]
        return not self._unlike.isdisjoint(flow.graph.tree.path(place, flow.points[point]))

    def _comes_new(self, place: int, point: str, control: str) -> bool:
        """Whether only the other wiring connects a point to a place, in some possible state.

        What the control moves is open in the original. More states than may be asked about
        count as yes: the question about the pair then refuses.
        """
        here, there = self.both.flows
        ends = here.points[min(there.points_at[place])], here.points[point]
        links_here = here.graph.tree.between(ends)
        moved = control if control in controls_of(links_here, here.graph.contacts) else None
        key = place, point, moved
        if key not in self._comes:
            self._comes[key] = self._only_there(key, links_here, ends)
        return self._comes[key]

    def _only_there(
        self, key: tuple[int, str, str | None], links_here: list[Link], ends: tuple[int, int]
    ) -> bool:
        here, there = (flow.graph for flow in self.both.flows)
        place, point, moved = key
        pair = place, self.both.flows[1].points[point]
        links_there = there.tree.between(pair)
        links_here = [k for k in links_here if here.contacts[k.contact].control != moved]
        names = controls_of(links_there, there.contacts) | controls_of(links_here, here.contacts)
        if prod(len(self.states.controls[name].positions) for name in names) > MOST_STATES:
            return True
        frame = self.states.frame(names)
        possible = self.states.possible(frame)
        new = tied(bonds_at_rest(links_there, there.contacts, frame), *pair, possible)
        was = tied(bonds_at_rest(links_here, here.contacts, frame), *ends, possible)
        return bool(new & ~was)


@dataclass(frozen=True)
class Reaching:
    """Anchored nets that reach a moving section in a move, and when."""

    directly: frozenset[int]
    """On which a moving section has a lug that it closes."""
    seeds: frozenset[int]
    """Nets without anchors on which it has one."""
    over: Mapping[int, Sequence[Link]]
    """Per anchored net around the seeds: the standing links by which it may reach one."""

    @cached_property
    def nets(self) -> frozenset[int]:
        """All that may reach it."""
        return frozenset((*self.directly, *self.over))

    def controls(self, nets: tuple[int, int], graph: ContactGraph) -> set[str]:
        """Controls that decide whether some nets reach it."""
        links = (self.over[net] for net in nets if net not in self.directly)
        return set().union(*(controls_of(its, graph.contacts) for its in links))

    def states(self, net: int, way: Direction, frame: Frame, move: Move) -> int:
        """States of the others in which a net reaches the move, over no other anchored net."""
        if net in self.directly:
            return frame.full
        contacts = way.first.contacts
        still: Sequence[Bond] = moving(self.over[net], contacts, frame, move, lambda _: False).still
        found = spread(beside(still), net, frame.full, stops=way.anchors.__contains__)
        mask = 0
        for place in self.seeds & found.keys():
            mask |= found[place]
        return mask


def reaching_by_move(way: Direction, control: Control) -> dict[Move, Reaching]:
    """Which anchored nets may reach each move of a control in which something moves."""
    graph = way.first
    numbers = graph.contacts_by_control.get(control.name, ())
    found: dict[Move, Reaching] = {}
    known: dict[tuple[tuple[int, ...], object], Reaching] = {}
    for step in control.steps():
        movers = tuple(n for n in numbers if graph.contacts[n].moves(*step))
        key = movers, any(step in graph.contacts[n].passing for n in movers) and step
        if movers and key not in known:
            known[key] = _reaching(way, movers, step)
        if movers:
            found[(control.name, *step)] = known[key]
    return found


def _reaching(way: Direction, movers: tuple[int, ...], step: Ends) -> Reaching:
    """Anchored nets around what some contacts, by number, close; standing links lead to them."""
    graph, anchored = way.first, way.anchors
    closing = frozenset(p for number in movers for p in graph.contacts[number].closing(step))
    seeds = frozenset(place for place in closing if place not in anchored)
    over: dict[int, list[Link]] = {}
    reached: set[int] = set()
    for seed in sorted(seeds):
        links: dict[int, Link] = {}
        border: set[int] = set()
        waiting = [seed] if seed not in reached else []
        while waiting:
            place = waiting.pop()
            if place in anchored:
                border.add(place)
            elif place not in reached:
                reached.add(place)
                standing = (k for k in graph.links_at.get(place, ()) if k.contact not in movers)
                for link in standing:
                    links[id(link)] = link
                    waiting.extend(link.places)
        for net in border:
            over.setdefault(net, []).extend(links.values())
    return Reaching(closing - seeds, seeds, over)
