"""A wiring in many cases at once, each a sample of the solver.

What a meter takes is a matter of a reading, in its own state: what it reads follows the reading's
drive, what it takes follows what the places can rise to, and the diodes that conduct then.
Whether a rule breaks or a point rises is a matter of the wiring, in every state.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isinf

import numpy as np

from rewire.circuit.dc import Array, Ends, Solution
from rewire.circuit.ohms import least_beyond, most_within
from rewire.circuit.states import LimitReached, States
from rewire.records.parts import Meter
from rewire.records.spec import Point, Reading, Rule, Spec
from rewire.values.answers import BURNING, OVERLOADED, Mishap
from rewire.values.dc_network import NO_VALUE, TINY, DcNetwork, State, Values, ceiling, filled
from rewire.values.meter_circuit import Setup
from rewire.values.sources import NONE, OPEN, Flags, Samples, Settled, settled
from rewire.words.quantity import with_unit

UNSTATED_WATTS = 0.125
"""Watts above which a rating should be stated: half of a quarter; common practice, no source."""
MOST_STATES = 512
"""Positions of controls in which rules and rises are looked at."""
_RISE = 1.0
"""Volts below which nobody notices a rise."""
_MORE = 1.5
"""Times its usual volts that count as a rise."""
_TIED = 1e-6
"""Ohms below which two points count as connected."""
_NOTICED = 0.01
"""Share of full scale by which a reading must change to be mentioned."""
_LIVE = 50.0
"""Volts from which a point counts as live."""
_LEAST_OHMS = 1e-30
VERBS = {"watts": ("takes", "W"), "volts": ("has", "V"), "amps": ("carries", "A")}
"""Load of a part → how it is said, and its unit."""


@dataclass(frozen=True, slots=True)
class Variant:
    """What is different, and the ohms that branches have then."""

    what: str
    ohms: Mapping[int, float]


def samples_of(
    network: DcNetwork, values: Values, state: State, variants: Sequence[Variant] = ()
) -> Samples:
    """What is closed in a state or by a variant, a sample for each; what blocks DC is open."""
    known, count = filled(values), len(variants)
    hit: dict[int, dict[int, float]] = {}
    for row, variant in enumerate(variants):
        for number, own in variant.ohms.items():
            hit.setdefault(number, {})[row] = own
    branches, columns, failed = [], [], dict[str, Flags]()
    for number, branch in enumerate([*network.branches, *network.blocked]):
        conducts = branch.value != NO_VALUE and branch.closed(state)
        column = np.asarray(branch.ohms(known)) if conducts else OPEN
        part = network.parts.get(branch.part)
        if number in hit:
            rows = list(hit[number])
            column = np.repeat(column, count)
            column[rows] = list(hit[number].values())
            if part is not None and part.open_in_sums:
                failed[branch.part] = np.isin(np.arange(count), rows)
        elif isinf(column[0]) and (part is None or branch.control is not None):
            continue
        branches.append(branch)
        columns.append(column)
    return Samples(network, branches, columns, failed)


@dataclass(frozen=True, slots=True)
class Pointer:
    """A reading's meter under all samples, in times its full scale; shape (samples,) or (1,).

    ``reads`` is where it stands at full scale of the drive, ``takes`` the most that can flow in
    it. Where a current that always flows is ``lost``, nobody knows what it reads. ``volts`` of each
    node and the diodes ``conducting`` are those while it takes that.
    """

    reads: Array
    takes: Array
    lost: Flags
    volts: Array
    conducting: dict[str, Flags]


def pointer_of(samples: Samples, setup: Setup) -> Pointer | None:
    """What the meter of a reading reads and takes; None if a point or the meter is missing."""
    pairs, part = samples.network.pairs(setup.reading), setup.meter_name
    meter = next((n for n, b in enumerate(samples.branches) if b.part == part), None)
    if pairs is None or meter is None or not setup.full_scale:
        return None
    columns = list(samples.ohms)
    columns[meter] = np.maximum(columns[meter], TINY)
    driven = replace(samples, ohms=columns)
    named = [setup.reading.places, *(drive.places for drive in setup.reading.also)]
    limited = [ceiling(samples.network.spec, places) for places in named]
    reads, lost = _driven(driven, setup.reading, pairs, [inf for _ in pairs])
    takes = reads
    if not all(map(isinf, limited)):
        takes, _ = _driven(driven, setup.reading, pairs, limited)
    plus, minus = samples.branches[meter].ends
    full = columns[meter] * setup.full_scale
    read, taken = ((of.volts[plus] - of.volts[minus]) / full for of in (reads, takes))
    return Pointer(read, taken, lost, takes.volts, takes.on)


def _driven(
    samples: Samples, reading: Reading, pairs: Sequence[Ends], ceilings: Sequence[float]
) -> tuple[Settled, Flags]:
    """The circuit of a reading with its diodes settled, and where a standing current is lost."""

    def driven(solved: Solution, volts: Array) -> Array:
        for number in (*range(1, len(pairs)), 0):
            one, other = pairs[number]
            there = volts[one] - volts[other] if number == 0 else np.zeros(1)
            load = solved.load(number, pairs[number])
            own = _amps(reading, number, load, ceilings[number], there)
            volts = volts + np.where(np.isinf(load), 0.0, own) * solved.volts[number]
        return volts

    found = settled(samples, pairs, pairs[0][1], driven)
    loads = [found.solved.load(number, pair) for number, pair in enumerate(pairs[1:], 1)]
    return found, np.any([np.isinf(load) for load in loads], axis=0) if loads else NONE


def _amps(reading: Reading, number: int, load: Array, most: float, there: Array) -> Array:
    """What a drive gives, by its number, the reading's own first, or what ``most`` volts drive.

    The reading's own sees the volts that are ``there`` already.
    """
    ohms = np.maximum(np.where(np.isinf(load), 1.0, load), _LEAST_OHMS)
    if number == 0 and reading.quantity == "voltage":
        volts = reading.full_scale if isinf(most) else most
        return np.asarray((volts - there) / (ohms + reading.source_resistance))
    amps = reading.also[number - 1].amps if number else reading.full_scale
    limit = np.full(1, inf) if isinf(most) else np.maximum(most - there, 0.0) / ohms
    return np.asarray(np.sign(amps) * np.minimum(abs(amps), limit))


@dataclass(frozen=True, slots=True)
class Watched:
    """The rules that do not hold, and volts of each point that can rise, by sample.

    ``reached`` says whether a meter's terminal hangs on such a point that lost its path to chassis.
    """

    broken: Mapping[int, Flags]
    volts: Mapping[str, Array]
    reached: Mapping[tuple[str, str], Flags]

    def rises(self, sample: int, usual: Mapping[str, float]) -> dict[str, float]:
        """Points, and meter terminals on them, that rise noticeably above their ``usual`` volts."""
        found: dict[str, float] = {}
        for name, volts in self.volts.items():
            now = at(volts, sample)
            if abs(now) >= max(_RISE, _MORE * usual.get(name, 0.0)):
                hanging = (t for (p, t), on in self.reached.items() if p == name and at(on, sample))
                found |= dict.fromkeys([name, *hanging], now)
        return found


def watch(samples: Samples, rules: Iterable[tuple[int, Rule]]) -> Watched:
    """Judge the rules that have their points here, and the points that can rise."""
    network, broken = samples.network, dict[int, Flags]()
    asked = [(n, rule, ends) for n, rule in rules if (ends := network.ends(rule.places))]
    for kind, columns in _as_rules_see(samples).items():
        own = [one for one in asked if _kind(one[1]) == kind]
        loads = replace(samples, ohms=columns).loads([ends for *_, ends in own])
        for (number, rule, _), (load, _) in zip(own, loads, strict=True):
            broken[number] = _broken(rule, load)
    meters = network.spec.all_of(Meter, network.wiring).values()
    rising, volts, reached = list(risers(network)), {}, {}
    loads = samples.loads([ends for _, ends in rising])
    for (point, _), (load, lost) in zip(rising, loads, strict=True):
        volts[point.name] = _risen(point, load)
        for terminal in (terminal for meter in meters for terminal in meter.full_terminals):
            reached[point.name, terminal] = lost[network.node(terminal)]
    return Watched(broken, volts, reached)


def _as_rules_see(samples: Samples) -> dict[str, list[Array]]:
    """The branches' ohms for each kind of rule, at what is to its disadvantage.

    Contacts are of no ohms, a diode may conduct, a lamp may be cold.
    """
    within, ties, isolate = [], [], []
    for branch, ohms in zip(samples.branches, samples.ohms, strict=True):
        part = None if branch.control is not None else samples.network.parts.get(branch.part)
        contact = np.where(np.isinf(ohms), np.inf, 0.0)
        within.append(contact if branch.control is not None else ohms)
        ties.append(contact if part is None else OPEN)
        if part is not None and part.open_in_sums and part.passes_dc:
            isolate.append(np.where(samples.failed.get(part.name, NONE), ohms, 0.0))
        else:
            isolate.append(within[-1] if part is None else part.cold_share * ohms)
    return {"within": within, "tie": ties, "isolate": isolate}


def _kind(rule: Rule) -> str:
    if rule.kind == "isolate":
        return "isolate"
    return "tie" if rule.limit is None else "within"


def _broken(rule: Rule, ohms: Array) -> Flags:
    """Whether a rule fails."""
    if rule.kind == "connect":
        return np.asarray(ohms > (_TIED if rule.limit is None else most_within(rule.limit)))
    if rule.limit is None:
        return np.isfinite(ohms)
    return np.asarray(ohms < least_beyond(rule.limit))


def _risen(point: Point, load: Array) -> Array:
    """Volts of a point behind its source resistance, on what load it has left."""
    alone = np.isinf(load)
    load = np.where(alone, 1.0, load)
    share = load / np.maximum(load + point.source_resistance, _TIED)
    held = np.where(alone, 1.0, np.where(load < _TIED, 0.0, share))
    return np.asarray((point.rises_to or 0.0) * held)


def risers(network: DcNetwork) -> Iterator[tuple[Point, Ends]]:
    """Points that rise when their load is taken off, each with its node and the chassis's."""
    for point in network.spec.points.values():
        if point.rises_to is not None and network.chassis is not None:
            yield point, (network.node(point.name), network.chassis)


