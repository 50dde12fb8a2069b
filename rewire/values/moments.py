"""Moments while switching: every combination of old, between and new contacts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

import numpy as np
import numpy.typing as npt

from rewire.circuit.contacts import Contact, contacts_of, held_between
from rewire.circuit.dc import Array, Ends
from rewire.circuit.states import LimitReached, States
from rewire.values.board import Board
from rewire.values.circuits import Reach, pairs_of, place_of
from rewire.values.faults import pointer_told, rule_lost, severity
from rewire.values.model import Mishap
from rewire.values.readings import Setup, numbered
from rewire.values.trials import (
    MOST_STATES,
    Pointer,
    Watched,
    at,
    full_state,
    pointer_of,
    rises,
    rules_at,
    watch,
    watched_controls,
)
from rewire.values.units import with_unit

MOST_COMBINATIONS = 20_000
"""Combinations of sections in one step."""

Groups = tuple[frozenset[str], ...]


@dataclass(frozen=True, slots=True)
class Phase:
    """A section in one phase of its move: a word for it, and the groups it closes."""

    said: str
    groups: Groups


@dataclass(frozen=True, slots=True)
class Mover:
    """A section that moves: its number, its contact and its phases, old first and new last."""

    section: int
    contact: Contact
    phases: tuple[Phase, ...]

    @property
    def name(self) -> str:
        """``S4 pole A`` or the section's first lug."""
        section = self.contact.section
        return f"{self.contact.switch}.{section.pole or section.lugs[0]}"


def while_switching(
    board: Board, setups: Sequence[Setup], values: Sequence[Array | None]
) -> list[Mishap]:
    """The worst moment of every step from or to a state in which a reading is taken.

    Args:
        board: the wiring.
        setups: the readings; each keeps its drive during the step. Controls that can
            matter to a rule or to a point that rises stand anywhere ``never`` allows.
        values: the board's values.

    Raises:
        LimitReached: more than 20,000 combinations of sections in one step, or more
            than 512 states of the other controls.
    """
    found: dict[tuple[str, ...], Mishap] = {}
    watched = watched_controls(board, moving=True)
    for setup in setups:
        for name, position in setup.states[0].items():
            for one, two in board.spec.controls[name].steps():
                if position not in (one, two):
                    continue
                for others in _others(board, setup, watched, (name, one, two)):
                    state = full_state(board, {**others, name: position})
                    for told, moment in _step(board, setup, state, (name, one, two), values):
                        found.setdefault(told, moment)
    return sorted(found.values(), key=severity)


def _others(
    board: Board, setup: Setup, watched: set[str], step: tuple[str, int, int]
) -> list[dict[str, int]]:
    """Where the controls that do not move can stand in a step of a reading."""
    name, before, after = step
    controls = board.spec.controls
    states = States(controls, board.spec.never)
    asking = f"while switching {name}"
    frame = states.frame((watched | set(setup.states[0])) - {name}, asking)
    mask = states.possible_steps(frame, name, before, after)
    for other, position in setup.states[0].items():
        if other != name:
            mask &= frame.where(other, 1 << position)
    if mask.bit_count() > MOST_STATES:
        raise LimitReached(
            f"{asking}: the other controls that can matter to a rule make "
            f"{mask.bit_count():,} states, more than {MOST_STATES:,}"
        )
    return [numbered(board, state) for state in frame.states(mask)]


def _step(
    board: Board,
    setup: Setup,
    state: dict[str, int],
    step: tuple[str, int, int],
    values: Sequence[Array | None],
) -> Iterator[tuple[tuple[str, ...], Mishap]]:
    """The gravest of all moments of a step, and what it does, to know it again by."""
    movers = _movers(board, setup, step)
    if not movers:
        return
    combos = list(product(*(mover.phases for mover in movers)))
    if state[step[0]] == step[2]:
        combos.reverse()
    here = {**state, step[0]: step[1]}
    sections = {mover.section for mover in movers}
    still = [b for b in board.branches if b.section not in sections and b.closed(here)]
    if any(values[n] is None for b in still for n in (b.value, b.share) if n is not None):
        return
    known = [np.array([1.0]) if v is None else v for v in values]
    ends = [b.ends for b in still]
    ohms = [np.asarray(b.ohms(known)) for b in still]
    for pair, closed in _contact_columns(movers, combos):
        ends.append(pair)
        ohms.append(np.where(closed, 0.0, np.inf))
    part = setup.meter.name if setup.meter else None
    meter = next((n for n, b in enumerate(still) if b.part == part), None)
    pointer = None if meter is None else pointer_of(board, setup, ends, ohms, meter)
    if pointer is None:
        return
    watched = watch(board, ends, ohms, rules_at(board, here, moving=True))
    moments = [
        _moment(board, setup, pointer, watched, step, movers, combos, sample)
        for sample in _picked(pointer.takes, watched, len(combos))
    ]
    if moments:
        yield min(moments, key=lambda moment: severity(moment[1]))


