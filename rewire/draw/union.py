"""Two wirings on one circuit: what is there before some work, and what is there after it."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import count
from typing import Literal

import networkx as nx

from rewire.bench.turnover import Turnover
from rewire.bench.wire_plan import WirePlan
from rewire.circuit.circuit import Circuit, circuit_of
from rewire.draw.diagram import (
    Chosen,
    Diagram,
    DrawnNet,
    DrawnPart,
    DrawnPole,
    Member,
    Said,
    alike,
    chassis_of,
    drawn_part,
    drawn_parts,
    legend,
    rows_of,
)
from rewire.records.part import Part
from rewire.records.parts import Strip
from rewire.records.switches import Switch

Pair = tuple[int | None, int | None]
"""Number of a net before and after."""
Numbers = Mapping[tuple[Literal["old", "new"], str], str]
"""Part that goes and has no heir, or that comes → the number of its change."""


@dataclass(frozen=True, slots=True)
class PartChange:
    """A part that goes, one that comes, or one that takes the place of another."""

    number: str
    """As in the picture; empty for what is not drawn there."""
    old: Part | None
    new: Part | None


def union_of(
    plan: WirePlan, chosen: Chosen, numbers: Numbers | None = None
) -> tuple[Diagram, tuple[PartChange, ...]]:
    """The circuit of both wirings of a plan, and its changes by their numbers.

    A pole or a part that takes over from another at the same place is drawn once. Without
    ``numbers`` the changes are counted from 1.
    """
    both = _Both(plan, chosen, numbers)
    members: list[tuple[Member, list[Pair]]] = [*both.rows, *both.pieces]
    nets = _nets(both, [pair for _, pairs in members for pair in pairs])
    placed = [_on(member, [nets[pair] for pair in pairs]) for member, pairs in members]
    rows = tuple(alike(member for member in placed if isinstance(member, DrawnPole)))
    diagram = Diagram(
        plan.spec,
        tuple(sorted(rows, key=lambda row: row.fate == "goes")),
        tuple(member for member in placed if isinstance(member, DrawnPart)),
        {name: nets[both.point(name)] for name in plan.spec.points},
        tuple(legend(both.switches, plan.spec.controls)),
    )
    return diagram, both.changes


def _on(member: Member, nets: Sequence[DrawnNet]) -> Member:
    """A pole or part on its nets."""
    return replace(member, nets=tuple(nets))


def _nets(both: _Both, pairs: Sequence[Pair]) -> Mapping[Pair, DrawnNet]:
    """The nets of the picture, in groups that anything joins before or after."""
    graph: nx.Graph[Hashable] = nx.Graph()
    every = dict.fromkeys([*pairs, *(both.point(name) for name in both.plan.spec.points)])
    for pair in every:
        graph.add_node(pair)
        graph.add_edges_from(
            (pair, (side, net)) for side, net in enumerate(pair)
            if net is not None and net not in both.chassis[side]
        )  # fmt: skip
    found = {
        node: group for group, nodes in enumerate(nx.connected_components(graph)) for node in nodes
    }
    places = dict(_places(both, every))
    return {
        (before, after): DrawnNet(
            before, after, found[before, after], places[before, after],
            (before in both.chassis[0], after in both.chassis[1]),
        )
        for before, after in every
    }  # fmt: skip


def _places(both: _Both, pairs: Collection[Pair]) -> Iterator[tuple[Pair, int]]:
    """Where a net is drawn: as it is joined after, and what goes beside what it was joined to."""
    near: dict[int, int] = {}
    for before, after in pairs:
        if before is not None and after is not None and after not in both.chassis[1]:
            near.setdefault(before, after)
    for before, after in pairs:
        if after is not None and after not in both.chassis[1]:
            yield (before, after), after
        else:
            yield (before, after), near.get(before or 0, -1 - (before or 0))


@dataclass(frozen=True)
class _Both:
    """What both wirings have, and what becomes of it."""

    plan: WirePlan
    chosen: Chosen
    given: Numbers | None

    @property
    def turn(self) -> Turnover:
        """Which parts stay, which come out and go in."""
        return self.plan.turn

    @cached_property
    def sides(self) -> tuple[Circuit, Circuit]:
        """The circuit before, and after."""
        plan = self.plan
        return circuit_of(plan.spec, plan.source), circuit_of(plan.spec, plan.target)

    @cached_property
    def chassis(self) -> tuple[set[int], set[int]]:
        """Nets that are chassis, before and after."""
        before, after = (set(chassis_of(circuit)) for circuit in self.sides)
        return before, after

    def point(self, name: str) -> Pair:
        """The nets of a point or of a terminal that is kept."""
        before, after = (circuit.nets.of[name] for circuit in self.sides)
        return before, after

    @cached_property
    def switches(self) -> tuple[Switch, ...]:
        """The new ones, then those that go."""
        old, new = (circuit.switches for circuit in self.sides)
        return (*new, *(switch for switch in old if switch.name in self.turn.out))

    @cached_property
    def heirs(self) -> Mapping[str, str]:
        """Part that goes → the one part of its kind that takes over all its terminals."""
        takers = {old: new[0] for old, new in self.turn.heirs.items() if len(new) == 1}
        alone = {old: new for old, new in takers.items() if list(takers.values()).count(new) == 1}
        return {old: new for old, new in alone.items() if self._takes_over(old, new)}

    def _takes_over(self, old: str, new: str) -> bool:
        one, other = self.turn.old[old], self.turn.new[new]
        if one.kind != other.kind or one.sections:
            return one.kind == other.kind
        handed = [(t, self.turn.passes.get(t, "")) for t in one.full_terminals]
        as_it_was = all(t.partition(".")[2] == own.partition(".")[2] for t, own in handed)
        whole = {own for _, own in handed} == set(other.full_terminals)
        return whole and (as_it_was or other.turns_freely)

    @cached_property
    def came(self) -> tuple[str, ...]:
        """Parts that come, switches first."""
        parts = (part for part in self.plan.target.parts.values() if part.name in self.turn.into)
        return tuple(part.name for part in sorted(parts, key=lambda part: not part.sections))

    @cached_property
    def gone(self) -> tuple[str, ...]:
        """Parts that go and have no heir."""
        return tuple(name for name in self.turn.out if name not in self.heirs)

    @cached_property
    def numbers(self) -> Numbers:
        """The number of each change that is drawn."""
        keys: list[tuple[Literal["old", "new"], str]]
        keys = [*(("new", name) for name in self.came), *(("old", name) for name in self.gone)]
        parts = {"new": self.turn.new, "old": self.turn.old}
        drawn = [key for key in keys if not isinstance(parts[key[0]][key[1]], Strip)]
        if self.given is not None:
            return {key: self.given.get(key, "") for key in drawn}
        return dict(zip(drawn, map(str, count(1)), strict=False))

    @cached_property
    def changes(self) -> tuple[PartChange, ...]:
        """All changes in the order of their numbers."""
        was = {new: self.turn.old[old] for old, new in self.heirs.items()}
        number = self.numbers.get
        return (
            *(PartChange(number(("new", n), ""), was.get(n), self.turn.new[n]) for n in self.came),
            *(PartChange(number(("old", n), ""), self.turn.old[n], None) for n in self.gone),
        )

    # Poles

    @property
    def rows(self) -> Iterator[tuple[DrawnPole, list[Pair]]]:
        """Poles that stay or take over, that come, that go; each with its nets."""
        old, new = (list(self._poles(side)) for side in (0, 1))
        for row in (row for row in new if row.switch.name not in self.turn.into):
            yield row, [self.point(row.switch.terminal(lug)) for (lug,) in row.lugs]
        before = list(alike(row for row in old if row.switch.name in self.turn.out))
        after = list(alike(row for row in new if row.switch.name in self.turn.into))
        taken = dict(self._matched(before, after))
        for place, row in enumerate(after):
            mate = taken.get(place)
            came = replace(row, number=self.numbers["new", row.switch.name], fate="new")
            if mate is not None:
                came = replace(came, fate="stays", was=tuple(_labels_before(mate, row)))
            yield came, self._pairs(mate, row)
        for row in (row for row in before if row not in taken.values()):
            heir = self.heirs.get(row.switch.name)
            number = self.numbers["new", heir] if heir else self.numbers["old", row.switch.name]
            yield replace(row, number=number, fate="goes"), self._pairs(row, None)

    def _poles(self, side: int) -> Iterator[DrawnPole]:
        """Poles of one wiring on its own nets; of a switch that stays all that either uses."""
        circuit, other = self.sides[side], self.sides[1 - side]
        kept = {t for t in circuit.bare if t in other.nets.of and self.turn.is_kept(t, t)}
        own = {t: DrawnNet(n, n, n, n) for t, n in circuit.nets.of.items()}
        bare = circuit.bare - (kept - other.bare)
        return rows_of(circuit.switches, bare, own, len(self.switches) > 1)

    @staticmethod
    def _pairs(old: DrawnPole | None, new: DrawnPole | None) -> list[Pair]:
        """The nets of a pole before and after."""
        row = new or old
        assert row is not None
        return [
            (old.nets[n].before if old else None, new.nets[n].after if new else None)
            for n in range(len(row.nets))
        ]

    def _matched(
        self, before: Sequence[DrawnPole], after: Sequence[DrawnPole]
    ) -> Iterator[tuple[int, DrawnPole]]:
        """New poles by number with the old ones whose work they take over, best first."""
        ranked = sorted(
            (-self._alike(one, other), one.lugs[0] != other.lugs[0], m, n)
            for m, one in enumerate(before) for n, other in enumerate(after)
            if one.closings == other.closings and len(one.nets) == len(other.nets)
            and other.switch.name in self.turn.heirs.get(one.switch.name, ())
        )  # fmt: skip
        used: set[tuple[str, int]] = set()
        for score, _, m, n in ranked:
            if -2 * score < len(after[n].nets) or used & {("old", m), ("new", n)}:
                continue
            used |= {("old", m), ("new", n)}
            yield n, before[m]

    def _alike(self, old: DrawnPole, new: DrawnPole) -> int:
        """Lugs of two poles at which the same is found."""
        return sum(pair in self.kept for pair in self._pairs(old, new))

    @cached_property
    def kept(self) -> set[Pair]:
        """Nets before and after with something on both that stays or is handed on."""
        pairs: set[Pair] = {self.point(name) for name in self.plan.spec.points}
        for piece, found in self.pieces:
            pairs |= set(found) if piece.said.fate != "goes" else set()
        spare = [[circuit.nets.of[t] for t in circuit.bare] for circuit in self.sides]
        pairs |= {(before, after) for before in spare[0] for after in spare[1]}
        pairs |= {(before, after) for before in self.chassis[0] for after in self.chassis[1]}
        return pairs

    # Parts

    @cached_property
    def pieces(self) -> tuple[tuple[DrawnPart, list[Pair]], ...]:
        """Parts that stay, take over, come, go; each with its nets."""
        return tuple(self._pieces())

    def _pieces(self) -> Iterator[tuple[DrawnPart, list[Pair]]]:
        old, new = (drawn_parts(circuit) for circuit in self.sides)
        forerunners = {heir: name for name, heir in self.heirs.items()}
        lands = {own: theirs for theirs, own in self.turn.passes.items()}
        for name, part in new.items():
            value = self.chosen.get(name, part.value)
            if name not in self.turn.into:
                yield self._piece(part, Said(value), part.full_terminals, part.full_terminals)
                continue
            said = Said(value, "", "new", self.numbers["new", name])
            was: tuple[str | None, ...] = (None,) * len(part.terminals)
            if name in forerunners:
                was_there = old[forerunners[name]]
                said = replace(said, old=f"{was_there.name} {was_there.value}".rstrip())
                was = tuple(lands[terminal] for terminal in part.full_terminals)
            yield self._piece(part, said, was, part.full_terminals)
        for name, part in old.items():
            if name in self.turn.out and name not in self.heirs:
                said = Said(part.value, "", "goes", self.numbers["old", name])
                yield self._piece(part, said, part.full_terminals, (None,) * len(part.terminals))

    def _piece(
        self, part: Part, said: Said, was: Sequence[str | None], now: Sequence[str | None]
    ) -> tuple[DrawnPart, list[Pair]]:
        before, after = (circuit.nets.of for circuit in self.sides)
        pairs: list[Pair] = [
            (before[o] if o else None, after[n] if n else None)
            for o, n in zip(was, now, strict=True)
        ]
        return drawn_part(part, said, ()), pairs


def _labels_before(old: DrawnPole, new: DrawnPole) -> Iterator[str]:
    """What stood at the contacts of a pole that is taken over, where that was another."""
    for number, lugs in enumerate(old.lugs):
        said = "∥".join(lugs)
        if number == 0:
            yield f"{old.switch.name} {said}"
        else:
            yield "" if said == "∥".join(new.lugs[number]) else said
