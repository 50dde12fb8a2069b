"""Calibration pots: where they stand, whether they reach, and what they do to the meter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import product

import numpy as np

from rewire.circuit.dc import Array
from rewire.circuit.states import LimitReached
from rewire.spec.model import Pot
from rewire.values.board import Board, Branch
from rewire.values.chance import draw
from rewire.values.circuits import Circuit, answer
from rewire.values.directions import directions
from rewire.values.fitting import Found, Unknown
from rewire.values.forms import degree, forms, roots
from rewire.values.model import PotAnswer
from rewire.values.readings import Setup
from rewire.values.tolerance import MOST_FREE, Band, bands_of
from rewire.values.units import in_ohms

TRIMMED_SAMPLES = 4000
_BEYOND = 10.0
_TRACK_STEPS = 33
_TENTH = 10.0
_HURT = 2.0
"""Times full scale that a movement stands for a while; common practice, no source."""
_USUAL_TRACKS = tuple(m * 10.0**p for p in range(7) for m in (1.0, 2.0, 5.0))
_USUAL_FIXED = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)


def pot_answer(
    board: Board,
    unknown: Unknown,
    found: Found,
    values: Sequence[Array | None],
    setups: Sequence[Setup],
) -> PotAnswer:
    """Everything about one calibration pot.

    Args:
        board: the wiring.
        unknown: the pot's setting and its reading.
        found: what fitting came to.
        values: the board's values, the settings found among them.
        setups: all readings of the wiring, for what the meter sees at the stops.

    Raises:
        LimitReached: more than 20 values whose direction is not proved.
    """
    name, reading = unknown.part, unknown.setup.reading.name
    solutions = tuple(100.0 * s for s in found.solutions)
    if not solutions or any(values[n] is None for n in unknown.setup.circuit.values):
        why = found.why or "the circuit has values that are not known"
        return PotAnswer(name, reading, None, (), False, None, None, why=why)
    known = [np.array([1.0]) if v is None else v for v in values]
    needed = needed_settings(board, unknown, known)
    low, high = (100.0 * float(x) for x in (np.min(needed), np.max(needed)))
    slack = 1e-9
    stops = [_seen(unknown, values, setups, share) for share in (0.0, 1.0)]
    opened = _seen_open(board, unknown, values, setups)
    reaches = low >= -slack and high <= 100.0 + slack
    return PotAnswer(
        part=name,
        reading=reading,
        setting_percent=solutions[0],
        solutions=solutions,
        reaches=reaches,
        lowest_percent=low,
        highest_percent=high,
        percent_per_percent=_sensitivity(unknown, known),
        when_open=opened,
        at_ccw=stops[0],
        at_cw=stops[1],
        advice=_advice(board, unknown, (low, high), stops),
        why=None if reaches else _out_of_reach(name, low, high),
    )


def _out_of_reach(name: str, low: float, high: float) -> str:
    ends = []
    if low < 0.0:
        ends.append("below its ccw stop")
    if high > 100.0:
        ends.append("beyond its cw stop")
    return f"within the tolerances {name} may have to stand {' or '.join(ends)}"


def needed_settings(board: Board, unknown: Unknown, values: list[Array]) -> Array:
    """Settings, as shares of the travel, that are needed over the corners of the tolerance box.

    A setting that is needed is monotonic in each two-terminal resistance (the form
    that is zero there is of first degree in it), so corners suffice; the pot's own
    end-to-end value is stepped through. Shares beyond 0 to 1 are out of reach.

    Returns:
        Shares; -inf or inf where even an endless pot would not do.
    """
    circuit = unknown.setup.circuit
    bands = bands_of(board, circuit, values)
    proved = directions(circuit)
    whole = board.of_part(unknown.part)[0]
    free = [b for b in bands if b.number not in proved and b.number != whole]
    if len(free) > MOST_FREE:
        raise LimitReached(
            f"reach of {unknown.part}: {len(free)} values may move the setting either way, "
            f"more than {MOST_FREE}"
        )
    columns = _columns(bands, free, proved, whole)
    samples = list(values)
    for number, column in columns.items():
        samples[number] = column
    return _settings(unknown, samples, float(values[unknown.number][0]))


def _columns(
    bands: Sequence[Band], free: Sequence[Band], proved: dict[int, int], whole: int
) -> dict[int, Array]:
    """Every corner that can count: all that are proved pull together, up or down."""
    levels: list[Sequence[float]] = [(0.0, 1.0)]
    levels += [(band.low, band.high) for band in free]
    own = next((band for band in bands if band.number == whole), None)
    if own is not None:
        levels.append(np.linspace(own.low, own.high, _TRACK_STEPS).tolist())
    grid = np.array(list(product(*levels))).T
    columns = {band.number: grid[1 + row] for row, band in enumerate(free)}
    if own is not None:
        columns[whole] = grid[-1]
    for band in bands:
        if band.number in proved and band.number != whole:
            up = grid[0] > 0.5 if proved[band.number] >= 0 else grid[0] < 0.5
            columns[band.number] = np.where(up, band.high, band.low)
    return columns


def _settings(unknown: Unknown, samples: list[Array], nominal: float) -> Array:
    """Per sample the setting nearest to the nominal one."""
    circuit, full_scale = unknown.setup.circuit, unknown.setup.full_scale
    assert full_scale is not None
    rank = degree(circuit, unknown.number)
    points = (0.25, 0.75) if rank == 1 else (0.2, 0.5, 0.8)
    target = forms(circuit, samples, unknown.number, points).against(full_scale)
    zeros = roots(target, -_BEYOND, 1.0 + _BEYOND)
    near = np.where(np.isnan(zeros), np.inf, np.abs(zeros - nominal))
    best = np.take_along_axis(zeros, np.argmin(near, axis=0)[None], axis=0)[0]
    return np.where(np.isnan(best), np.inf, best)


def trimmed(
    board: Board, unknowns: Sequence[Unknown], setup: Setup, values: list[Array], seed: int
) -> tuple[float, float] | None:
    """Errors between which 99 % of builds of a reading lie once its pots are set in each.

    Seeded, uniform over the bands, the meter's accuracy not counted. Percent of
    full scale; None where no pot of its circuit is fitted.
    """
    pots = [u for u in unknowns if u.is_setting and u.number in setup.circuit.values]
    if not pots or not setup.full_scale:
        return None
    numbers = {n for one in (setup, *(u.setup for u in pots)) for n in one.circuit.values}
    drawn = draw(board, numbers, values, TRIMMED_SAMPLES, seed, "uniform")
    for unknown in pots:
        settings = _settings(unknown, drawn, float(values[unknown.number][0]))
        drawn[unknown.number] = np.clip(settings, 0.0, 1.0)
    amps = answer(setup.circuit, drawn).amps
    low, high = np.percentile(100.0 * (amps / setup.full_scale - 1.0), (0.5, 99.5))
    return float(low), float(high)


def _sensitivity(unknown: Unknown, values: list[Array]) -> float | None:
    """Percent of reading per percent of travel at the setting, from the forms' derivative."""
    circuit, at = unknown.setup.circuit, float(values[unknown.number][0])
    rank = degree(circuit, unknown.number)
    near = min(max(at, 0.02), 0.98)
    points = (near - 0.01, near + 0.01) if rank == 1 else (near - 0.01, near, near + 0.01)
    along = forms(circuit, values, unknown.number, points)
    powers = at ** np.arange(len(along.numerator))
    n, d = float(powers @ along.numerator[:, 0]), float(powers @ along.denominator[:, 0])
    slope = float(at ** np.arange(len(along.slope())) @ along.slope()[:, 0])
    return slope / (n * d) if n * d else None


