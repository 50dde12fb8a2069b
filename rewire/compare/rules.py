"""Rules: connections that must, or must not, exist whatever the original did."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from math import prod
from typing import TYPE_CHECKING

from rewire.circuit.connectivity import (
    QUESTIONS,
    Bond,
    Moving,
    bonds_at_rest,
    connected,
    controls_of,
    in_step,
    moving,
)
from rewire.circuit.graph import ALWAYS, NO_SECTION, BlockTree, Ends, Link, Places, bits
from rewire.circuit.ohms import (
    Resistance,
    least_beyond,
    most_within,
    ohms_between,
    part_ohms,
)
from rewire.circuit.states import Frame, LimitReached, States
from rewire.compare.findings import FoundIn, Move

if TYPE_CHECKING:
    from rewire.circuit.circuit import Circuit
    from rewire.compare.comparison import Comparison
    from rewire.records.spec import Rule

MOST_CHOICES = 4096
"""Combinations of shorting sections tried for one rule in one state of one step."""


@dataclass(frozen=True, slots=True)
class Broken:
    """Where one rule is broken: states over one frame, and moves with states of the others."""

    rule: int
    frame: Frame
    at_rest: int
    moves: tuple[tuple[Move, FoundIn], ...]


@dataclass(frozen=True)
class RuleCircuit:
    """One wiring as rules see it: contacts, and every part as a link of so many ohms."""

    circuit: Circuit
    states: States

    @cached_property
    def connecting(self) -> tuple[Resistance, ...]:
        """Parts at the most they may have; diodes open."""
        return tuple(part_ohms(self.circuit, most=True))

    @cached_property
    def leaking(self) -> tuple[Resistance, ...]:
        """Parts at the least they may have; diodes zero."""
        return tuple(part_ohms(self.circuit, most=False))

    @cached_property
    def bars(self) -> tuple[Bond, ...]:
        """Parts that pass DC, in every state."""
        return tuple(((a, b), ALWAYS) for a, b, _ in self.leaking if a != b)

    @cached_property
    def tree(self) -> BlockTree:
        """The blocks of contacts and every part that passes DC."""
        bars = (Link(NO_SECTION, (), places, ALWAYS) for places, _ in self.bars)
        return BlockTree((*self.circuit.links, *bars))


def broken_rules(both: Comparison, states: States) -> Iterator[Broken]:
    """Every rule that the other wiring breaks; unknown timings are read against it."""
    bench = RuleCircuit(both.there, states)
    of, seat = both.there.nets.of, both.roles.seat
    for number, rule in enumerate(both.spec.rules):
        a, b = (of.get(seat.get(place, place)) for place in rule.places)
        if a is None or b is None:  # missing from this wiring: connected to nothing
            frame = states.frame(rule.when)
            asked = states.possible(frame) & states.selected(frame, rule.when)
            found = Broken(number, frame, asked if rule.kind == "connect" else 0, ())
        else:
            found = _broken(bench, number, rule, (a, b))
        if found.at_rest or found.moves:
            yield found


def _broken(bench: RuleCircuit, number: int, rule: Rule, ends: Ends) -> Broken:
    contacts_alone = rule.kind == "connect" and rule.limit is None
    tree = bench.circuit.graph.tree if contacts_alone else bench.tree
    links = [link for link in tree.between(ends) if link.control]
    names = controls_of(links) | set(rule.when)
    asking = f"rule {number + 1} ({rule.kind} {rule.places[0]} and {rule.places[1]})"
    frame = bench.states.frame(names, asking)
    mask = bench.states.possible(frame) & bench.states.selected(frame, rule.when)
    at_rest = mask & _fails_at_rest(bench, rule, bonds_at_rest(links, frame), ends, mask)
    moves = tuple(_failing_moves(bench, rule, links, ends)) if rule.while_switching else ()
    return Broken(number, frame, at_rest, moves)


def _fails_at_rest(
    bench: RuleCircuit, rule: Rule, bonds: Sequence[Bond], ends: Ends, mask: int
) -> int:
    """States in which a rule does not hold, out of ``mask``."""
    if rule.limit is None and rule.kind == "isolate":
        return connected([*bonds, *bench.bars], *ends, mask)
    met = connected(bonds, *ends, mask)
    if rule.limit is None:
        return mask & ~met
    failing = 0 if rule.kind == "connect" else met
    for state in (1 << number for number in bits(mask & ~met)):
        closed = [places for places, where in bonds if where & state]
        failing |= 0 if _holds(bench, rule, ends, closed) else state
    return failing


def _holds(bench: RuleCircuit, rule: Rule, ends: Ends, closed: Sequence[Places]) -> bool:
    """Whether a rule with a limit holds with some contacts closed."""
    assert rule.limit is not None
    parts = bench.connecting if rule.kind == "connect" else bench.leaking
    contacts = [(group[0], other, 0.0) for group in closed for other in group[1:]]
    ohms = ohms_between(len(bench.circuit.nets.members), [*contacts, *parts], *ends)
    if rule.kind == "connect":
        return ohms <= most_within(rule.limit)
    return ohms >= least_beyond(rule.limit)


def _failing_moves(
    bench: RuleCircuit, rule: Rule, links: Sequence[Link], ends: Ends
) -> Iterator[tuple[Move, FoundIn]]:
    """Moves in which a rule holds before and after, but not in some combination."""
    states, contacts = bench.states, bench.circuit.contacts

    def shorting(number: int) -> bool:
        timing = contacts[number].section.timing
        return timing == "shorting" or (timing == "unknown" and rule.kind == "isolate")

    for name in sorted(controls_of(links)):
        control = states.controls[name]
        frame = states.frame((controls_of(links) | set(rule.when)) - {name})
        for before, after in control.steps():
            positions = {control.positions[before], control.positions[after]}
            if name in rule.when and not positions <= set(rule.when[name]):
                continue
            move = name, before, after
            mask = states.possible_steps(frame, *move) & states.selected(frame, rule.when)
            scene = moving(links, contacts, frame, move, shorting)
            for question in QUESTIONS if scene.movers else ():
                mask = _fails_between(bench, rule, question(scene), ends, mask) if mask else 0
                if mask:
                    yield move, FoundIn(frame, mask, question is in_step)


def _fails_between(bench: RuleCircuit, rule: Rule, scene: Moving, ends: Ends, mask: int) -> int:
    """States of the others in which only a combination in between breaks a rule."""
    if rule.limit is None and rule.kind == "connect":
        return mask & scene.before(*ends) & scene.after(*ends) & ~scene.always(*ends)
    if rule.limit is None:
        leaky = replace(scene, still=(*scene.still, *bench.bars))
        return mask & ~leaky.before(*ends) & ~leaky.after(*ends) & leaky.ever(*ends)
    old = [places for mover in scene.movers for places in mover.old]
    new = [places for mover in scene.movers for places in mover.new]
    failing = 0
    for state in (1 << number for number in bits(mask)):
        still = [places for places, where in scene.still if where & state]
        at_rest = all(_holds(bench, rule, ends, [*still, *closed]) for closed in (old, new))
        if at_rest and not all(
            _holds(bench, rule, ends, [*still, *closed])
            for closed in _extreme_combinations(rule, scene)
        ):
            failing |= state
    return failing


def _extreme_combinations(rule: Rule, scene: Moving) -> Iterator[list[Places]]:
    """The combinations with least closed for ``connect``, with most for ``isolate``.

    More contacts never raise the resistance between two places (Rayleigh's
    monotonicity law), so no others need be tried.
    """
    choices = [m.least if rule.kind == "connect" else m.most for m in scene.movers]
    if prod(map(len, choices)) > MOST_CHOICES:
        raise LimitReached(
            f"the rule {rule.kind} {rule.places[0]} and {rule.places[1]}: "
            f"{len(choices)} sections move at once, more than {MOST_CHOICES} combinations"
        )
    for choice in product(*choices):
        yield [group for groups in choice for group in groups]
