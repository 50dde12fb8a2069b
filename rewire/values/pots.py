"""Calibration pots: their setting, whether they reach it, what they do to the meter.

Where a stop hurts or the setting is cramped, fixed resistors beside another pot are tried.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from rewire.circuit.dc import Array
from rewire.records.parts import Pot
from rewire.values.answers import Caution, PotAnswer, Readout
from rewire.values.cases import shown_times
from rewire.values.dc_network import Branch, Value
from rewire.values.meter_circuit import (
    ReadingCircuit,
    Setup,
    Solved,
    Unknown,
    answer,
    rational_form,
    roots,
    setting_form,
)
from rewire.values.readings import reading_circuit
from rewire.values.tolerance import Draw, bands_of, climbed, corners, errors_within, unstated
from rewire.words.quantity import in_ohms

_FINEST_PERCENT = 1.0
"""Of its travel to which a pot of one turn can be set by hand; common practice, no source."""
_NEAR_PERCENT = 5.0
"""Of its travel from a stop that is too near; common practice, no source."""
_TRIMMED_SAMPLES = 4000
_SLACK = 1e-9
_STEPS = 33
"""Settings looked at between one that is needed and a stop; each round narrows it so much."""
_ROUNDS = 7
_TENTH = 0.1
_HURT = 2.0
"""Times full scale that a movement survives for a while; common practice, no source."""
_MOST_CORNERS = 50_000
"""Corners of the tolerance box beyond which no other pot is tried."""
_PAD_TOLERANCE = 0.01
"""Of the fixed resistors that are thought of, a share: film resistors of 1 %."""
_USUAL_TRACKS = tuple(m * 10.0**p for p in range(7) for m in (1.0, 2.0, 5.0))
"""Tracks that pots are made with, ohm; common practice, no source."""
_E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
_USUAL_FIXED = tuple(m * 10.0**p for p in range(-1, 7) for m in _E12)
"""E12 of IEC 60063, ohm."""


@dataclass(frozen=True, slots=True)
class Needed:
    """Settings, shares of the travel, that builds inside their tolerances need.

    ``short`` are stops beyond which some builds would need it, ``nowhere`` says that some are
    right at no setting, between the stops or beyond.
    """

    low: float
    high: float
    short: tuple[str, ...] = ()
    nowhere: bool = False

    @property
    def reaches(self) -> bool:
        """Whether every build has a setting."""
        return not self.short and not self.nowhere


def pot_answers(solved: Solved) -> Iterator[PotAnswer]:
    """Everything about each calibration pot of a wiring.

    Raises:
        LimitReached: more than 20 values whose direction is not proved.
    """
    for unknown in solved.unknowns:
        if unknown.is_setting:
            yield _pot_answer(solved, unknown)


def _pot_answer(solved: Solved, unknown: Unknown) -> PotAnswer:
    name, reading, found = unknown.part, unknown.setup.reading.name, solved.found[unknown.part]
    solutions = tuple(100.0 * s for s in found.solutions)
    if not solutions or any(solved.values[n] is None for n in unknown.setup.circuit.values):
        why = found.why or "the circuit has values that are not known"
        return PotAnswer(name, reading, None, (), False, None, None, why=why)
    network = solved.network
    over = needed(solved, unknown)
    stops = [_seen_at(solved, unknown, share) for share in (0.0, 1.0)]
    bare = network.parts_of(unstated(network, [unknown.setup.circuit], solved.known))
    known_ends = bare in ((), (name,)) or not over.reaches
    return PotAnswer(
        part=name,
        reading=reading,
        setting_percent=solutions[0],
        solutions=solutions,
        reaches=over.reaches if known_ends else None,
        lowest_percent=100.0 * over.low if known_ends else None,
        highest_percent=100.0 * over.high if known_ends else None,
        percent_per_percent=_sensitivity(unknown, solved.known),
        when_open=_seen_open(solved, unknown),
        at_ccw=stops[0],
        at_cw=stops[1],
        advice=_advice(solved, unknown, over, stops),
        why=found.why or _reach_told(name, over, bare),
    )


def pot_warnings(
    solved: Solved, pots: Sequence[PotAnswer], readouts: Sequence[Readout]
) -> Iterator[Caution]:
    """Pots set near a stop, and pots too coarse to set."""
    accepts = {one.name: one.accept_percent for one in readouts}
    tracks = solved.spec.all_of(Pot, solved.network.wiring)
    for pot in pots:
        at, per = pot.setting_percent, pot.percent_per_percent
        if at is None:
            continue
        finest = _FINEST_PERCENT / (tracks[pot.part].turns or 1.0)
        near = "ccw" if at < _NEAR_PERCENT else "cw" if at > 100.0 - _NEAR_PERCENT else None
        said = [f"stands at {at:.1f} % of its travel, near its {near} stop"] if near else []
        if per is not None and abs(per) * finest > 0.5 * accepts.get(pot.reading, inf):
            said.append(
                f"is too coarse: {finest:.2g} % of its travel, about what a hand can set, is "
                f"{abs(per) * finest:.2g} % of {pot.reading}; take a smaller one with a fixed "
                "resistor in series, or one of several turns"
            )
        if said:
            message = f"{pot.part} {', and '.join(said)}"
            yield Caution("pot", message, part=pot.part, first=True)


def _reach_told(name: str, over: Needed, bare: Sequence[str]) -> str | None:
    """What to say of the travel; nothing where it always suffices."""
    ends = {"ccw": "below its ccw stop", "cw": "beyond its cw stop"}
    if over.short:
        said = " or ".join(ends[stop] for stop in over.short)
        return f"within the tolerances {name} may have to stand {said}"
    if over.nowhere:
        return f"within the tolerances there may be no setting of {name} that does it"
    if bare == (name,):
        return f"the tolerance of {name} itself is not given: counted with its nominal value"
    if bare:
        return f"travel needed not known: no tolerance given for {', '.join(bare)}"
    return None


def _sensitivity(unknown: Unknown, values: list[Array]) -> float | None:
    """Percent of reading per percent of travel at the setting, from the form's derivative."""
    circuit, at = unknown.setup.circuit, float(values[unknown.number][0])
    near = min(max(at, 0.02), 0.98)
    between = () if circuit.degree(unknown.number) == 1 else (near,)
    points = (near - 0.01, *between, near + 0.01)
    along = rational_form(circuit, values, unknown.number, points)
    n, d, slope = (
        float(at ** np.arange(len(column)) @ column[:, 0])
        for column in (along.numerator, along.denominator, along.slope())
    )
    return slope / (n * d) if n * d else None


