"""Calibration pots: their setting, whether they reach it, what they do to the meter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from rewire.circuit.dc import Array
from rewire.records.parts import Pot
from rewire.values import meter_circuit
from rewire.values.answers import Caution, PotAnswer, Readout
from rewire.values.cases import shown_times
from rewire.values.dc_network import Branch, Value, changed
from rewire.values.drawer import preferred_near
from rewire.values.meter_circuit import ReadingCircuit, Setup, Solved, Unknown
from rewire.values.readings import reading_circuit
from rewire.values.tolerance import Draw, bands_of, corners, errors_within, unstated
from rewire.words.quantity import in_ohms

_FINEST_PERCENT = 1.0
"""Of its travel to which a pot of one turn can be set by hand; common practice, no source."""
_NEAR_PERCENT = 5.0
"""Of its travel from a stop that is too near; common practice, no source."""
_TRIMMED_SAMPLES = 4000
_SLACK = 1e-9
_STEPS = 33
"""Values of a pot's own track that are looked at; each round narrows its band so much."""
_ROUNDS = 4
_TENTH = 0.1
_HURT = 2.0
"""Times full scale that a movement survives for a while; common practice, no source."""
_MOST_CORNERS = 50_000
"""Corners of the tolerance box beyond which no other pot is tried."""
_PAD_TOLERANCE = 0.01
"""Of the fixed resistors that are thought of, a share: film resistors of 1 %."""
_USUAL_TRACKS = tuple(m * 10.0**p for p in range(7) for m in (1.0, 2.0, 5.0))
"""Tracks that pots are made with, ohm; common practice, no source."""


@dataclass(frozen=True, slots=True)
class _Needed:
    """Settings, shares of the travel, that builds inside their tolerances need.

    ``short`` are stops beyond which some need it, ``nowhere`` that some are right at no setting.
    """

    low: float
    high: float
    short: tuple[str, ...] = ()
    nowhere: bool = False

    @property
    def reaches(self) -> bool:
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
    if not solutions or not unknown.setup.circuit.known(solved.values):
        why = found.why or "the circuit has values that are not known"
        return PotAnswer(name, reading, None, (), False, None, None, why=why)
    network, over = solved.network, _needed(solved, unknown)
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


def _reach_told(name: str, over: _Needed, bare: Sequence[str]) -> str | None:
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
    """Percent of reading per percent of travel: the slope of a parabola at the setting."""
    at, step = float(values[unknown.number][0]), 1e-6
    samples = list(values)
    near = min(max(at, 2.0 * step), 1.0 - 2.0 * step) + step * np.array([-1.0, 0.0, 1.0])
    samples[unknown.number] = near
    amps = meter_circuit.answer(unknown.setup.circuit, samples).amps
    bend, slope, there = np.polyfit((near - near[1]) / step, amps, 2)
    along = (at - near[1]) / step
    whole = there + along * (slope + along * bend)
    return float((slope + 2.0 * along * bend) / (step * whole)) if whole else None


def _seen_at(solved: Solved, unknown: Unknown, share: float) -> float | None:
    """Most times full scale through the meter in any reading with the pot at a stop."""
    values = changed(solved.known, unknown.number, share)
    return _most_seen(solved, [(s, s.circuit) for s in _moved(solved, unknown)], values)


def _seen_open(solved: Solved, unknown: Unknown) -> float | None:
    """The same with the wiper off its track: the whole track is left, and nothing at the wiper."""
    network = solved.network.copy()
    ccw, _, cw = network.nodes_of(network.parts[unknown.part])
    whole = Branch(unknown.part, (ccw, cw), network.of_part(unknown.part)[0])
    network.branches = [*(b for b in network.branches if b.share != unknown.number), whole]
    opened = [
        (s, reading_circuit(network, s.reading, s.meter_name, s.states[0]))
        for s in _moved(solved, unknown)
    ]
    return _most_seen(solved, opened, solved.known)


def _moved(solved: Solved, unknown: Unknown) -> Iterator[Setup]:
    """Readings that the setting of a pot moves."""
    for setup in solved.setups.values():
        if setup.circuit.meter is not None and unknown.number in setup.circuit.values:
            yield setup


def _most_seen(
    solved: Solved, cases: Sequence[tuple[Setup, ReadingCircuit]], values: Sequence[Array]
) -> float | None:
    seen = []
    for setup, circuit in cases:
        if setup.full_scale is None or not circuit.known(solved.values):
            return None
        through = circuit.meter is not None and meter_circuit.answer(circuit, values).amps[0]
        seen.append(0.0 if np.isnan(through) else float(through) / setup.full_scale)
    return max(seen, key=abs, default=None)


