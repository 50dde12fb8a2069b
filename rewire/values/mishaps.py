"""What happens when one thing fails, and for a moment while switching.

Both are variants of the wiring: everything opened, shorted, welded or bridged, one at a time; and
every combination of old, between and new contacts of the sections that move in a step.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise, product
from math import inf, prod

import numpy as np

from rewire.circuit.circuit import Contact, Groups, circuit_of
from rewire.circuit.dc import Array, Ends
from rewire.circuit.states import LimitReached, States
from rewire.records.spec import Spec
from rewire.records.switches import neighbours
from rewire.values import cases
from rewire.values.answers import OVERLOADED, Mishap, Strain
from rewire.values.cases import Pointer, Variant, Watched, at
from rewire.values.dc_network import TINY, DcNetwork, Routes, State, bench_network, filled
from rewire.values.meter_circuit import Setup, Solved
from rewire.values.sources import Flags, Samples, part_loads
from rewire.words.quantity import with_unit

MOST_COMBINATIONS = 20_000
"""Combinations of sections in one step."""
Move = tuple[str, int, int]


@dataclass(slots=True)
class _Worst:
    """The worst that a fault does over all readings and states; ``lost`` are not known then."""

    reading: Mishap | None = None
    off: float = 0.0
    said: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    strains: dict[tuple[str, str], Strain] = field(default_factory=dict)
    rules: dict[int, list[State]] = field(default_factory=dict)
    rises: dict[str, float] = field(default_factory=dict)


def single_faults(solved: Solved) -> list[Mishap]:
    """What each single fault does to the readings, the parts and the rules; worst first.

    Raises:
        LimitReached: more states than are looked at.
    """
    network, values, bridges = _bench(solved)
    worst: dict[str, _Worst] = {}
    for setup in solved.setups.values():
        state = network.full_state(setup.states[0])
        for faults in _batches(network, state, bridges):
            _try_reading(cases.samples_of(network, values, state, faults), setup, faults, worst)
    tried = [
        (
            state,
            faults,
            cases.watch(
                cases.samples_of(network, values, state, faults), cases.rules_at(network, state)
            ),
        )
        for state in cases.states_watched(network, "single faults")
        for faults in _batches(network, state, bridges)
    ]
    usual, held = cases.standing_volts(watched for *_, watched in tried), dict[int, list[State]]()
    for state, faults, watched in tried:
        holding = [number for number, broken in watched.broken.items() if not broken[0]]
        for number in holding:
            held.setdefault(number, []).append(state)
        for sample, fault in enumerate(faults[1:], 1):
            one = worst.setdefault(fault.what, _Worst())
            for number in holding:
                if at(watched.broken[number], sample):
                    one.rules.setdefault(number, []).append(state)
            for name, volts in watched.rises(sample, usual).items():
                one.rises[name] = max(volts, one.rises.get(name, 0.0), key=abs)
    mishaps = [_fault(solved.spec, what, one, held) for what, one in worst.items()]
    return sorted(mishaps, key=cases.severity)


def _bench(solved: Solved) -> tuple[DcNetwork, list[Array], list[Variant]]:
    """The wiring with open branches where things can fail, its values, and the solder bridges."""
    of, bridges = solved.network, list[Variant]()
    network = bench_network(of.spec, of.wiring, of.roles)
    for part in network.parts.values():
        if part.has_role:
            nodes = network.nodes_of(part)
            network.add_branch(f"across {part.name}", (nodes[0], nodes[-1]), inf)
    for part in network.parts.values():
        for one, other in (map(part.terminal, pair) for pair in neighbours(part)):
            ends, what = (network.node(one), network.node(other)), f"solder bridge {one} to {other}"
            if ends[0] != ends[1]:
                bridges.append(Variant(what, {network.add_branch(what, ends, inf): 0.0}))
    values = filled(solved.values_in(network), 0.0)
    for number, value in enumerate(network.values):
        own_part = network.parts.get(value.part)
        rated = own_part is not None and own_part.legs and "amps" in dict(own_part.ratings)
        if rated and not value.is_setting:
            values[number] = np.maximum(values[number], TINY)
    return network, values, bridges


def _batches(
    network: DcNetwork, state: State, bridges: Sequence[Variant]
) -> Iterator[list[Variant]]:
    """Faults tried together, behind none: each kind links other nodes, and few solve fast."""
    welded: dict[str, dict[int, float]] = {}
    for number, branch in enumerate(network.branches):
        if branch.control is not None and not branch.closed(state):
            welded.setdefault(f"contact {branch.contact} welded", {})[number] = 0.0
    for batch in (_opened(network, state), map(Variant, welded, welded.values()), bridges):
        faults = [Variant("", {}), *batch]
        if len(faults) > 1:
            yield faults


def _opened(network: DcNetwork, state: State) -> Iterator[Variant]:
    """Contacts and wires that open; parts that open or are shorted."""
    of_part: dict[str, list[int]] = {}
    for number, branch in enumerate(network.branches):
        if branch.control is None:
            of_part.setdefault(branch.part, []).append(number)
        elif branch.closed(state):
            yield Variant(f"contact {network.values[branch.value].name} open", {number: inf})
    for wire in network.wiring.wires:
        what = f"{wire.named} ({wire.ends[0]} to {wire.ends[1]}) open"
        yield Variant(what, dict.fromkeys(of_part[wire.named], inf))
    for part in (part for part in network.parts.values() if part.name in of_part):
        opened = dict.fromkeys(of_part[part.name], inf)
        bypass = of_part[f"across {part.name}"][0]
        if part.track_ohms is not None:
            yield Variant(f"{part.name} wiper open", {**opened, bypass: part.track_ohms})
        yield Variant(f"{part.name} open", opened)
        yield Variant(f"{part.name} shorted", {bypass: 0.0})


def _try_reading(
    samples: Samples, setup: Setup, faults: Sequence[Variant], worst: dict[str, _Worst]
) -> None:
    """Keep what each fault does to one reading if it is worse: overloads, then how far off."""
    pointer = cases.pointer_of(samples, setup)
    if pointer is None:
        return
    strained, usual = list(_strained(samples, pointer)), at(pointer.reads, 0)
    for sample, fault in enumerate(faults[1:], 1):
        one = worst.setdefault(fault.what, _Worst())
        seen = cases.meter_in(fault.what, setup, pointer, sample)
        reads = usual if seen.deflection is None else seen.deflection
        off = abs((seen.times_full_scale or 0.0) if seen.overload else reads - usual)
        if one.reading is None or (seen.overload, off) > (one.reading.overload, one.off):
            conducting = [diode for diode, on in pointer.conducting.items() if at(on, sample)]
            one.reading, one.off = seen, off
            one.said = cases.pointer_told(setup, seen, reads, usual)
            if seen.overload and conducting:
                one.said.append(f"{', '.join(conducting)} conducting")
        if seen.deflection is None and not at(pointer.lost, 0):
            one.lost.append(setup.reading.name)
        for part, quantity, may, column in strained:
            has, known = at(column, sample), one.strains.get((part, quantity))
            more = has > OVERLOADED * max(may, at(column, 0)) and part not in fault.what
            if more and (known is None or has > known.has):
                one.strains[part, quantity] = Strain(part, quantity, has, may)


def _strained(samples: Samples, pointer: Pointer) -> Iterator[tuple[str, str, float, Array]]:
    """What each part with a rating may stand and has to, for all samples, by quantity."""
    of_part: dict[str, list[tuple[Array, Array]]] = {}
    for branch, ohms in zip(samples.branches, samples.ohms, strict=True):
        if branch.control is None and branch.part in samples.network.parts:
            one, other = branch.ends
            volts = np.abs(pointer.volts[one] - pointer.volts[other])
            with np.errstate(divide="ignore", invalid="ignore"):
                amps = np.where(volts > 0.0, volts / ohms, 0.0)
            of_part.setdefault(branch.part, []).append((volts, amps))
    for name, carried in of_part.items():
        has = part_loads(carried)
        for quantity, may in samples.network.parts[name].ratings:
            yield name, quantity, may, has[quantity]


def _fault(spec: Spec, what: str, worst: _Worst, held: dict[int, list[State]]) -> Mishap:
    strains = tuple(sorted(worst.strains.values(), key=lambda one: (-one.times, one.part)))
    back = "cannot be worked out: a current that always flows has no return path"
    said = [*(f"{name} {back}" for name in worst.lost[:1]), *worst.said]
    for strain in strains:
        verb, unit = cases.VERBS[strain.quantity]
        has, may = (with_unit(x, unit, 3) for x in (strain.has, strain.may))
        said.append(f"{strain.part} {verb} {has}, rated {may}")
    (rises, told), rules = cases.risen(worst.rises), tuple(sorted(worst.rules))
    said += told
    said += (
        f"{cases.rule_lost(spec, n)}{cases.only_with(spec, worst.rules[n], held[n])}" for n in rules
    )
    return replace(
        worst.reading or Mishap(what, None, None, None),
        rules=rules,
        rises=rises,
        message=f"{what}: {'; '.join(said) or 'nothing to be seen'}",
        strains=strains,
    )


@dataclass(frozen=True, slots=True)
class _Phase:
    """A section in one phase of its move, and the branches that it closes.

    ``passed`` is the lug that a wiper passes, ``between`` whether sections in step come by here.
    """

    said: str
    closes: frozenset[int]
    passed: str
    between: bool


Combo = tuple[_Phase, ...]
"""A phase for each section that moves."""


@dataclass(frozen=True, slots=True)
class _Step:
    """All combinations of phases in one step, each a sample; ``usual`` are volts at rest."""

    setup: Setup | None
    what: str
    usual: Mapping[str, float]
    sections: Sequence[str]
    combos: Sequence[Combo]
    pointer: Pointer | None
    watched: Watched

    def broken(self, sample: int) -> list[int]:
        """Rules that break in a sample and hold at rest, before or after."""
        rules = sorted(self.watched.broken.items())
        return [n for n, lost in rules if at(lost, sample) and not (at(lost, 0) or at(lost, -1))]


def while_switching(solved: Solved, setups: Sequence[Setup | None]) -> list[Mishap]:
    """The worst moments of every step from or to a state in which a reading is taken.

    Each reading keeps its drive. None in place of one: what rules and points suffer in any step.

    Raises:
        LimitReached: over 20,000 combinations of sections, or 512 states of the other controls.
    """
    network, found = solved.network, dict[tuple[str, ...], Mishap]()
    resting = cases.states_watched(network, "volts at rest") if any(cases.risers(network)) else ()
    usual = cases.standing_volts(
        cases.watch(cases.samples_of(network, solved.values, rest), ()) for rest in resting
    )
    for setup in setups:
        for move, state in _moves(network, setup):
            step = _step(solved, setup, move, state, usual)
            for told, moment in _worst_of(network, step) if step else ():
                if setup or moment.rules or moment.rises:
                    found.setdefault(told, moment)
    return list(found.values())


def _moves(network: DcNetwork, setup: Setup | None) -> Iterator[tuple[Move, dict[str, int]]]:
    """Steps from or to a reading's own state, and where every control can stand meanwhile."""
    spec, fixed = network.spec, setup.states[0] if setup else {}
    watched = cases.watched_controls(network, (r for r in spec.rules if r.while_switching))
    states = States(spec.controls, spec.never)
    for name, control in spec.controls.items():
        for one, two in control.steps():
            stands = fixed.get(name) if setup else one if name in watched else None
            if stands not in (one, two):
                continue
            asking = f"while switching {name}"
            frame = states.frame((watched | set(fixed)) - {name}, asking)
            mask = states.possible_steps(frame, name, one, two)
            for other, position in fixed.items():
                mask &= frame.where(other, 1 << position) if other != name else mask
            if mask.bit_count() > cases.MOST_STATES:
                raise LimitReached(
                    f"{asking}: the other controls that can matter to a rule make "
                    f"{mask.bit_count():,} states, more than {cases.MOST_STATES:,}"
                )
            for others in map(network.numbered, frame.states(mask)):
                yield (name, one, two), network.full_state({**others, name: stands})