def _seen_at(solved: Solved, unknown: Unknown, share: float) -> float | None:
    """Most times full scale through the meter in any reading with the pot at a stop."""
    values = list(solved.values)
    values[unknown.number] = np.array([share])
    moved = replace(solved, values=values)
    return _most_seen(moved, ((s, s.circuit) for s in _touched(solved, unknown)))


def _seen_open(solved: Solved, unknown: Unknown) -> float | None:
    """The same with the wiper off its track: the whole track is left, and nothing at the wiper."""
    network = solved.network.copy()
    ccw, _, cw = network.nodes_of(network.parts[unknown.part])
    whole = Branch(unknown.part, (ccw, cw), network.of_part(unknown.part)[0])
    network.branches = [*(b for b in network.branches if b.share != unknown.number), whole]
    return _most_seen(
        solved,
        ((s, reading_circuit(network, s.reading, s.meter_name, s.states[0]))
         for s in _touched(solved, unknown)),
    )  # fmt: skip


def _touched(solved: Solved, unknown: Unknown) -> list[Setup]:
    """Readings that the setting of a pot moves."""
    return [
        setup
        for setup in solved.setups.values()
        if setup.circuit.meter is not None and unknown.number in setup.circuit.values
    ]


def _most_seen(solved: Solved, cases: Iterator[tuple[Setup, ReadingCircuit]]) -> float | None:
    seen = []
    for setup, circuit in cases:
        if setup.full_scale is None or any(solved.values[n] is None for n in circuit.values):
            return None
        through = circuit.meter is not None and answer(circuit, solved.known).amps[0]
        seen.append(0.0 if np.isnan(through) else float(through) / setup.full_scale)
    return max(seen, key=abs, default=None)


