"""Moments while switching: every combination of old, between and new contacts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product
from math import prod

import numpy as np

from rewire.circuit.circuit import Contact, contacts_on
from rewire.circuit.dc import Array, Ends
from rewire.circuit.states import LimitReached, States
from rewire.records.spec import Switch
from rewire.values.board import NO_VALUE, Board, Branch, contact_legs
from rewire.values.circuits import Reach, pairs_of
from rewire.values.diodes import diode_branches
from rewire.values.mishaps import overloads, pointer_told, rule_lost, severity
from rewire.values.model import Mishap
from rewire.values.pointer import Flags, Pointer, pointer_of
from rewire.values.readings import Setup, numbered
from rewire.values.trials import (
    MOST_STATES,
    Watched,
    at,
    ends_of,
    full_state,
    risers,
    rises,
    rule_ohms,
    rules_at,
    usual_volts,
    watch,
    watched_controls,
)
from rewire.words.quantity import with_unit

MOST_COMBINATIONS = 20_000
"""Combinations of sections in one step."""

Groups = tuple[frozenset[str], ...]


@dataclass(frozen=True, slots=True)
class Phase:
    """A section in one phase of its move: a word for it, and the groups it closes."""

    said: str
    groups: Groups
    passed: str = ""
    """The lug that a wiper is passing over."""


@dataclass(frozen=True, slots=True)
class Mover:
    """A section that moves: its number, its contact and its phases, old first and new last."""

    section: int
    contact: Contact
    phases: tuple[Phase, ...]
    between: tuple[Phase, ...]
    """Those on the way, whatever they close."""

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
    usual = usual_volts(board, values)
    for setup in setups:
        for name, position in setup.states[0].items():
            for one, two in board.spec.controls[name].steps():
                if position not in (one, two):
                    continue
                for others in _others(board, setup, watched, (name, one, two)):
                    state = full_state(board, {**others, name: position})
                    step = _Step(board, setup, state, (name, one, two), usual)
                    for told, moment in _worst_of(step, values):
                        found.setdefault(told, moment)
    return sorted(found.values(), key=severity)


def unread_moments(
    board: Board, values: Sequence[Array | None], read: Sequence[Mishap]
) -> list[Mishap]:
    """Rules that break and points that rise in any step, whether something is read there or not.

    Args:
        board: the wiring.
        values: the board's values.
        read: the moments in which something is read; what they say already is left out.

    Raises:
        LimitReached: as for those.
    """
    watched = watched_controls(board, moving=True)
    usual = usual_volts(board, values)
    found: dict[tuple[str, ...], Mishap] = {}
    for name, control in board.spec.controls.items():
        for one, two in control.steps() if name in watched else ():
            for others in _others(board, None, watched, (name, one, two)):
                state = full_state(board, {**others, name: one})
                step = _Step(board, None, state, (name, one, two), usual)
                for told, moment in _worst_of(step, values):
                    said = any(_says(other, moment) for other in (*read, *found.values()))
                    if (moment.rules or moment.rises) and not said:
                        found.setdefault(told, moment)
    return sorted(found.values(), key=severity)


def _says(one: Mishap, other: Mishap) -> bool:
    """Whether a moment tells all that another does to rules and points."""
    return (
        one.what == other.what
        and one.in_step >= other.in_step
        and set(one.rules) >= set(other.rules)
        and dict(one.rises).keys() >= dict(other.rises).keys()
    )


@dataclass(frozen=True, slots=True)
class _Step:
    """One control on its way, from or to the state in which a reading is taken, if one is."""

    board: Board
    setup: Setup | None
    state: dict[str, int]
    move: tuple[str, int, int]
    usual: Mapping[str, float]
    """Volts that the points which can rise come to anyway."""


def _others(
    board: Board, setup: Setup | None, watched: set[str], step: tuple[str, int, int]
) -> list[dict[str, int]]:
    """Where the controls that do not move can stand in a step, of a reading or of none."""
    name, before, after = step
    fixed = setup.states[0] if setup else {}
    controls = board.spec.controls
    states = States(controls, board.spec.never)
    asking = f"while switching {name}"
    frame = states.frame((watched | set(fixed)) - {name}, asking)
    mask = states.possible_steps(frame, name, before, after)
    for other, position in fixed.items():
        if other != name:
            mask &= frame.where(other, 1 << position)
    if mask.bit_count() > MOST_STATES:
        raise LimitReached(
            f"{asking}: the other controls that can matter to a rule make "
            f"{mask.bit_count():,} states, more than {MOST_STATES:,}"
        )
    return [numbered(board, state) for state in frame.states(mask)]


def _worst_of(
    step: _Step, values: Sequence[Array | None]
) -> Iterator[tuple[tuple[str, ...], Mishap]]:
    """The gravest moment of a step, and that with uneven poles where it is graver still.

    Each with what it does, to know it again by.
    """
    board, setup, move = replace(step.board), step.setup, step.move
    movers = _movers(board, setup, move)
    if not movers:
        return
    combos = list(product(*(mover.phases for mover in movers)))
    if step.state[move[0]] == move[2]:
        combos.reverse()
    here = {**step.state, move[0]: move[1]}
    sections = {mover.section for mover in movers}
    still = [b for b in board.branches if b.section not in sections and b.closed(here)]
    if any(values[n] is None for b in still for n in (b.value, b.share) if n is not None):
        return
    known = [np.array([1.0]) if v is None else v for v in values]
    ohms = [np.asarray(b.ohms(known)) for b in still]
    for pair, column in _contact_columns(board, movers, combos):
        still.append(Branch("", pair, NO_VALUE, control=move[0]))
        ohms.append(column)
    still += diode_branches(board)
    ohms += [np.full(1, np.inf)] * (len(still) - len(ohms))
    ends = [b.ends for b in still]
    part = setup.meter.name if setup and setup.meter else None
    meter = next((n for n, b in enumerate(still) if b.part == part), None)
    pointer = pointer_of(board, setup, ends, ohms, meter) if setup and meter is not None else None
    if setup and pointer is None:
        return
    seen = rule_ohms(board, still, ohms)
    watched = watch(board, ends, ohms, seen, rules_at(board, here, moving=True))
    yield from _gravest(step, pointer, watched, (movers, combos))


def _gravest(
    step: _Step,
    pointer: Pointer | None,
    watched: Watched,
    moving: tuple[Sequence[Mover], Sequence[Sequence[Phase]]],
) -> Iterator[tuple[tuple[str, ...], Mishap]]:
    together = _in_step(*moving)
    done: list[Mishap] = []
    for asked in (together, ~together):
        moments = [
            _moment(step, pointer, watched, moving, sample, bool(together[sample]))
            for sample in _picked(pointer.takes if pointer else _NOTHING, watched, asked)
        ]
        for told, moment in sorted(moments, key=lambda moment: severity(moment[1])):
            graver = all(severity(moment) < severity(one) for one in done)
            if graver or set(moment.rules).difference(*(one.rules for one in done)):
                done.append(moment)
                yield told, moment


_NOTHING: Array = np.zeros(1)


def _in_step(movers: Sequence[Mover], combos: Sequence[Sequence[Phase]]) -> Flags:
    """The combinations in which all sections are in between at once: so at every turn."""
    between = [[phase.groups for phase in mover.between] for mover in movers]
    return np.array([
        all(phase.groups in there for phase, there in zip(combo, between, strict=True))
        for combo in combos
    ])  # fmt: skip


def _picked(times: Array, watched: Watched, asked: Flags) -> list[int]:
    """Of the combinations asked for: the most current, and those that break a rule or let rise.

    The first and the last are the positions at rest before and after: no moment of the step.
    """
    count = len(asked)
    between = [n for n in range(1, count - 1) if asked[n]]
    if not between:
        return []
    current = np.abs(np.broadcast_to(times, (count,)))
    worst = [current]
    columns = [np.broadcast_to(b, (count,)) for b in watched.broken.values()]
    for column in (one for one in columns if not (one[0] or one[-1])):
        worst.append(column * 1e6 + current)
    worst += [np.abs(np.broadcast_to(volts, (count,))) for volts in watched.volts.values()]
    return sorted({between[int(np.argmax(one[between]))] for one in worst})


def _moment(
    step: _Step,
    pointer: Pointer | None,
    watched: Watched,
    moving: tuple[Sequence[Mover], Sequence[Sequence[Phase]]],
    sample: int,
    in_step: bool,
) -> tuple[tuple[str, ...], Mishap]:
    spec, (name, before, after) = step.board.spec, step.move
    rules = sorted(n for n, broken in watched.broken.items() if _only_between(broken, sample))
    risen = rises(watched, sample, step.usual)
    positions = spec.controls[name].positions
    what = f"{name} between {positions[before]} and {positions[after]}"
    reading, takes, deflection, over = None, None, None, False
    said: list[str] = []
    if step.setup is not None and pointer is not None:
        takes, reads = at(pointer.takes, sample), at(pointer.reads, sample)
        meter = step.setup.meter.name if step.setup.meter else ""
        reading, over = step.setup.reading.name, overloads(takes, at(pointer.takes, 0))
        said += pointer_told(takes if over else 0.0, reads, reads, (reading, meter))
        deflection = None if at(pointer.lost, sample) else reads
    said += [f"{place} rises to {with_unit(volts, 'V', 3)}" for place, volts in risen]
    said += [rule_lost(spec, number) for number in rules]
    stand = list(zip(moving[0], moving[1][sample], strict=True))
    how = ", ".join(f"{mover.name} {phase.said}" for mover, phase in stand)
    when = f"{what}{'' if in_step else _unless(stand)}"
    message = f"{when}: {'; '.join(said)} ({how})" if said else f"{when}: nothing over full scale"
    moment = Mishap(
        what, reading, takes, deflection, tuple(rules), risen, message, over, in_step=in_step
    )
    return (when, *(said or [reading or ""])), moment


def _unless(stand: Sequence[tuple[Mover, Phase]]) -> str:
    """What must come to it: a throw that is passed over, or poles that are uneven."""
    passed = [f"{mover.contact.switch}.{phase.passed}" for mover, phase in stand if phase.passed]
    return f", as the knob goes past {', '.join(passed)}" if passed else ", if the poles are uneven"


def _only_between(broken: Flags, sample: int) -> bool:
    """Whether a rule breaks in a sample, but in neither position at rest."""
    return bool(at(broken, sample)) and not (at(broken, 0) or at(broken, -1))


def _movers(board: Board, setup: Setup | None, step: tuple[str, int, int]) -> list[Mover]:
    """Sections that move and can matter to the reading or to a rule while switching."""
    name, before, after = step
    contacts = contacts_on(board.spec, board.spec.all_of(Switch, board.wiring).values(), board.nets)
    moving = [
        (number, contact)
        for number, contact in enumerate(contacts)
        if contact.control == name and contact.moves(before, after)
    ]
    telling = _telling(board, setup)
    movers = [_mover(n, c, before, after) for n, c in moving if n in telling]
    if prod(len(mover.phases) for mover in movers) > MOST_COMBINATIONS:
        about = f"reading {setup.reading.name}" if setup else "a rule or a rise"
        raise LimitReached(
            f"while switching {name}: {len(movers)} sections that can matter to {about} "
            f"make more than {MOST_COMBINATIONS:,} combinations"
        )
    return movers


def _telling(board: Board, setup: Setup | None) -> set[int]:
    rules = [rule for rule in board.spec.rules if rule.while_switching]
    pairs = [pair for rule in rules if (pair := ends_of(board, rule)) is not None]
    if setup is None:
        pairs += [pair for _, pair in risers(board)]
    else:
        pairs += pairs_of(board, setup.reading) or []
    return {branch.section for branch in Reach.over(board.branches).between(pairs)}


def _mover(number: int, contact: Contact, before: int, after: int) -> Mover:
    groups = contact.section.groups
    old, new = (tuple(frozenset(g) for g in groups[p]) for p in (before, after))
    held = tuple(frozenset(g) for g in contact.held(before, after))
    timing = contact.section.timing
    between = []
    if timing != "shorting":
        between.append(Phase("between", held))
    if timing != "non-shorting":
        between.append(Phase("on both contacts", (*old, *new)))
    seen: dict[frozenset[frozenset[str]], Phase] = {}
    for phase in (
        Phase("at the old contact", old),
        *between,
        *_passed(contact, (before, after), (old, new)),
        Phase("at the new contact", new),
    ):
        seen.setdefault(frozenset(phase.groups), phase)
    return Mover(number, contact, tuple(seen.values()), tuple(between))


def _passed(contact: Contact, ends: Ends, at_rest: tuple[Groups, Groups]) -> Iterator[Phase]:
    """The throws that a wiper passes over, and with a shorting one each two that follow."""
    passed = contact.passing.get(ends, ())
    for lugs in passed:
        yield Phase(f"passing {lugs[-1]}", (frozenset(lugs),), lugs[-1])
    if not passed or contact.section.timing == "non-shorting":
        return
    stops = (at_rest[0], *((frozenset(lugs),) for lugs in passed), at_rest[1])
    for one, other in pairwise(stops):
        throws = [lug for group in (*one, *other) for lug in group if lug != passed[0][0]]
        passing = next(lug for lug in throws if (passed[0][0], lug) in passed)
        yield Phase(f"on {' and '.join(sorted(throws))}", (*one, *other), passing)


def _contact_columns(
    board: Board, movers: Sequence[Mover], combos: Sequence[Sequence[Phase]]
) -> Iterator[tuple[Ends, Array]]:
    """What the moving sections can close: nodes of each branch, its ohms in each combination."""
    for row, mover in enumerate(movers):
        switch = board.parts[mover.contact.switch]
        stated = switch.contact_resistance if isinstance(switch, Switch) else None
        groups = dict.fromkeys(group for phase in mover.phases for group in phase.groups)
        for group in groups:
            closed = np.array([group in combo[row].groups for combo in combos])
            nodes = [mover.contact.place[lug] for lug in sorted(group)]
            for ends, share in contact_legs(board, nodes) if len(nodes) > 1 else ():
                yield ends, np.where(closed, share * (stated or 0.0), np.inf)