def _picked(times: Array, watched: Watched, count: int) -> list[int]:
    """Combinations worth telling: the most current, and those that break a rule or let rise.

    The first and the last are the positions at rest before and after: no moment of the step.
    """
    between = range(1, count - 1)
    if not between:
        return []
    current = np.abs(np.broadcast_to(times, (count,)))
    worst = [current]
    columns = [np.broadcast_to(b, (count,)) for b in watched.broken.values()]
    if columns:
        worst.append(np.sum(columns, axis=0) * 1e6 + current)
    worst += [np.abs(np.broadcast_to(volts, (count,))) for volts in watched.volts.values()]
    return sorted({between[int(np.argmax(one[1:-1]))] for one in worst})


def _moment(
    board: Board,
    setup: Setup,
    pointer: Pointer,
    watched: Watched,
    step: tuple[str, int, int],
    movers: Sequence[Mover],
    combos: Sequence[Sequence[Phase]],
    sample: int,
) -> tuple[tuple[str, ...], Mishap]:
    now = at(pointer.takes, sample), at(pointer.reads, sample)
    reading = setup.reading.name
    rules = sorted(n for n, broken in watched.broken.items() if at(broken, sample))
    risen = rises(watched, sample)
    positions = board.spec.controls[step[0]].positions
    what = f"{step[0]} between {positions[step[1]]} and {positions[step[2]]}"
    said = [rule_lost(board.spec, number) for number in rules]
    said += pointer_told(now, 0.0, reading, setup.meter.name if setup.meter else "")
    said += [f"{name} rises to {with_unit(volts, 'V', 3)}" for name, volts in risen]
    how = ", ".join(
        f"{mover.name} {phase.said}" for mover, phase in zip(movers, combos[sample], strict=True)
    )
    message = f"{what}: {'; '.join(said)} ({how})" if said else f"{what}: nothing over full scale"
    moment = Mishap(what, reading, *now, tuple(rules), risen, message)
    return (what, *(said or [reading])), moment


def _movers(board: Board, setup: Setup, step: tuple[str, int, int]) -> list[Mover]:
    """Sections that move and can matter to the reading or to a rule while switching."""
    name, before, after = step
    contacts = contacts_of(board.spec, board.wiring, board.nets)
    moving = [
        (number, contact)
        for number, contact in enumerate(contacts)
        if contact.control == name and contact.moves(before, after)
    ]
    telling = _telling(board, setup)
    movers = [Mover(n, c, _phases(c, before, after)) for n, c in moving if n in telling]
    if prod(len(mover.phases) for mover in movers) > MOST_COMBINATIONS:
        raise LimitReached(
            f"while switching {name}: {len(movers)} sections that can matter to reading "
            f"{setup.reading.name} make more than {MOST_COMBINATIONS:,} combinations"
        )
    return movers


def _telling(board: Board, setup: Setup) -> set[int]:
    pairs = list(pairs_of(board, setup.reading) or [])
    for rule in board.spec.rules:
        one, other = (place_of(board, place) for place in rule.places)
        if rule.while_switching and one is not None and other is not None:
            pairs.append((one, other))
    return {branch.section for branch in Reach.over(board.branches).between(pairs)}


def _phases(contact: Contact, before: int, after: int) -> tuple[Phase, ...]:
    groups = contact.section.groups
    old, new = (tuple(frozenset(g) for g in groups[p]) for p in (before, after))
    held = tuple(frozenset(g) for g in held_between(contact, before, after))
    timing = contact.section.timing
    found = [Phase("at the old contact", old)]
    if timing != "shorting":
        found.append(Phase("between", held))
    if timing != "non-shorting":
        found.append(Phase("on both contacts", (*old, *new)))
    found.append(Phase("at the new contact", new))
    seen: dict[frozenset[frozenset[str]], Phase] = {}
    for phase in found:
        seen.setdefault(frozenset(phase.groups), phase)
    return tuple(seen.values())


def _contact_columns(
    movers: Sequence[Mover], combos: Sequence[Sequence[Phase]]
) -> Iterator[tuple[Ends, npt.NDArray[np.bool_]]]:
    """For each pair of nodes that a group of a moving section can tie: in which combinations."""
    for row, mover in enumerate(movers):
        groups = dict.fromkeys(group for phase in mover.phases for group in phase.groups)
        for group in groups:
            closed = np.array([group in combo[row].groups for combo in combos])
            nodes = mover.contact.places(sorted(group))
            for node in nodes[1:]:
                yield (nodes[0], node), closed