def needed(solved: Solved, unknown: Unknown) -> Needed:
    """The settings that are needed over the whole tolerance box.

    A setting is needed by some build where the least reading over the box is below
    full scale and the greatest above it. Followed from the nominal setting both ways.
    """
    (low, at_ccw), (high, at_cw) = (_edge(solved, unknown, stop) for stop in (0.0, 1.0))
    short = tuple(name for name, side in (("ccw", at_ccw), ("cw", at_cw)) if side == 0)
    nowhere = not short and at_ccw == at_cw
    if short or nowhere:
        every = corner_settings(solved, unknown)
        if np.isfinite(every).all():
            return Needed(min(low, float(every.min())), max(high, float(every.max())))
    return Needed(low, high, short, nowhere)


def _edge(solved: Solved, unknown: Unknown, stop: float) -> tuple[float, int]:
    """How far towards a stop settings are needed, and on which side all builds are beyond.

    0 for the side where they are on both sides of full scale at the stop itself.
    """
    inside, outside, side = float(solved.known[unknown.number][0]), stop, 0
    for _ in range(_ROUNDS):
        steps = np.linspace(inside, outside, _STEPS)
        sides = _sides(solved, unknown, steps)
        sides[0] = 0
        gone = np.flatnonzero(sides)
        if not len(gone):
            return outside, 0
        first = gone[0]
        inside, outside, side = float(steps[first - 1]), float(steps[first]), int(sides[first])
    return inside, side


def _box(solved: Solved, unknown: Unknown, times: int) -> tuple[int, list[Array]]:
    """Number of corners of the tolerance box, and the values at each, so many times over.

    A pot whose end-to-end value moves both its legs is left at its nominal value.
    """
    circuit, values = unknown.setup.circuit, solved.known
    bands = bands_of(solved.network, circuit.values, values)
    straight = [band for band in bands if circuit.degree(band.number) == 1]
    chunks = list(corners(solved.network, circuit, straight, f"reach of {unknown.part}"))
    columns = {n: np.concatenate([chunk[n] for chunk in chunks]) for n in chunks[0]}
    count = max((len(column) for column in columns.values()), default=1)
    return count, [np.repeat(columns[n], times) if n in columns else v
                   for n, v in enumerate(values)]  # fmt: skip


def _sides(solved: Solved, unknown: Unknown, settings: Array) -> Array:
    """+1 where every build reads above full scale at a setting, -1 below, 0 for either."""
    network, circuit = solved.network, unknown.setup.circuit
    count, samples = _box(solved, unknown, len(settings))
    samples[unknown.number] = np.tile(settings, count)
    whole = network.of_part(unknown.part)[0]
    own = [whole] if circuit.degree(whole) > 1 else []
    bent = bands_of(network, own, solved.known)
    off = []
    for sense in (-1, 1):
        amps = sense * climbed(circuit, list(samples), bent, sense)
        table = np.broadcast_to(amps, (count * len(settings),)).reshape(count, -1)
        off.append(
            sense * np.max(sense * table, axis=0) / (unknown.setup.full_scale or np.nan) - 1.0
        )
    least, greatest = (np.nan_to_num(o, nan=np.inf) for o in off)
    return np.where(least > _SLACK, 1, np.where(greatest < -_SLACK, -1, 0))