def _step(
    solved: Solved, setup: Setup | None, move: Move, state: State, usual: Mapping[str, float]
) -> _Step | None:
    """A step worked out in all combinations; None where nothing that matters moves."""
    network, (name, *ends) = solved.network, move
    sections = _sections(network, setup, move)
    if not sections:
        return None
    combos = list(product(*sections.values()))
    if state[name] == ends[1]:
        combos.reverse()
    here = {**state, name: ends[0]}
    moved = {n for combo in combos for phase in combo for n in phase.closes}
    ohms = {n: float(network.branches[n].ohms(solved.known)[0]) for n in moved}
    closed = [frozenset[int]().union(*(phase.closes for phase in combo)) for combo in combos]
    variants = [Variant("", {n: ohms[n] if n in own else inf for n in moved}) for own in closed]
    samples = cases.samples_of(network, solved.values, here, variants)
    pointer = cases.pointer_of(samples, setup) if setup else None
    if setup and pointer is None:
        return None
    rules = [(n, rule) for n, rule in cases.rules_at(network, here) if rule.while_switching]
    what = f"{name} between {' and '.join(network.spec.controls[name].positions[e] for e in ends)}"
    return _Step(setup, what, usual, list(sections), combos, pointer, cases.watch(samples, rules))


def _worst_of(network: DcNetwork, step: _Step) -> Iterator[tuple[tuple[str, ...], Mishap]]:
    """The gravest moment of a step, and that with uneven poles where it is graver still."""
    done = list[Mishap]()
    together = np.array([all(phase.between for phase in combo) for combo in step.combos])
    for asked in (together, ~together):
        found = [_moment(network, step, n, bool(together[n])) for n in _picked(step, asked)]
        for told, moment in sorted(found, key=lambda one: cases.severity(one[1])):
            graver = all(cases.severity(moment) < cases.severity(one) for one in done)
            if graver or set(moment.rules).difference(*(one.rules for one in done)):
                done.append(moment)
                yield told, moment


