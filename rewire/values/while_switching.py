"""Moments while switching: every combination of old, between and new contacts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from math import inf, prod

import numpy as np

from rewire.circuit.circuit import Contact, circuit_of
from rewire.circuit.dc import Array, Ends
from rewire.circuit.states import LimitReached, States
from rewire.values.answers import Mishap
from rewire.values.dc_network import DcNetwork, Routes
from rewire.values.meter_circuit import Setup, Solved
from rewire.values.mishaps import (
    MOST_STATES,
    Flags,
    Pointer,
    Variant,
    Watched,
    at,
    highest_first,
    overloads,
    pointer_of,
    pointer_told,
    risers,
    rises_told,
    rule_lost,
    rules_at,
    samples_of,
    severity,
    standing_volts,
    states_watched,
    watch,
    watched_controls,
    watched_pairs,
)

MOST_COMBINATIONS = 20_000
"""Combinations of sections in one step."""

Groups = tuple[frozenset[str], ...]
_NOTHING: Array = np.zeros(1)


@dataclass(frozen=True, slots=True)
class Phase:
    """A section in one phase of its move: a word for it, and the groups it closes.

    ``passed`` is the lug that a wiper is passing over.
    """

    said: str
    groups: Groups
    passed: str = ""


@dataclass(frozen=True, slots=True)
class PhasedSection:
    """A section that moves: its phases, old first and new last; ``between`` those on the way."""

    number: int
    contact: Contact
    phases: tuple[Phase, ...]
    between: tuple[Phase, ...]

    @property
    def name(self) -> str:
        """``S4 pole A`` or the section's first lug."""
        section = self.contact.section
        return f"{self.contact.switch}.{section.pole or section.lugs[0]}"


@dataclass(frozen=True, slots=True)
class _Step:
    """One control on its way, from or to the state in which a reading is taken, if one is.

    ``usual`` are volts that the points which can rise come to anyway.
    """

    setup: Setup | None
    state: dict[str, int]
    move: tuple[str, int, int]
    usual: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class _Moments:
    """All combinations of phases in one step, each a sample."""

    step: _Step
    sections: Sequence[PhasedSection]
    combos: Sequence[Sequence[Phase]]
    pointer: Pointer | None
    watched: Watched

    @property
    def together(self) -> Flags:
        """The combinations in which all sections are in between at once: so at every turn."""
        between = [[phase.groups for phase in one.between] for one in self.sections]
        return np.array([
            all(phase.groups in there for phase, there in zip(combo, between, strict=True))
            for combo in self.combos
        ])  # fmt: skip


def while_switching(solved: Solved, setups: Sequence[Setup | None]) -> list[Mishap]:
    """The worst moments of every step from or to a state in which a reading is taken.

    Each reading keeps its drive during the step. Controls that can matter to a rule or to a
    point that rises stand anywhere ``never`` allows. For None in place of a reading: what rules
    and points suffer in any step.

    Raises:
        LimitReached: more than 20,000 combinations of sections in one step, or more
            than 512 states of the other controls.
    """
    network, found = solved.network, dict[tuple[str, ...], Mishap]()
    rules = enumerate(network.spec.rules)
    watched = watched_controls(network, (one for one in rules if one[1].while_switching))
    usual = _usual_volts(solved)
    for setup in setups:
        for move, position in _moves(network, setup, watched):
            for others in _others(network, setup, watched, move):
                state = network.full_state({**others, move[0]: position})
                for told, moment in _worst_of(solved, _Step(setup, state, move, usual)):
                    if setup or moment.rules or moment.rises:
                        found.setdefault(told, moment)
    return list(found.values())


def all_moments(read: Sequence[Mishap], unread: Sequence[Mishap]) -> list[Mishap]:
    """Moments with a reading, and of those without one what these do not say already."""
    kept = list(read)
    for moment in unread:
        if not any(_says(other, moment) for other in kept):
            kept.append(moment)
    return sorted(kept, key=severity)


def _says(one: Mishap, other: Mishap) -> bool:
    """Whether a moment tells all that another does to rules and points."""
    return (
        one.what == other.what
        and one.in_step >= other.in_step
        and set(one.rules) >= set(other.rules)
        and dict(one.rises).keys() >= dict(other.rises).keys()
    )


def _usual_volts(solved: Solved) -> dict[str, float]:
    """The most each point that can rise stands at, at rest, in any position of the controls."""
    network = solved.network
    states = states_watched(network, "volts at rest") if any(risers(network)) else ()
    return standing_volts(watch(samples_of(network, solved.values, at), ()) for at in states)


