"""Flows: where current can go in either wiring, with what is always linked taken as one place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from rewire.circuit.circuit import ContactGraph, Nets, circuit_of
from rewire.circuit.graph import Joiner
from rewire.compare.facts import Move
from rewire.compare.timing import Assumption, timing_aside
from rewire.compare.twins import TimingOf, Twins
from rewire.compare.views import Views, bars_of
from rewire.records.spec import Spec, Wiring


@dataclass(frozen=True)
class Flow:
    """Where current can flow in one wiring: what is always linked is one place."""

    view: ContactGraph
    points: Mapping[str, int]
    """Per point its place."""
    anchors: Mapping[str, int]
    """Per anchor its place."""
    _moved: dict[str, frozenset[int]] = field(default_factory=dict)

    @cached_property
    def points_at(self) -> Mapping[int, Sequence[str]]:
        """Points by place."""
        found: dict[int, list[str]] = {}
        for point, place in self.points.items():
            found.setdefault(place, []).append(point)
        return found

    def moved_blocks(self, control: str) -> frozenset[int]:
        """Blocks with something that a control moves."""
        if control not in self._moved:
            links = self.view.links_by_control.get(control, ())
            self._moved[control] = frozenset(map(self.view.tree.block_of, links))
        return self._moved[control]


def flow_of(spec: Spec, wiring: Wiring, nets: Nets, seat: Mapping[str, str]) -> Flow:
    """Merge all nets that parts, or contacts closed in every position, link."""
    contacts = circuit_of(spec, wiring).contacts
    plain = ContactGraph(contacts)
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


@dataclass(frozen=True, slots=True)
class Way:
    """What lies between two points."""

    blocks: tuple[int, ...]
    split: bool
    """Whether they are one place here and several in the other flow."""


@dataclass(frozen=True)
class Unlike:
    """Where one flow can do what another can't."""

    flow: Flow
    twins: Twins
    split: frozenset[int]
    """Places whose points are on several places in the other flow."""

    @property
    def any(self) -> bool:
        """Whether there is anything at all."""
        return bool(self.split or self.twins.without)

    def way(self, points: tuple[str, str]) -> Way:
        """What lies between two points in the flow."""
        a, b = (self.flow.points[point] for point in points)
        if a == b:
            return Way((), a in self.split)
        ways = self.flow.view.tree
        if not ways.linked(a, b):
            return Way((), False)
        return Way(ways.path(a, b), False)

    def differs(self, way: Way, move: Move) -> bool:
        """Whether something on a way has no twin in a move."""
        return way.split or self.twins.differ(way.blocks, move)


@dataclass(frozen=True)
class Flows:
    """Both wirings' flows, and where one can do what the other can't."""

    original: Flow
    other: Flow
    assumed: Assumption

    @cached_property
    def lost(self) -> Unlike:
        """Where the original lets current flow and the other wiring may not."""
        return _unlike(self.original, self.other, self.assumed.likeness)

    @cached_property
    def gained(self) -> Unlike:
        """Where the other wiring lets current flow and the original may not."""
        return _unlike(
            self.other, self.original, lambda c, other: self.assumed.likeness(c, not other)
        )

    @cached_property
    def gained_at_rest(self) -> Unlike:
        """As ``gained``, timings aside."""
        return _unlike(self.other, self.original, timing_aside)


def flows_of(views: Views, other: Wiring, assumed: Assumption) -> Flows:
    """The flows of a comparison."""
    spec, seat = views.spec, views.roles.seat
    return Flows(
        original=flow_of(spec, spec.original, views.nets[0], {anchor: anchor for anchor in seat}),
        other=flow_of(spec, other, views.nets[1], seat),
        assumed=assumed,
    )


def _unlike(first: Flow, second: Flow, timing_of: TimingOf) -> Unlike:
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

    return Unlike(first, Twins(first.view, second.view, key_first, key_second, timing_of), split)
