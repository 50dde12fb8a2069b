"""Facts while one control moves: every combination of old, in between and new.

Asked twice: with every section on its own, and with all of them in step.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import Any

from tests.reference.circuit import Circuit, Contacts, Section, components, kind_of
from tests.reference.rest import Found, State, closed_in, reached
from tests.reference.view import Groups, View

Timing = Callable[[Section], str]
"""Says how a section is taken: shorting or non-shorting."""
Step = tuple[str, State, str]
"""The control, the state before, and the position after."""
QUESTIONS = ("on its own", "in step")


def between(old: Contacts, new: Contacts, timing: str) -> Contacts:
    """What a section in motion holds closed."""
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


def places(section: Section, before: str, after: str) -> list[Contacts]:
    """Where a section may stand: at the old contacts, at each throw passed, at the new."""
    return [section.closed[before], *section.passed[before, after], section.closed[after]]


def phases(section: Section, before: str, after: str, timing: str) -> list[Contacts]:
    """All that one section on its own may hold closed on the way."""
    stands = places(section, before, after)
    moments = [between(a, b, timing) for a, b in itertools.pairwise(stands)]
    return list({*stands, *moments, between(stands[0], stands[-1], timing)})


def combinations(circuit: Circuit, step: Step, timing: Timing, question: str) -> list[Contacts]:
    """What is closed in every combination of a question."""
    control, before, after = step
    still = standing(circuit, control, before, after)
    ends = before[control], after
    moved = moving(circuit, control, *ends)
    if question == "on its own":
        every = itertools.product(*(phases(s, *ends, timing(s)) for s in moved))
        return list({still.union(*chosen) for chosen in every})
    old = [section.closed[ends[0]] for section in moved]
    new = [section.closed[ends[1]] for section in moved]
    moment = [between(*pair, timing(s)) for *pair, s in zip(old, new, moved, strict=True)]
    return list({still.union(*chosen) for chosen in (old, moment, new)})


def touching(view: View, control: str, before: State, after: str) -> list[int]:
    """Anchored nets that touch the move."""
    circuit = view.circuit
    still = standing(circuit, control, before, after)
    nets: set[int] = set()
    for section in moving(circuit, control, before[control], after):
        for groups in (*section.closed.values(), *section.passed[before[control], after]):
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

    def combinations(self, view: View, timing: Timing, question: str) -> list[Contacts]:
        """All that can be closed in a wiring on the way."""
        return combinations(view.circuit, self.step, timing, question)

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


def found_with(
    move: Move, points: Sequence[str], was: Timing, now: Timing
) -> dict[str, tuple[set[Groups], set[Groups]]]:
    """Per question the ties and the paths between points that are lost."""
    ways = {
        question: (
            move.combinations(move.original, was, question),
            move.combinations(move.other, now, question),
        )
        for question in QUESTIONS
    }
    gaps = {question: move.gaps(*both) for question, both in ways.items()}
    every = set().union(*gaps.values())
    return {q: (gaps[q], move.interrupted(points, *both, every)) for q, both in ways.items()}


def made_with(
    move: Move, points: Sequence[str], was: Timing, now: Timing
) -> dict[str, tuple[set[Groups], set[Groups]]]:
    """Per question the ties and the paths between points that are made."""
    ways = {
        question: (
            move.combinations(move.original, was, question),
            move.combinations(move.other, now, question),
        )
        for question in QUESTIONS
    }
    bridges = {question: move.bridges(*both) for question, both in ways.items()}
    every = set().union(*bridges.values())
    return {q: (bridges[q], move.strays(points, *both, every)) for q, both in ways.items()}


def step_facts(original: View, other: View, points: Sequence[str], step: Step) -> dict[Found, bool]:
    """All of ``gap``, ``bridge``, ``interrupted`` and ``stray`` in one step.

    With each stands whether it is found with all sections in step as well.
    """
    move = Move(original, other, *step)
    same = alike(original.circuit, other.circuit)
    found: dict[Found, bool] = {}
    for shared in ways_to_take_alike(original.circuit, same):
        make, hold = (taken_as(t, shared, same) for t in ("non-shorting", "shorting"))
        lost = found_with(move, points, hold, make)
        made = made_with(move, points, make, hold)
        for question in QUESTIONS:
            here = zip(
                ("gap", "interrupted", "bridge", "stray"),
                (*lost[question], *made[question]),
                strict=True,
            )
            for kind, every in here:
                for groups in every:
                    known = found.get((kind, groups), False)
                    found[kind, groups] = known or question == "in step"
    return found