def _needed(solved: Solved, unknown: Unknown) -> _Needed:
    """The settings that are needed over the whole tolerance box: the outermost of its corners."""
    tracks = _tracks(solved, unknown)
    low, high = (_outermost(solved, unknown, tracks, sign) for sign in (-1.0, 1.0))
    if np.isfinite(_settings(solved, unknown, tracks)).all():
        return _Needed(low, high)
    at_ccw, at_cw = (_side(solved, unknown, tracks, stop) for stop in (0.0, 1.0))
    short = tuple(stop for stop, side in (("ccw", at_ccw), ("cw", at_cw)) if not side)
    ends = low if at_ccw else 0.0, high if at_cw else 1.0
    return _Needed(*ends, short, nowhere=not short and at_ccw == at_cw)


def _outermost(solved: Solved, unknown: Unknown, tracks: Array, sign: float) -> float:
    """The setting that is needed furthest one way, the nominal one among them."""
    at, best = sign * float(solved.known[unknown.number][0]), -inf
    for _ in range(_ROUNDS if len(tracks) > 1 else 1):
        found = _settings(solved, unknown, tracks)
        along = np.where(np.isinf(found), -inf, sign * found)
        best, near = max(best, float(along.max())), tracks[np.argmax(along) % len(tracks)]
        step = tracks[-1] - tracks[-2] if len(tracks) > 1 else 0.0
        ends = max(near - step, tracks[0]), min(near + step, tracks[-1])
        tracks = np.linspace(*ends, len(tracks))
    return sign * max(best, at)


def _tracks(solved: Solved, unknown: Unknown) -> Array:
    """Values of a pot's track to look at: over its band where it moves both legs, else as it is."""
    whole = solved.network.of_part(unknown.part)[0]
    bent = [whole] if unknown.setup.circuit.degree(whole) > 1 else []
    for band in bands_of(solved.network, bent, solved.known):
        return np.linspace(band.low, band.high, _STEPS)
    return solved.known[whole]


def _box(solved: Solved, unknown: Unknown, tracks: Array) -> list[Array]:
    """Values at each corner of the tolerance box, with each of some tracks of the pot there."""
    network, circuit, values = solved.network, unknown.setup.circuit, solved.known
    bands = bands_of(network, circuit.values, values)
    straight = [band for band in bands if circuit.degree(band.number) == 1]
    chunks = list(corners(network, circuit, straight, f"reach of {unknown.part}"))
    columns = {n: np.concatenate([chunk[n] for chunk in chunks]) for n in chunks[0]}
    count = max((len(column) for column in columns.values()), default=1)
    samples = [np.repeat(columns[n], len(tracks)) if n in columns else v
               for n, v in enumerate(values)]  # fmt: skip
    whole = network.of_part(unknown.part)[0]
    if whole not in columns:
        samples[whole] = np.tile(tracks, count)
    return samples


def _settings(solved: Solved, unknown: Unknown, tracks: Array) -> Array:
    """The setting between the stops that each corner and track needs; inf where there is none."""
    at = float(solved.known[unknown.number][0])
    return _nearest_root(unknown, _box(solved, unknown, tracks), at)


def _side(solved: Solved, unknown: Unknown, tracks: Array, stop: float) -> int:
    """+1 where every build reads above full scale at a stop, -1 below, 0 for either."""
    samples = changed(_box(solved, unknown, tracks), unknown.number, stop)
    amps = meter_circuit.answer(unknown.setup.circuit, samples).amps
    off = np.nan_to_num(amps / (unknown.setup.full_scale or np.nan) - 1.0, nan=np.inf)
    return 1 if off.min() > _SLACK else -1 if off.max() < -_SLACK else 0


def _nearest_root(unknown: Unknown, samples: list[Array], nominal: float) -> Array:
    """Per sample the right setting between the stops that is nearest to the nominal one, or inf."""
    target = meter_circuit.setting_form(unknown, samples).against(
        unknown.setup.full_scale or np.nan
    )
    zeros = meter_circuit.roots(target, -_SLACK, 1.0 + _SLACK)
    near = np.where(np.isnan(zeros), np.inf, np.abs(zeros - nominal))
    best = np.take_along_axis(zeros, np.argmin(near, axis=0)[None], axis=0)[0]
    return np.where(np.isnan(best), np.inf, np.clip(best, 0.0, 1.0))