def standing_volts(watched: Iterable[Watched]) -> dict[str, float]:
    """The most volts of each point that can rise, in any position, with nothing wrong."""
    most: dict[str, float] = {}
    for one in watched:
        for name, volts in one.volts.items():
            most[name] = max(most.get(name, 0.0), abs(float(volts[0])))
    return most


def at(column: Array | Flags, sample: int) -> float:
    """One sample of a column, or what all samples share; a flag is 1 or 0."""
    return float(column[sample if column.shape[0] > 1 else 0])


def states_watched(network: DcNetwork, asking: str) -> list[dict[str, int]]:
    """Every state that can matter to a rule or to a rise; none if there is neither.

    Raises:
        LimitReached: more of them than are looked at.
    """
    spec = network.spec
    if not spec.rules and not any(risers(network)):
        return []
    states, asking = States(spec.controls, spec.never), f"{asking} of {network.wiring.name}"
    frame = states.frame(watched_controls(network, spec.rules), asking)
    mask = states.possible(frame)
    if mask.bit_count() > MOST_STATES:
        raise LimitReached(
            f"{asking}: the controls that can matter to a rule make {mask.bit_count():,} states, "
            f"more than {MOST_STATES:,}; narrow the rules with 'when', or split the spec"
        )
    return [network.full_state(network.numbered(state)) for state in frame.states(mask)]