def _moves(
    network: DcNetwork, setup: Setup | None, watched: set[str]
) -> Iterator[tuple[tuple[str, int, int], int]]:
    """Steps of controls, and the position that is written of each; from or to a reading's own."""
    for name, control in network.spec.controls.items():
        own = setup.states[0].get(name) if setup else None
        for one, two in control.steps():
            if setup is None and name in watched:
                yield (name, one, two), one
            elif own is not None and own in (one, two):
                yield (name, one, two), own


def _others(
    network: DcNetwork, setup: Setup | None, watched: set[str], move: tuple[str, int, int]
) -> list[dict[str, int]]:
    """Where the controls that do not move can stand in a step, of a reading or of none."""
    name, before, after = move
    fixed = setup.states[0] if setup else {}
    states = States(network.spec.controls, network.spec.never)
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
    return [network.numbered(state) for state in frame.states(mask)]


def _worst_of(solved: Solved, step: _Step) -> Iterator[tuple[tuple[str, ...], Mishap]]:
    """The gravest moment of a step, and that with uneven poles where it is graver still.

    Each with what it does, to know it again by.
    """
    network, (name, before, after) = solved.network, step.move
    sections = _moving_sections(network, step)
    if not sections:
        return
    combos = list(product(*(section.phases for section in sections)))
    if step.state[name] == after:
        combos.reverse()
    here = {**step.state, name: before}
    variants = _variants(solved, sections, combos)
    samples = samples_of(network, solved.values, here, variants)
    pointer = pointer_of(samples, step.setup) if step.setup else None
    if step.setup and pointer is None:
        return
    rules = [(n, rule) for n, rule in rules_at(network, here) if rule.while_switching]
    moments, done = _Moments(step, sections, combos, pointer, watch(samples, rules)), list[Mishap]()
    together = moments.together
    for asked in (together, ~together):
        picked = _picked(moments, asked)
        found = [_moment(network, moments, n, in_step=bool(together[n])) for n in picked]
        for told, moment in sorted(found, key=lambda one: severity(one[1])):
            graver = all(severity(moment) < severity(one) for one in done)
            if graver or set(moment.rules).difference(*(one.rules for one in done)):
                done.append(moment)
                yield told, moment


def _variants(
    solved: Solved, sections: Sequence[PhasedSection], combos: Sequence[Sequence[Phase]]
) -> list[Variant]:
    """What the moving sections open and close in each combination of their phases."""
    network, known = solved.network, solved.known
    moving = {section.number for section in sections}
    opened = {n: inf for n, branch in enumerate(network.branches) if branch.section in moving}
    ohms = {n: float(network.branches[n].ohms(known)[0]) for n in opened}
    closing = {
        (section.number, phase.groups): [
            n for group in phase.groups for n in _closing(network, section, group)
        ]
        for section in sections
        for phase in section.phases
    }
    numbers = [section.number for section in sections]
    return [
        Variant("", opened | {
            n: ohms[n]
            for number, phase in zip(numbers, combo, strict=True)
            for n in closing[number, phase.groups]
        })
        for combo in combos
    ]  # fmt: skip


def _closing(network: DcNetwork, section: PhasedSection, group: frozenset[str]) -> list[int]:
    """The branches that close a group of lugs: its own, or legs of the least that has them all."""
    lugs = {f"{section.contact.switch}.{lug}" for lug in group}
    by_contact: dict[str, list[int]] = {}
    for number, branch in enumerate(network.branches):
        if branch.section == section.number:
            by_contact.setdefault(branch.contact, []).append(number)
    of = network.branches
    having = [
        own for own in by_contact.values() if lugs <= {lug for n in own for lug in of[n].lugs}
    ]
    least = min(having, key=len, default=[])
    return [number for number in least if set(of[number].lugs) <= lugs]


def _picked(moments: _Moments, asked: Flags) -> list[int]:
    """Of the combinations asked for: the most current, and those that break a rule or let rise.

    The first and the last are the positions at rest before and after: no moment of the step.
    """
    count = len(asked)
    between = [n for n in range(1, count - 1) if asked[n]]
    if not between:
        return []
    takes = moments.pointer.takes if moments.pointer else _NOTHING
    current = np.abs(np.broadcast_to(takes, (count,)))
    worst = [current]
    for broken in moments.watched.broken.values():
        column = np.broadcast_to(broken, (count,))
        if not (column[0] or column[-1]):
            worst.append(column * 1e6 + current)
    volts = moments.watched.volts.values()
    worst += [np.abs(np.broadcast_to(one, (count,))) for one in volts]
    return sorted({between[int(np.argmax(one[between]))] for one in worst})