def corner_settings(solved: Solved, unknown: Unknown) -> Array:
    """The setting between the stops that each corner of the box needs; inf where there is none.

    The pot's own end-to-end value is stepped through.
    """
    network, values = solved.network, solved.known
    whole = network.of_part(unknown.part)[0]
    own = bands_of(network, [whole], values) if unknown.setup.circuit.degree(whole) else []
    steps = np.linspace(own[0].low, own[0].high, _STEPS) if own else values[whole]
    count, samples = _box(solved, unknown, len(steps))
    samples[whole] = np.tile(steps, count)
    return _nearest_root(unknown, samples, float(values[unknown.number][0]))


def _nearest_root(unknown: Unknown, samples: list[Array], nominal: float) -> Array:
    """Per sample the right setting between the stops that is nearest to the nominal one, or inf."""
    target = setting_form(unknown, samples).against(unknown.setup.full_scale or np.nan)
    zeros = roots(target, -_SLACK, 1.0 + _SLACK)
    near = np.where(np.isnan(zeros), np.inf, np.abs(zeros - nominal))
    best = np.take_along_axis(zeros, np.argmin(near, axis=0)[None], axis=0)[0]
    return np.where(np.isnan(best), np.inf, np.clip(best, 0.0, 1.0))


def _set_anew(unknown: Unknown, samples: list[Array], nominal: float) -> Array:
    """Per sample the setting that puts the reading right, or the stop that comes nearest."""
    found = _nearest_root(unknown, samples, nominal)
    missing = np.isinf(found)
    if not missing.any():
        return found
    along = setting_form(unknown, samples)
    target = along.against(unknown.setup.full_scale or np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        at_ccw = np.abs(target[0] / along.denominator[0])
        at_cw = np.abs(target.sum(axis=0) / along.denominator.sum(axis=0))
    return np.where(missing, np.where(at_cw < at_ccw, 1.0, 0.0), found)


def trimmed(solved: Solved, setup: Setup, seed: int) -> tuple[float, float] | None:
    """Errors between which 99 % of builds of a reading lie once its pots are set in each.

    Seeded, uniform over the bands; the meter's accuracy is added at either end. Percent
    of full scale; None where no pot of its circuit is fitted, or a tolerance is not given
    (that of a pot's own track does not count: it is set until the reading is right).
    """
    network, values = solved.network, solved.known
    pots = [u for u in solved.unknowns if u.is_setting and u.number in setup.circuit.values]
    circuits = [setup.circuit, *(u.setup.circuit for u in pots)]
    tracks = {network.of_part(u.part)[0] for u in pots}
    if not pots or not setup.full_scale or {*unstated(network, circuits, values)} - tracks:
        return None
    numbers = {n for circuit in circuits for n in circuit.values}
    drawn = Draw(_TRIMMED_SAMPLES, seed).values(network, numbers, values, "uniform")
    for unknown in pots:
        drawn[unknown.number] = _set_anew(unknown, drawn, float(values[unknown.number][0]))
    low, high = errors_within(answer(setup.circuit, drawn).amps, setup.full_scale)
    own = (setup.meter.accuracy_percent if setup.meter else None) or 0.0
    return low - own, high + own


@dataclass(frozen=True, slots=True)
class _Padded:
    """A pot of another track, with fixed resistors at its ends; 0 for none."""

    at_ccw: float
    track: float
    at_cw: float

    @property
    def said(self) -> str:
        """What to buy."""
        ends = (("ccw", self.at_ccw), ("cw", self.at_cw))
        fixed = [f"{in_ohms(ohms)} at its {end} end" for end, ohms in ends if ohms]
        beside = f" with {' and '.join(fixed)}" if fixed else ""
        return f"a pot of {in_ohms(self.track)}{beside}"


def _advice(
    solved: Solved, unknown: Unknown, over: Needed, stops: Sequence[float | None]
) -> str | None:
    """What would keep the meter safe and the setting off the stops; None if nothing is wrong.

    ``stops`` are times full scale through the meter at either stop.
    """
    hurt = max((abs(stop) for stop in stops if stop is not None), default=0.0)
    cramped = over.low < _TENTH or over.high > 1.0 - _TENTH
    if not (hurt > _HURT or cramped):
        return None
    why = "the setting may come to lie in the last tenth of the travel"
    if hurt > _HURT:
        why = f"a stop puts {hurt:.3g} times full scale through the meter"
    if np.isinf(hurt):
        why = "a stop leaves nothing in series with the meter, whose current then has no limit"
    few = corner_settings(solved, unknown).size <= _MOST_CORNERS
    for padded in _candidates(solved, unknown, 0.5 * (over.low + over.high)) if few else ():
        found = _tried(solved, unknown, padded)
        if found is not None:
            return f"{why}: {padded.said} {found}"
    return f"{why}: set it with the meter shorted, and turn it up from the harmless stop"


def _candidates(solved: Solved, unknown: Unknown, middle: float) -> Iterator[_Padded]:
    """Pots with the middle of what is needed near the middle of the track, smallest first.

    A pot with both legs in circuit keeps about the ohms it has from end to end.
    """
    legs = {b.upper for b in unknown.setup.circuit.branches if b.share == unknown.number}
    whole = solved.network.values[solved.network.of_part(unknown.part)[0]].nominal or 0.0
    below = whole * middle
    for track in _USUAL_TRACKS:
        for at_ccw in _near(below - 0.5 * track) if False in legs else (0.0,):
            above = whole - track - at_ccw if len(legs) > 1 else whole - below - 0.5 * track
            for at_cw in _near(above) if True in legs else (0.0,):
                yield _Padded(at_ccw, track, at_cw)


def _near(ohms: float) -> tuple[float, ...]:
    """The usual values on either side of what is wanted; none at all where it is not above 0."""
    lower = max((f for f in _USUAL_FIXED if f <= ohms), default=0.0)
    upper = min((f for f in _USUAL_FIXED if f >= ohms), default=lower)
    return tuple(dict.fromkeys((lower, upper))) if ohms > 0.0 else (0.0,)


def _tried(solved: Solved, unknown: Unknown, padded: _Padded) -> str | None:
    """The result with another pot, in words; None if it is no better."""
    other = _with_pot(solved, unknown, padded)
    own = replace(unknown, setup=other.setups[unknown.setup.reading.name])
    found = corner_settings(other, own)
    low, high = float(np.min(found)), float(np.max(found))
    if not _TENTH <= low <= high <= 1.0 - _TENTH:
        return None
    seen = [_seen_at(other, own, share) for share in (0.0, 1.0)]
    most = max((abs(one) for one in seen if one is not None), default=0.0)
    if most > _HURT or None in seen:
        return None
    return (
        f"needs {100 * low:.0f} to {100 * high:.0f} % of its travel, with "
        f"{shown_times(most)} times full scale at the worse stop; "
        "put it into the spec and run this again"
    )


def _with_pot(solved: Solved, unknown: Unknown, padded: _Padded) -> Solved:
    """The wiring with another pot, a fixed resistor at each of its ends."""
    network, values = solved.network.copy(), list(solved.known)
    whole = network.of_part(unknown.part)[0]
    network.values[whole] = replace(network.values[whole], nominal=padded.track)
    values[whole], values[unknown.number] = np.array([padded.track]), np.array([0.5])
    pads = []
    for end, ohms in (("ccw", padded.at_ccw), ("cw", padded.at_cw)):
        name = f"pad at {unknown.part}.{end}"
        pads.append(network.add(Value(name, name, ohms, _PAD_TOLERANCE)))
        values.append(np.array([ohms]))

    def with_pads(circuit: ReadingCircuit) -> ReadingCircuit:
        branches = (
            replace(b, pad=pads[b.upper]) if b.share == unknown.number else b
            for b in circuit.branches
        )
        return replace(circuit, branches=tuple(branches))

    setups = {n: replace(s, circuits=(with_pads(s.circuit),)) for n, s in solved.setups.items()}
    return replace(solved, network=network, values=list(values), setups=setups)
