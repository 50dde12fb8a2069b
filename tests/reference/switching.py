"""Facts while one control moves: every combination of old, in between and new."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from tests.reference.circuit import Circuit, Contacts, Section, components, kind_of
from tests.reference.rest import Found, State, closed_in, reached
from tests.reference.view import Groups, View

Timing = Callable[[Section], str]
"""Says how a section is taken: shorting or non-shorting."""


def between(section: Section, before: str, after: str, timing: str) -> Contacts:
    """What a section in motion holds closed."""
    old, new = section.closed[before], section.closed[after]
    if timing == "shorting":
        groups = [*old, *new]
        return frozenset(components({lug for g in groups for lug in g}, groups))
    return frozenset(g & h for g in old for h in new if len(g & h) > 1)


def moving(circuit: Circuit, control: str, before: str, after: str) -> list[Section]:
    """Sections whose contacts differ before and after."""
    return [
        section
        for section in circuit.sections
        if section.control == control and section.closed[before] != section.closed[after]
    ]


def standing(circuit: Circuit, control: str, before: State, after: str) -> Contacts:
    """Contacts of the sections that do not move, as they stand."""
    move = moving(circuit, control, before[control], after)
    still = [section for section in circuit.sections if section not in move]
    return frozenset().union(*(section.closed[before[section.control]] for section in still))


def combinations(
    circuit: Circuit, control: str, before: State, after: str, timing: Timing
) -> list[Contacts]:
    """What is closed in every combination of old, between and new per moving section."""
    still = standing(circuit, control, before, after)
    phases = [
        (
            section.closed[before[control]],
            between(section, before[control], after, timing(section)),
            section.closed[after],
        )
        for section in moving(circuit, control, before[control], after)
    ]
    return list({still.union(*chosen) for chosen in itertools.product(*phases)})


def touching(view: View, control: str, before: State, after: str) -> list[int]:
    """Anchored nets that touch the move."""
    circuit = view.circuit
    still = standing(circuit, control, before, after)
    nets: set[int] = set()
    for section in moving(circuit, control, before[control], after):
        for groups in section.closed.values():
            for lug in itertools.chain.from_iterable(groups):
                nets.add(circuit.net_of[lug])
    for net in list(nets):
        if not view.net(net):
            nets |= reached(view, still, net)
    return sorted(net for net in nets if view.net(net))


def in_one(groups: Sequence[frozenset[str]], pair: Groups) -> bool:
    """Whether all anchors of a pair are in one group."""
    anchors = frozenset().union(*pair)
    return any(anchors <= group for group in groups)


def in_every(ways: Sequence[Sequence[frozenset[str]]], pair: Groups) -> bool:
    """Whether they are in every one of several gatherings."""
    return all(in_one(groups, pair) for groups in ways)


def in_some(ways: Sequence[Sequence[frozenset[str]]], pair: Groups) -> bool:
    """Whether they are in at least one of several gatherings."""
    return any(in_one(groups, pair) for groups in ways)


def pairs_of(points: Sequence[str]) -> list[Groups]:
    """Every two points."""
    return [
        frozenset({frozenset({a}), frozenset({b})}) for a, b in itertools.combinations(points, 2)
    ]


class Move:
    """One step of one control, with the others standing; both wirings."""

    def __init__(
        self, original: View, other: View, control: str, before: State, after: str
    ) -> None:
        self.original, self.other = original, other
        self.step = (control, before, after)
        end = {**before, control: after}
        self.was = [closed_in(original.circuit, state) for state in (before, end)]
        self.now = [closed_in(other.circuit, state) for state in (before, end)]

    def combinations(self, view: View, timing: Timing) -> list[Contacts]:
        """All that can be closed in a wiring on the way."""
        return combinations(view.circuit, *self.step, timing)

    def pairs(self, view: View) -> list[Groups]:
        """Pairs of anchored nets that touch a wiring's move."""
        nets = [view.net(number) for number in touching(view, *self.step)]
        return [frozenset(pair) for pair in itertools.combinations(nets, 2)]

    def gaps(self, was: list[Contacts], now: list[Contacts]) -> set[Groups]:
        """Fact 4, given the combinations of either wiring."""
        tied = [self.original.tied(closed) for closed in [*self.was, *was]]
        tied += [self.other.made_whole(closed, self.original) for closed in self.now]
        ways = [self.other.made_whole(closed, self.original) for closed in now]
        return {
            pair
            for pair in self.pairs(self.original)
            if in_every(tied, pair) and not in_every(ways, pair)
        }

    def bridges(self, was: list[Contacts], now: list[Contacts]) -> set[Groups]:
        """Fact 5, given the combinations of either wiring."""
        ways = [self.other.tied(closed) for closed in now]
        apart = [self.other.tied(closed) for closed in self.now]
        apart += [self.original.made_whole(closed, self.other) for closed in [*self.was, *was]]
        return {
            pair
            for pair in self.pairs(self.other)
            if in_some(ways, pair) and not in_some(apart, pair)
        }

    def interrupted(
        self, points: Sequence[str], was: list[Contacts], now: list[Contacts], gaps: set[Groups]
    ) -> set[Groups]:
        """Fact 6, given the gaps of this step."""
        had = [self.original.with_paths(closed, ()) for closed in [*self.was, *was]]
        had += [self.other.with_paths(closed, ()) for closed in self.now]
        ways = [self.other.with_paths(closed, gaps) for closed in now]
        return {
            pair for pair in pairs_of(points) if in_every(had, pair) and not in_every(ways, pair)
        }

    def strays(
        self, points: Sequence[str], was: list[Contacts], now: list[Contacts], bridges: set[Groups]
    ) -> set[Groups]:
        """Fact 7, given the bridges of this step."""
        ways = [self.other.with_paths(closed, ()) for closed in now]
        apart = [self.other.with_paths(closed, ()) for closed in self.now]
        apart += [self.original.with_paths(closed, ()) for closed in self.was]
        apart += [self.original.with_paths(closed, bridges) for closed in was]
        return {
            pair for pair in pairs_of(points) if in_some(ways, pair) and not in_some(apart, pair)
        }