def trimmed(solved: Solved, setup: Setup, seed: int) -> tuple[float, float] | None:
    """Errors between which 99 % of builds of a reading lie once its pots are set in each.

    Seeded, uniform over the bands, with the meter's accuracy at either end; percent of full scale.
    None without such a pot, or where a tolerance other than of its track is not given.
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
    low, high = errors_within(meter_circuit.answer(setup.circuit, drawn).amps, setup.full_scale)
    own = (setup.meter.accuracy_percent if setup.meter else None) or 0.0
    return low - own, high + own


def _set_anew(unknown: Unknown, samples: list[Array], nominal: float) -> Array:
    """Per sample the setting that puts the reading right, or the stop that comes nearest."""
    found, full_scale = _nearest_root(unknown, samples, nominal), unknown.setup.full_scale or np.nan
    missing = np.isinf(found)
    if not missing.any():
        return found
    stops = (changed(samples, unknown.number, stop) for stop in (0.0, 1.0))
    at_ccw, at_cw = (
        abs(meter_circuit.answer(unknown.setup.circuit, s).amps - full_scale) for s in stops
    )
    return np.where(missing, np.where(at_cw < at_ccw, 1.0, 0.0), found)


def _advice(
    solved: Solved, unknown: Unknown, over: _Needed, stops: Sequence[float | None]
) -> str | None:
    """What keeps the meter safe and the setting off the stops; None if nothing is wrong."""
    hurt = max((abs(stop) for stop in stops if stop is not None), default=0.0)
    why = "the setting may come to lie in the last tenth of the travel"
    if hurt > _HURT:
        why = f"a stop puts {hurt:.3g} times full scale through the meter"
    elif _TENTH <= over.low <= over.high <= 1.0 - _TENTH:
        return None
    if np.isinf(hurt):
        why = "a stop leaves nothing in series with the meter, whose current then has no limit"
    few = _settings(solved, unknown, _tracks(solved, unknown)).size <= _MOST_CORNERS
    for pads, track in _candidates(solved, unknown, 0.5 * (over.low + over.high)) if few else ():
        found = _tried(*_with_pot(solved, unknown, pads, track))
        if found is not None:
            fixed = [f"{in_ohms(ohms)} at its {end} end" for end, ohms in pads.items() if ohms]
            beside = f" with {' and '.join(fixed)}" if fixed else ""
            return f"{why}: a pot of {in_ohms(track)}{beside} {found}"
    return f"{why}: set it with the meter shorted, and turn it up from the harmless stop"


def _candidates(
    solved: Solved, unknown: Unknown, middle: float
) -> Iterator[tuple[dict[str, float], float]]:
    """Fixed resistors at the ends of a pot, 0 for none, and its track; smallest first.

    The middle of what is needed lies near the middle of the track.
    """
    legs = {b.upper for b in unknown.setup.circuit.branches if b.share == unknown.number}
    whole = solved.network.values[solved.network.of_part(unknown.part)[0]].nominal or 0.0
    below = whole * middle
    for track in _USUAL_TRACKS:
        for at_ccw in _usual(below - 0.5 * track) if False in legs else (0.0,):
            above = whole - track - at_ccw if len(legs) > 1 else whole - below - 0.5 * track
            for at_cw in _usual(above) if True in legs else (0.0,):
                yield {"ccw": at_ccw, "cw": at_cw}, track


def _usual(ohms: float) -> tuple[float, ...]:
    """The E12 values on either side of what is wanted; none at all where it is not above 0."""
    return preferred_near("E12", ohms) if ohms > 0.0 else (0.0,)


def _tried(solved: Solved, unknown: Unknown) -> str | None:
    """What another pot does, in words; None if it is no better."""
    found = _settings(solved, unknown, _tracks(solved, unknown))
    low, high = float(np.min(found)), float(np.max(found))
    if not _TENTH <= low <= high <= 1.0 - _TENTH:
        return None
    seen = [_seen_at(solved, unknown, share) for share in (0.0, 1.0)]
    most = max((abs(one) for one in seen if one is not None), default=0.0)
    if most > _HURT or None in seen:
        return None
    return (
        f"needs {100 * low:.0f} to {100 * high:.0f} % of its travel, with "
        f"{shown_times(most)} times full scale at the worse stop; "
        "put it into the spec and run this again"
    )


def _with_pot(
    solved: Solved, unknown: Unknown, pads: dict[str, float], track: float
) -> tuple[Solved, Unknown]:
    """The wiring with another pot, a fixed resistor at each of its ends."""
    network, values = solved.network.copy(), list(solved.known)
    whole = network.of_part(unknown.part)[0]
    network.values[whole] = replace(network.values[whole], nominal=track)
    values[whole], values[unknown.number] = np.array([track]), np.array([0.5])
    beside = list[Branch]()
    for end, ohms in pads.items():
        name = f"pad at {unknown.part}.{end}"
        number = network.add(Value(name, name, ohms, _PAD_TOLERANCE))
        values.append(np.array([ohms]))
        ends = network.node(f"{unknown.part}.{end}"), network.new_node()
        beside.append(Branch(name, ends, number))

    def padded(circuit: ReadingCircuit) -> ReadingCircuit:
        branches = list(circuit.branches)
        for number, leg in enumerate(circuit.branches):
            if leg.share == unknown.number:
                pad = beside[leg.upper]
                wiper = leg.ends[0] if leg.upper else leg.ends[1]
                branches[number] = replace(leg, ends=(wiper, pad.ends[1]))
                branches.append(pad)
        return replace(circuit, branches=tuple(branches), count=network.count)

    setups = {n: replace(s, circuits=(padded(s.circuit),)) for n, s in solved.setups.items()}
    other = replace(solved, network=network, values=list(values), setups=setups)
    return other, replace(unknown, setup=setups[unknown.setup.reading.name])
