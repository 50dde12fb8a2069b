"""What hangs behind a portal: points that a move reaches over contacts that stand still.

A *portal* is a place at which the ways that a control moves begin or end. What
stands still behind it ties a point to it or does not, whatever moves. So where
the two portals of a move are no fact themselves, two points behind them can
only be a fact in a state in which the other wiring ties one of them to its
portal and the original does not, or only over contacts that move themselves.
Such points are called *newcomers* here; there are few of them, or none, and
only they have to be asked about one by one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product
from math import prod

from rewire.circuit.connectivity import bonds_at_rest, controls_of, tied
from rewire.circuit.graph import Link
from rewire.circuit.states import MOST_STATES, States
from rewire.compare.flows import Flows

Portals = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Hung:
    """A point behind a portal, and the blocks on the way to it."""

    point: str
    blocks: frozenset[int]


@dataclass(slots=True)
class Branch:
    """Points behind one block at a portal that the wirings may not tie to it alike."""

    newcomers: list[Hung] = field(default_factory=list)
    depending: dict[str, list[Hung]] = field(default_factory=dict)
    """By control: points that the original ties over what this control moves."""


@dataclass(slots=True)
class Behind:
    """Sides and newcomers of the portals of the other wiring; each is looked for once."""

    flows: Flows
    states: States
    _branches: dict[tuple[int, int], Branch] = field(default_factory=dict)
    _sides: dict[tuple[str, int], list[str]] = field(default_factory=dict)
    _newcomers: dict[tuple[str, int], list[str]] = field(default_factory=dict)

    def pairs(self, control: str, portals: Portals) -> Iterator[tuple[str, str]]:
        """Every two points, one behind each portal on the side away from the other."""
        yield from product(*(self.side(control, portal) for portal in portals))

    def pairs_of_newcomers(self, control: str, portals: Portals) -> Iterator[tuple[str, str]]:
        """Those of ``pairs`` in which one point at least is a newcomer."""
        one, two = (self.newcomers(control, portal) for portal in portals)
        if one:
            yield from product(one, self.side(control, portals[1]))
        if two:
            known = set(one)
            rest = (point for point in self.side(control, portals[0]) if point not in known)
            yield from product(rest, two)

    def side(self, control: str, portal: int) -> list[str]:
        """Points that ways without anything of ``control`` link to a portal."""
        key = control, portal
        if key not in self._sides:
            self._sides[key] = self._hanging(control, portal)
        return self._sides[key]

    def _hanging(self, control: str, portal: int) -> list[str]:
        flow = self.flows.other
        ways, moved = flow.view.tree, flow.moved_blocks(control)
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

    def newcomers(self, control: str, portal: int) -> list[str]:
        """Points behind a portal that only the other wiring ties to it, in some state."""
        key = control, portal
        if key not in self._newcomers:
            self._newcomers[key] = list(self._look_for_newcomers(control, portal))
        return self._newcomers[key]

    def _look_for_newcomers(self, control: str, portal: int) -> Iterator[str]:
        flow = self.flows.other
        moved = flow.moved_blocks(control)
        for block in flow.view.tree.blocks_at.get(portal, ()):
            if block in moved:
                continue
            branch = self._branch(portal, block)
            for hung in branch.newcomers:
                if moved.isdisjoint(hung.blocks):
                    yield hung.point
            for hung in branch.depending.get(control, ()):
                if moved.isdisjoint(hung.blocks) and self._comes_new(portal, hung.point, control):
                    yield hung.point

    def _branch(self, portal: int, block: int) -> Branch:
        key = portal, block
        if key not in self._branches:
            branch = self._branches[key] = Branch()
            for hung in self._doubtful(portal, block):
                self._sort_in(branch, portal, hung)
        return self._branches[key]

    def _sort_in(self, branch: Branch, portal: int, hung: Hung) -> None:
        if self._comes_new(portal, hung.point, None):
            branch.newcomers.append(hung)
            return
        here = self.flows.original.view
        for control in controls_of(self._links_here(portal, hung.point), here.contacts):
            branch.depending.setdefault(control, []).append(hung)

    def _doubtful(self, portal: int, block: int) -> Iterator[Hung]:
        """Points beyond a block with something on the way that has no twin at rest."""
        flow, fresh = self.flows.other, self.flows.gained_at_rest.twins.blocks
        ways = flow.view.tree
        waiting = [(portal, block, frozenset({block}))]
        while waiting:
            above, here, blocks = waiting.pop()
            for place in ways.places_in[here]:
                if place == above:
                    continue
                if not fresh.isdisjoint(blocks):
                    yield from (Hung(p, blocks) for p in flow.points_at.get(place, ()))
                for beyond in ways.blocks_at[place]:
                    if beyond != here:
                        waiting.append((place, beyond, blocks | {beyond}))

    def _comes_new(self, portal: int, point: str, moved: str | None) -> bool:
        """Whether only the other wiring ties a point to a portal, in some possible state.

        What ``moved`` moves is open in the original. More states than may be
        asked about count as yes: the question about the pair then refuses.
        """
        here, there = self.flows.original, self.flows.other
        at_portal = min(there.points_at[portal])
        links_there = there.view.tree.between((portal, there.points[point]))
        links_here = [
            link
            for link in self._links_here(portal, point)
            if here.view.contacts[link.contact].control != moved
        ]
        names = controls_of(links_there, there.view.contacts)
        names |= controls_of(links_here, here.view.contacts)
        if prod(len(self.states.controls[name].positions) for name in names) > MOST_STATES:
            return True
        frame = self.states.frame(names)
        bonds_there = bonds_at_rest(links_there, there.view.contacts, frame)
        bonds_here = bonds_at_rest(links_here, here.view.contacts, frame)
        possible = self.states.possible(frame)
        new = tied(bonds_there, portal, there.points[point], possible)
        return bool(new & ~tied(bonds_here, here.points[at_portal], here.points[point], possible))

    def _links_here(self, portal: int, point: str) -> list[Link]:
        """Links of the original on the ways between a point and a point on the portal."""
        here = self.flows.original
        at_portal = min(self.flows.other.points_at[portal])
        return here.view.tree.between((here.points[at_portal], here.points[point]))