def alike(original: Circuit, other: Circuit) -> set[str]:
    """Switches that are the same in both wirings.

    Same reference, control, form or contacts, lugs, positions and timing. Read
    by what it comes to: the same lugs, and per section that ever closes the same
    contacts in each position and the same timing, however they are written.
    """
    names = [n for n, part in original.parts.items() if kind_of(part) == "switch"]

    def read(circuit: Circuit, name: str) -> tuple[Any, ...]:
        sections = [
            (frozenset(s.closed.items()), s.timing)
            for s in circuit.sections
            if s.switch == name and any(s.closed.values())
        ]
        return circuit.parts[name]["control"], set(circuit.terminals[name]), set(sections)

    return {
        name
        for name in names
        if name in other.parts
        and kind_of(other.parts[name]) == "switch"
        and read(original, name) == read(other, name)
    }


def taken_as(unknown: str, shared: str, same: set[str]) -> Timing:
    """How sections are taken: unknown ones so, those of same switches all as ``shared``."""

    def timing(section: Section) -> str:
        if section.timing != "unknown":
            return section.timing
        return shared if section.switch in same else unknown

    return timing


def ways_to_take_alike(original: Circuit, same: set[str]) -> list[str]:
    """Same switches of unknown timing are taken both ways; without any, one will do."""
    if any(s.switch in same and s.timing == "unknown" for s in original.sections):
        return ["shorting", "non-shorting"]
    return ["shorting"]


def step_facts(
    original: View,
    other: View,
    points: Sequence[str],
    step: tuple[str, Mapping[str, str], str],
) -> set[Found]:
    """All of ``gap``, ``bridge``, ``interrupted`` and ``stray`` in one step."""
    move = Move(original, other, *step)
    same = alike(original.circuit, other.circuit)
    found: set[Found] = set()
    for shared in ways_to_take_alike(original.circuit, same):
        make, hold = (taken_as(t, shared, same) for t in ("non-shorting", "shorting"))
        was, now = move.combinations(original, hold), move.combinations(other, make)
        gaps = move.gaps(was, now)
        found |= {("gap", groups) for groups in gaps}
        found |= {("interrupted", g) for g in move.interrupted(points, was, now, gaps)}
        was, now = move.combinations(original, make), move.combinations(other, hold)
        bridges = move.bridges(was, now)
        found |= {("bridge", groups) for groups in bridges}
        found |= {("stray", g) for g in move.strays(points, was, now, bridges)}
    return found
