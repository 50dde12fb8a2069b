"""What an ohmmeter must find between two places of a finished wiring, with everything off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from math import prod
from typing import Literal

import numpy as np

from rewire.circuit.dc import Array, solve
from rewire.circuit.nets import Joiner
from rewire.circuit.states import States
from rewire.spec.model import Diode, Lamp, Spec, Switch, Wiring
from rewire.values.board import Board, Branch
from rewire.values.readings import tried

Expect = Literal["closed", "open", "ohms"]
Pair = tuple[str, str]
Positions = Mapping[str, str]

COLD = 0.1
"""Ohms of a cold lamp over those of a lit one: about a tenth (from memory, the contract's)."""
_SAME = 1e-6


@dataclass(frozen=True, slots=True)
class Probe:
    """One touch of the two leads, and what must be found."""

    state: Positions
    between: Pair
    expect: Expect
    ohms: float | None = None
    """With ``ohms``: the resistance, None where a value on the way is not known."""
    diodes: tuple[str, ...] = ()
    """Diodes that link more than the rest does, one way round: these are taken as open."""


@dataclass(frozen=True, slots=True)
class _Cold:
    """A wiring in one state with the power off: groups of tied nodes, and what lies between."""

    board: Board
    groups: Joiner
    ends: tuple[tuple[int, int], ...]
    ohms: tuple[Array, ...]
    """Each of one shape: the samples differ where a value is not known."""
    diodes: tuple[tuple[str, int, int], ...]


def continuity(
    board: Board, values: Sequence[Array | None], pairs: Sequence[Pair], states: Iterable[Positions]
) -> list[Probe]:
    """Expectations for some pairs of places in some states, state by state.

    Args:
        board: the wiring.
        values: the board's values, each of shape (1,) or None where one is not known.
        pairs: two different places each.
        states: a position for each control.

    Returns:
        A probe for each state and pair. Contacts and wires count as no ohms, so what
        they alone link is ``closed``; capacitors and diodes are open; lamps are cold.
    """
    return [probe for state in states for probe in _in_state(board, values, pairs, dict(state))]


def _in_state(
    board: Board, values: Sequence[Array | None], pairs: Sequence[Pair], state: dict[str, str]
) -> Iterator[Probe]:
    cold = _cold(board, values, state)
    for pair in pairs:
        expect, ohms = _between(cold, pair)
        diodes = () if expect == "closed" else _diodes_between(cold, pair)
        yield Probe(state, pair, expect, ohms, diodes)


def _cold(board: Board, values: Sequence[Array | None], state: Mapping[str, str]) -> _Cold:
    at = {name: board.spec.controls[name].positions.index(p) for name, p in state.items()}
    known = tried(board, values)
    groups = Joiner(board.count)
    parts: list[Branch] = []
    for branch in board.branches:
        if branch.control is None:
            parts.append(branch)
        elif branch.closed(at):
            groups.join(branch.ends)
    ends = tuple((groups.root(a), groups.root(b)) for a, b in (p.ends for p in parts))
    ohms = tuple(_cold_ohms(board, branch, known) for branch in parts)
    diodes = tuple(
        (name, a, b) for name, a, b in board.blocked if isinstance(board.parts[name], Diode)
    )
    return _Cold(board, groups, ends, ohms, diodes)


def _cold_ohms(board: Board, branch: Branch, known: Sequence[Array]) -> Array:
    ohms = branch.ohms(known)
    return ohms * COLD if isinstance(board.parts[branch.part], Lamp) else ohms


def _between(cold: _Cold, pair: Pair) -> tuple[Expect, float | None]:
    a, b = (cold.groups.root(cold.board.node(place)) for place in pair)
    if a == b:
        return "closed", 0.0
    solved = solve(cold.board.count, cold.ends, cold.ohms, [(a, b)], b)
    if solved.lost[0, a].any():
        return "open", None
    ohms = solved.volts[0, a]
    settled = np.ptp(ohms) <= _SAME * abs(float(ohms[0]))
    return "ohms", float(ohms[0]) if settled else None


def _diodes_between(cold: _Cold, pair: Pair) -> tuple[str, ...]:
    """Diodes without which the two places would lie further apart."""
    a, b = (cold.groups.root(cold.board.node(place)) for place in pair)
    linked = _reached(cold, cold.diodes)
    if linked.root(a) != linked.root(b):
        return ()
    return tuple(
        name for name, one, two in cold.diodes if _counts(cold, linked, (one, two), (a, b))
    )


def _counts(cold: _Cold, linked: Joiner, ends: tuple[int, int], pair: tuple[int, int]) -> bool:
    """Whether a diode is between two groups that other parts do not already tie together."""
    here = linked.root(cold.groups.root(ends[0])) == linked.root(pair[0])
    return here and cold.groups.root(ends[0]) != cold.groups.root(ends[1])


def _reached(cold: _Cold, diodes: Sequence[tuple[str, int, int]]) -> Joiner:
    """Nodes linked by parts that pass DC, whichever way round."""
    joiner = Joiner(cold.board.count)
    for node in range(cold.board.count):
        joiner.join((node, cold.groups.root(node)))
    for ends in (*cold.ends, *((one, two) for _, one, two in diodes)):
        joiner.join(ends)
    return joiner


def pairs_to_buzz(spec: Spec, wiring: Wiring) -> list[Pair]:
    """The pairs a person would buzz: commons to throws, points to chassis, meters, readings.

    Args:
        spec: the checked model.
        wiring: one of its wirings.

    Returns:
        Each pair once, switches first, in order of the spec.
    """
    pairs: dict[Pair, None] = {}
    for part in spec.parts_of(wiring).values():
        if isinstance(part, Switch):
            for section in part.sections:
                first, *others = (part.terminal(lug) for lug in section.lugs)
                pairs.update(dict.fromkeys((first, other) for other in others))
    for pair in _places(spec, wiring):
        if pair[0] != pair[1] and (pair[1], pair[0]) not in pairs:
            pairs[pair] = None
    return list(pairs)


def _places(spec: Spec, wiring: Wiring) -> Iterator[Pair]:
    yield from (rule.places for rule in spec.rules)
    yield from (reading.places for reading in wiring.readings.values())
    chassis = next((point.name for point in spec.points.values() if point.chassis), None)
    if chassis is not None:
        yield from ((name, chassis) for name in spec.points if name != chassis)


def states_to_buzz(spec: Spec, wiring: Wiring, most: int = 12) -> list[dict[str, str]]:
    """Every state of the controls that move a switch of a wiring, where these are few.

    Where they are more than ``most``: each control through its positions alone, the
    others at the first position that ``never`` allows with it.

    Raises:
        LimitReached: ``never`` ties together more states than can be looked at.
    """
    moving = {p.control for p in spec.parts_of(wiring).values() if isinstance(p, Switch)}
    states = States(spec.controls, spec.never)
    if prod(len(spec.controls[name].positions) for name in moving) <= most:
        frame = states.frame(moving)
        return list(frame.states(states.possible(frame)))
    found: dict[tuple[str, ...], dict[str, str]] = {}
    for name in (name for name in spec.controls if name in moving):
        for state in _turned(states, name):
            found[tuple(state.values())] = state
    return list(found.values())


def _turned(states: States, turned: str) -> Iterator[dict[str, str]]:
    """One control through its positions; the others as early in travel as they may stand."""
    frame = states.frame({turned}.union(*states.never))
    firsts = {name: control.positions[0] for name, control in states.controls.items()}
    for number in range(len(states.controls[turned].positions)):
        mask = states.possible(frame) & frame.where(turned, 1 << number)
        yield from ({**firsts, **state} for state in islice(frame.states(mask), 1))