def _seen(
    unknown: Unknown,
    values: Sequence[Array | None],
    setups: Sequence[Setup],
    share: float,
) -> float | None:
    """Most times full scale through the meter in any reading with the pot at a stop."""
    moved = list(values)
    moved[unknown.number] = np.array([share])
    return _most_seen((setup, setup.circuit, moved) for setup in _touched(unknown, setups))


def _touched(unknown: Unknown, setups: Sequence[Setup]) -> list[Setup]:
    number = unknown.number
    return [s for s in setups if s.circuit.meter is not None and number in s.circuit.values]


def _most_seen(
    cases: Iterable[tuple[Setup, Circuit, Sequence[Array | None]]],
) -> float | None:
    seen = []
    for setup, circuit, values in cases:
        if setup.full_scale is None or any(values[n] is None for n in circuit.values):
            return None
        known = [np.array([1.0]) if v is None else v for v in values]
        amps = float(answer(circuit, known).amps[0])
        seen.append(0.0 if np.isnan(amps) else amps / setup.full_scale)
    return max(seen, key=abs, default=None)


def _seen_open(
    board: Board,
    unknown: Unknown,
    values: Sequence[Array | None],
    setups: Sequence[Setup],
) -> float | None:
    """The same with the wiper off its track: both legs in one, and nothing at the wiper."""
    tied = any(
        b.part == unknown.part and b.share is not None and b.ends[0] == b.ends[1]
        for b in board.branches
    )
    touched = _touched(unknown, setups)
    return _most_seen((s, _wiper_off(s.circuit, unknown, tied), values) for s in touched)