def _moment(
    network: DcNetwork, moments: _Moments, sample: int, *, in_step: bool
) -> tuple[tuple[str, ...], Mishap]:
    step, watched, spec = moments.step, moments.watched, network.spec
    rules = sorted(n for n, broken in watched.broken.items() if _only_between(broken, sample))
    risen = highest_first(watched.rises(sample, step.usual))
    name, before, after = step.move
    positions = spec.controls[name].positions
    what = f"{name} between {positions[before]} and {positions[after]}"
    reading, takes, deflection, over = None, None, None, False
    said: list[str] = []
    if step.setup is not None and (pointer := moments.pointer) is not None:
        takes, reads = at(pointer.takes, sample), at(pointer.reads, sample)
        reading, over = step.setup.reading.name, overloads(takes, at(pointer.takes, 0))
        names = (reading, step.setup.meter_name or "")
        said += pointer_told(takes if over else 0.0, reads, reads, names)
        deflection = None if at(pointer.lost, sample) else reads
    said += [*rises_told(risen), *(rule_lost(spec, number) for number in rules)]
    stand = list(zip(moments.sections, moments.combos[sample], strict=True))
    how = ", ".join(f"{section.name} {phase.said}" for section, phase in stand)
    when = f"{what}{'' if in_step else _unless(stand)}"
    message = f"{when}: {'; '.join(said)} ({how})" if said else f"{when}: nothing over full scale"
    moment = Mishap(
        what, reading, takes, deflection, tuple(rules), risen, message, over, in_step=in_step
    )
    return (when, *(said or [reading or ""])), moment


def _unless(stand: Sequence[tuple[PhasedSection, Phase]]) -> str:
    """What must come to it: a throw that is passed over, or poles that are uneven."""
    passed = [f"{one.contact.switch}.{phase.passed}" for one, phase in stand if phase.passed]
    return f", as the knob goes past {', '.join(passed)}" if passed else ", if the poles are uneven"


def _only_between(broken: Flags, sample: int) -> bool:
    """Whether a rule breaks in a sample, but in neither position at rest."""
    return bool(at(broken, sample)) and not (at(broken, 0) or at(broken, -1))


def _moving_sections(network: DcNetwork, step: _Step) -> list[PhasedSection]:
    """Sections that move and can matter to the reading or to a rule while switching."""
    name, before, after = step.move
    rules = [rule for rule in network.spec.rules if rule.while_switching]
    pairs = watched_pairs(network, rules)
    if step.setup is not None:
        pairs = [pair for rule in rules if (pair := network.ends(rule.places)) is not None]
        pairs += network.pairs(step.setup.reading) or []
    telling = {branch.section for branch in Routes.over(network.branches).between(pairs)}
    sections = [
        _moving_section(number, contact, before, after)
        for number, contact in enumerate(circuit_of(network.spec, network.wiring).contacts)
        if contact.control == name and contact.moves(before, after) and number in telling
    ]
    if prod(len(section.phases) for section in sections) > MOST_COMBINATIONS:
        about = f"reading {step.setup.reading.name}" if step.setup else "a rule or a rise"
        raise LimitReached(
            f"while switching {name}: {len(sections)} sections that can matter to {about} "
            f"make more than {MOST_COMBINATIONS:,} combinations"
        )
    return sections


def _moving_section(number: int, contact: Contact, before: int, after: int) -> PhasedSection:
    groups = contact.section.groups
    old, new = (tuple(frozenset(g) for g in groups[p]) for p in (before, after))
    held = tuple(frozenset(g) for g in contact.held(before, after))
    timing = contact.section.timing
    between = []
    if timing != "shorting":
        between.append(Phase("between", held))
    if timing != "non-shorting":
        between.append(Phase("on both contacts", (*old, *new)))
    phases = (
        Phase("at the old contact", old),
        *between,
        *_passed(contact, (before, after), (old, new)),
        Phase("at the new contact", new),
    )
    seen: dict[frozenset[frozenset[str]], Phase] = {}
    for phase in phases:
        seen.setdefault(frozenset(phase.groups), phase)
    return PhasedSection(number, contact, tuple(seen.values()), tuple(between))


def _passed(contact: Contact, ends: Ends, at_ends: tuple[Groups, Groups]) -> Iterator[Phase]:
    """The throws that a wiper passes over, and with a shorting one each two that follow."""
    passed = contact.passing.get(ends, ())
    for lugs in passed:
        yield Phase(f"passing {lugs[-1]}", (frozenset(lugs),), lugs[-1])
    if not passed or contact.section.timing == "non-shorting":
        return
    stops = (at_ends[0], *((frozenset(lugs),) for lugs in passed), at_ends[1])
    for one, other in pairwise(stops):
        throws = [lug for group in (*one, *other) for lug in group if lug != passed[0][0]]
        passing = next(lug for lug in throws if (passed[0][0], lug) in passed)
        yield Phase(f"on {' and '.join(sorted(throws))}", (*one, *other), passing)