def _picked(step: _Step, asked: Flags) -> list[int]:
    """Of the moments asked for: the most current, and those that break a rule or let rise."""
    count, watched = len(asked), step.watched
    between = [n for n in range(1, count - 1) if asked[n]]
    if not between:
        return []
    current = np.broadcast_to(np.abs(step.pointer.takes) if step.pointer else np.zeros(1), (count,))
    worst = [current, *(np.broadcast_to(np.abs(v), (count,)) for v in watched.volts.values())]
    worst += [
        np.broadcast_to(broken, (count,)) * 1e6 + current
        for broken in watched.broken.values()
        if not (at(broken, 0) or at(broken, -1))
    ]
    return sorted({between[int(np.argmax(one[between]))] for one in worst})


def _moment(
    network: DcNetwork, step: _Step, sample: int, in_step: bool
) -> tuple[tuple[str, ...], Mishap]:
    seen, said = Mishap(step.what, None, None, None), list[str]()
    if step.setup is not None and step.pointer is not None:
        seen = cases.meter_in(step.what, step.setup, step.pointer, sample)
        said = cases.pointer_told(step.setup, seen, 0.0, 0.0)
    rises, told = cases.risen(step.watched.rises(sample, step.usual))
    rules = step.broken(sample)
    said += [*told, *(cases.rule_lost(network.spec, number) for number in rules)]
    combo = step.combos[sample]
    how = ", ".join(f"{n} {phase.said}" for n, phase in zip(step.sections, combo, strict=True))
    passed = [phase.passed for phase in combo if phase.passed]
    unless = f"as the knob goes past {', '.join(passed)}" if passed else "if the poles are uneven"
    when = step.what if in_step else f"{step.what}, {unless}"
    message = f"{when}: {'; '.join(said)} ({how})" if said else f"{when}: nothing over full scale"
    moment = replace(seen, rules=tuple(rules), rises=rises, message=message, in_step=in_step)
    return (when, *(said or [seen.reading or ""])), moment