def _wiper_off(circuit: Circuit, unknown: Unknown, tied: bool) -> Circuit:
    """A circuit with a pot's wiper off: where both legs are in it, its track alone is left."""
    legs = [b for b in circuit.branches if b.share == unknown.number]
    kept = [b for b in circuit.branches if b.share != unknown.number]
    wiper = {e for e in legs[0].ends if e in legs[-1].ends} if len(legs) > 1 else set()
    ends = [e for leg in legs for e in leg.ends if e not in wiper]
    if len(wiper) == 1 and len(ends) == 2:
        kept.append(Branch(unknown.part, (ends[0], ends[1]), legs[0].value))
    elif len(legs) == 1 and tied:
        kept.append(Branch(unknown.part, legs[0].ends, legs[0].value))
    meter = circuit.meter
    part = circuit.branches[meter].part if meter is not None else None
    at = next((i for i, b in enumerate(kept) if b.part == part), None)
    return replace(circuit, branches=tuple(kept), meter=at)


def _advice(
    board: Board, unknown: Unknown, needed: tuple[float, float], stops: Sequence[float | None]
) -> str | None:
    """A fixed resistor that keeps the meter safe and the setting off the stops."""
    pot = board.parts[unknown.part]
    if not isinstance(pot, Pot) or not np.isfinite(needed).all():
        return None
    hurt = max((abs(s) for s in stops if s is not None), default=0.0)
    cramped = needed[0] < _TENTH or needed[1] > 100.0 - _TENTH
    if hurt <= _HURT and not cramped:
        return None
    if degree(unknown.setup.circuit, unknown.number) != 1:
        return "set it with the meter shorted, and turn it up from the harmless stop"
    return _as_rheostat(pot, unknown, needed, hurt)


def _as_rheostat(
    pot: Pot, unknown: Unknown, needed: tuple[float, float], hurt: float
) -> str | None:
    """Series resistor and track that put the needed ohms between a tenth and nine tenths."""
    upper = next(b.upper for b in unknown.setup.circuit.branches if b.share == unknown.number)
    ohms = sorted(pot.ohms * (100.0 - n if upper else n) / 100.0 for n in needed)
    if ohms[0] <= 0.0:
        return None
    pairs = ((_fixed_below(ohms[0] - 0.1 * track), track) for track in _USUAL_TRACKS)
    fits = (pair for pair in pairs if pair[0] is not None and pair[0] + 0.9 * pair[1] >= ohms[1])
    fixed, track = next(fits, (None, 0.0))
    if fixed is None or (fixed == 0.0 and track == pot.ohms):
        return None
    why = "the adjustment is all in the last tenth of the travel"
    if hurt > _HURT:
        why = f"a stop puts {hurt:.3g} times full scale through the meter"
    said = f"a pot of {in_ohms(track)}"
    if fixed:
        said = f"{in_ohms(fixed)} in series with {said}"
    return f"{why}: {said} would cover the same range between its tenths"


def _fixed_below(room: float) -> float | None:
    """The largest usual value that leaves the track its first tenth; 0 for none at all."""
    if room < 0.0:
        return None
    return max((f for f in _fixed_values() if f <= room), default=0.0)


def _fixed_values() -> Iterator[float]:
    return (m * 10.0**p for p in range(-1, 7) for m in _USUAL_FIXED)