def watched_controls(network: DcNetwork, rules: Iterable[Rule]) -> set[str]:
    """Controls that can matter to one of some rules, or to a rise."""
    asked = list(rules)
    named = {name for rule in asked for name in rule.when}
    return named | network.controls_between(watched_pairs(network, asked))


def watched_pairs(network: DcNetwork, rules: Iterable[Rule]) -> list[Ends]:
    """The nodes of some rules that are here, and of the points that rise."""
    pairs = [pair for rule in rules if (pair := network.ends(rule.places)) is not None]
    return [*pairs, *(pair for _, pair in risers(network))]


def rules_at(network: DcNetwork, state: State) -> list[tuple[int, Rule]]:
    """Rules that apply in a state, with their numbers; about resistances alone."""
    controls = network.spec.controls
    return [
        (number, rule)
        for number, rule in enumerate(network.spec.rules)
        if all(controls[n].positions[state[n]] in positions for n, positions in rule.when.items())
    ]


def rule_lost(spec: Spec, number: int) -> str:
    """What a broken rule means."""
    rule = spec.rules[number]
    lost = "no longer connected" if rule.kind == "connect" else "no longer isolated"
    return f"{' and '.join(rule.places)} {lost}"


def only_with(spec: Spec, here: Sequence[State], every: Sequence[State]) -> str:
    """The positions in which something is so, where it is not in others."""
    told = []
    for name, control in spec.controls.items():
        own, anywhere = ({state[name] for state in states} for states in (here, every))
        if own < anywhere:
            told.append(f"{name} at {' or '.join(control.positions[at] for at in sorted(own))}")
    return f" with {', '.join(told)}" if told else ""