def _sections(network: DcNetwork, setup: Setup | None, move: Move) -> dict[str, list[_Phase]]:
    """Sections that move and can matter to the reading or to a rule, and what each goes through."""
    name, *ends = move
    rules = [rule for rule in network.spec.rules if rule.while_switching]
    pairs = cases.watched_pairs(network, rules)
    if setup is not None:
        pairs = [pair for rule in rules if (pair := network.ends(rule.places)) is not None]
        pairs += network.pairs(setup.reading) or []
    telling = {branch.section for branch in Routes(network.branches).between(pairs)}
    sections = {
        f"{contact.switch}.{contact.section.pole or contact.section.lugs[0]}": _phases(
            network, number, contact, (ends[0], ends[1])
        )
        for number, contact in enumerate(circuit_of(network.spec, network.wiring).contacts)
        if contact.control == name and contact.moves(*ends) and number in telling
    }
    if prod(map(len, sections.values())) > MOST_COMBINATIONS:
        about = f"reading {setup.reading.name}" if setup else "a rule or a rise"
        raise LimitReached(
            f"while switching {name}: {len(sections)} sections that can matter to {about} "
            f"make more than {MOST_COMBINATIONS:,} combinations"
        )
    return sections


def _phases(network: DcNetwork, number: int, contact: Contact, ends: Ends) -> list[_Phase]:
    """What a section goes through in a step, the old contact first and the new one last."""
    by_contact: dict[str, dict[int, set[str]]] = {}
    for n, branch in enumerate(network.branches):
        if branch.section == number:
            by_contact.setdefault(branch.contact, {})[n] = set(branch.lugs)
    seen: dict[frozenset[int], _Phase] = {}
    for said, groups, between, lug in _stands(contact, ends):
        lugs = (set(contact.terminals(group)) for group in groups)
        closes = frozenset(n for group in lugs for n in _closing(by_contact, group))
        phase = seen.get(closes) or _Phase(said, closes, lug and f"{contact.switch}.{lug}", False)
        seen[closes] = replace(phase, between=between or phase.between)
    return list(seen.values())


def _closing(by_contact: Mapping[str, Mapping[int, set[str]]], lugs: set[str]) -> list[int]:
    """The branches that close some lugs: their own, or legs of the least that has them all."""
    having = [own for own in by_contact.values() if lugs <= set().union(*own.values())]
    least = min(having, key=len, default=dict[int, set[str]]())
    return [n for n, own in least.items() if own <= lugs]


def _stands(contact: Contact, ends: Ends) -> Iterator[tuple[str, Groups, bool, str]]:
    """Where a section stands: a word, the groups closed, if by its timing, the lug passed."""
    (old, new), timing = (contact.section.groups[end] for end in ends), contact.section.timing
    passed = contact.passing.get(ends, ())
    yield "at the old contact", old, False, ""
    if timing != "shorting":
        yield "between", contact.held(*ends), True, ""
    if timing != "non-shorting":
        yield "on both contacts", (*old, *new), True, ""
    for lugs in passed:
        yield f"passing {lugs[-1]}", (lugs,), False, lugs[-1]
    stops = (old, *((lugs,) for lugs in passed), new)
    for one, other in pairwise(stops) if passed and timing != "non-shorting" else ():
        throws = dict.fromkeys(lug for group in (*one, *other) for lug in group)
        throws.pop(passed[0][0])
        lug = next(lug for lug in throws if (passed[0][0], lug) in passed)
        yield f"on {' and '.join(sorted(throws))}", (*one, *other), False, lug
    yield "at the new contact", new, False, ""