def overloads(takes: float, usual: float) -> bool:
    """Whether a meter takes too much, in times full scale, and more than it does anyway."""
    return abs(takes) > OVERLOADED * max(1.0, abs(usual))


def shown_times(times: float) -> str:
    """A factor: two digits where they matter, none beyond a hundred.

    >>> shown_times(1.407), shown_times(12.34), shown_times(10000.2)
    ('1.4', '12', '10,000')
    """
    return f"{times:,.0f}" if abs(times) >= 10 else f"{times:.2g}"


def severity(mishap: Mishap) -> tuple[object, ...]:
    """Order of mishaps: what burns or becomes live, then rules broken, then what reads wrong."""
    times = abs(mishap.times_full_scale or 0.0) if mishap.overload else 0.0
    burns = max([times, *(strain.times for strain in mishap.strains)])
    highest = max((abs(volts) for _, volts in mishap.rises), default=0.0)
    off = abs(mishap.deflection - 1.0) if mishap.deflection is not None else 0.0
    grave = (burns if burns > BURNING else 0.0, highest if highest >= _LIVE else 0.0)
    return (
        not any(grave), -grave[0], -grave[1], -len(mishap.rules), -burns, -highest, -off,
        mishap.what,
    )  # fmt: skip


def risen(rises: Mapping[str, float]) -> tuple[tuple[tuple[str, float], ...], list[str]]:
    """What rises, the highest first; and the same in words."""
    first = tuple(sorted(rises.items(), key=lambda item: (-abs(item[1]), item[0])))
    return first, [f"{name} rises to {with_unit(volts, 'V', 3)}" for name, volts in first]


def pointer_told(setup: Setup, seen: Mishap, reads: float, usual: float) -> list[str]:
    """What a meter takes at most or reads wrong, in full scales, in the words of the bench."""
    takes = (seen.times_full_scale or 0.0) if seen.overload else 0.0
    if abs(takes) > OVERLOADED:
        times = f"{shown_times(abs(takes))} times full scale{' backwards' if takes < 0.0 else ''}"
        return [f"{setup.meter_name or ''} takes {times} in {setup.reading.name}"]
    if abs(reads - usual) <= _NOTICED:
        return []
    stands = "the pointer rests at 0" if abs(reads) < 5e-4 else f"it reads {100 * reads:.3g} %"
    return [f"{stands} in {setup.reading.name}"]


def meter_in(what: str, setup: Setup, pointer: Pointer, sample: int) -> Mishap:
    """What a meter does in a sample; the first of all samples is what it does anyway."""
    takes = at(pointer.takes, sample)
    reads = None if at(pointer.lost, sample) else at(pointer.reads, sample)
    over = overloads(takes, at(pointer.takes, 0))
    return Mishap(what, setup.reading.name, takes, reads, overload=over)
