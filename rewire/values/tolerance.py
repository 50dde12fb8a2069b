"""What tolerances and temperature do to a reading: worst case, shares, Monte Carlo.

Deflection is a ratio of forms of first degree in each two-terminal resistance, so it is
monotonic in each while the others stand: its extremes are at corners of the box. A pot whose
end-to-end value moves two legs is of second degree, and its own stationary points count as well.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import prod
from typing import Literal

import numpy as np

from rewire.circuit.dc import Array, Ends
from rewire.circuit.states import LimitReached
from rewire.values.answers import Share, Spread
from rewire.values.dc_network import DcNetwork
from rewire.values.meter_circuit import ReadingCircuit, Solved, answer, rational_form, roots

MOST_FREE = 20
"""Values whose direction is not proved and that are enumerated."""
_CHUNK = 1 << 14
_STILL = 1e-9
"""Share of a current below which a change of it is rounding."""
_GOLDEN = 0.6180339887498949
_SWEEPS = 30
_MOST_STEPS = 20_000
_WITHIN = (0.5, 99.5)
"""Percentiles between which 99 % of builds lie."""
Law = Literal["uniform", "normal"]
LAWS: tuple[Law, Law] = ("uniform", "normal")
Limits = tuple[float, float]
"""Least and most of a value."""


@dataclass(frozen=True, slots=True)
class Band:
    """A value of a circuit that may be off: its number, least and most."""

    number: int
    low: float
    high: float


def bands_of(network: DcNetwork, numbers: Iterable[int], values: Sequence[Array]) -> list[Band]:
    """Those of some values that have a tolerance, contacts among them."""
    found = []
    for number in numbers:
        value, nominal = network.values[number], float(values[number][0])
        low, high = value.low(nominal), value.high(nominal)
        if high > low:
            found.append(Band(number, low, high))
    return found


def unstated(
    network: DcNetwork, circuits: Iterable[ReadingCircuit], values: Sequence[Array]
) -> tuple[int, ...]:
    """Values without a tolerance that move the meter's current when halved or doubled."""
    beside = [
        value if network.values[n].is_setting else value * (1.0 + 0.1 * ((n + 1) * _GOLDEN % 1.0))
        for n, value in enumerate(values)
    ]
    found: list[int] = []
    for circuit in circuits:
        bare = [n for n in circuit.values if network.values[n].tolerance is None]
        if not bare or circuit.meter is None:
            continue
        ends = [(0.5 * float(beside[n][0]), 2.0 * float(beside[n][0])) for n in bare]
        amps = one_by_one(circuit, beside, bare, ends)
        moved = ~np.isclose(amps[:-1], amps[-1], rtol=_STILL, atol=0.0).reshape(-1, 2)
        found += [number for number, row in zip(bare, moved, strict=True) if row.any()]
    return tuple(dict.fromkeys(found))


def one_by_one(
    circuit: ReadingCircuit, values: Sequence[Array], numbers: Sequence[int], ends: Sequence[Limits]
) -> Array:
    """Currents with each of some values alone at its two ends, then with none of them."""
    count = 2 * len(numbers) + 1
    samples = list(values)
    for row, (number, pair) in enumerate(zip(numbers, ends, strict=True)):
        column = np.full(count, float(samples[number][0]))
        column[2 * row : 2 * row + 2] = pair
        samples[number] = column
    return np.broadcast_to(answer(circuit, samples).amps, (count,))


def shares(solved: Solved, circuit: ReadingCircuit, full_scale: float) -> tuple[Share, ...]:
    """What each value alone does at either end of its tolerance, percent, the largest first."""
    network, values = solved.network, solved.known
    bands = bands_of(network, circuit.values, values)
    ends = [(band.low, band.high) for band in bands]
    amps = one_by_one(circuit, values, [band.number for band in bands], ends)
    change = 100.0 * (amps[:-1] - amps[-1]) / full_scale
    found = [
        Share(network.values[b.number].name, float(change[2 * r]), float(change[2 * r + 1]))
        for r, b in enumerate(bands)
    ]
    bare = unstated(network, [circuit], values)
    found += [Share(network.values[n].name, None, None) for n in bare]
    return tuple(sorted(found, key=lambda share: (-share.size, share.value)))


@lru_cache(maxsize=256)
def directions(circuit: ReadingCircuit) -> dict[int, int]:
    """Value of a circuit with a meter → +1, -1, or 0 if it moves nothing; left out if unknown.

    Source: the change of a meter's current with a resistance is the voltage that the drive puts
    across it, times that which a current sent in at the meter's + and out at its - puts across it,
    times something positive (S. W. Director and R. A. Rohrer, "The generalized adjoint network and
    network sensitivities", IEEE Trans. CT-16, 1969). Where every route runs through a branch the
    same way round, the sign of such a voltage is the same whatever the values are.
    """
    assert circuit.meter is not None
    drives = [_signs(circuit, circuit.ends, source=False)]
    for drive in circuit.also:
        ends = drive.ends if drive.amps > 0 else (drive.ends[1], drive.ends[0])
        drives += [_signs(circuit, ends, source=True)] if drive.amps else []
    felt = _signs(circuit, circuit.branches[circuit.meter].ends, source=True)
    felt[circuit.meter] = -1
    found: dict[int, set[int | None]] = {}
    for branch, across, *driven in zip(circuit.branches, felt, *drives, strict=True):
        ways = set(driven) - {0}
        way = None if len(ways) > 1 else next(iter(ways), 0)
        sign = 0 if 0 in (way, across) else way and across and way * across
        for value in branch.numbers:
            turned = sign and (-sign if value == branch.share and branch.upper else sign)
            found.setdefault(value, set()).add(turned)
    return {
        value: next((sign for sign in signs if sign), 0)
        for value, signs in found.items()
        if None not in signs and len(signs - {0}) < 2
    }


def _signs(circuit: ReadingCircuit, ends: Ends, *, source: bool) -> list[int | None]:
    """Which way a current from one node to another goes through each branch.

    +1 with its ends, -1 against them, 0 not at all, None either way. The ``source`` of a voltage
    drive may be a branch of its own.
    """
    every = {branch.ends for branch in circuit.branches}
    if source and circuit.volts is not None:
        every.add(circuit.ends)
    beside: dict[int, set[int]] = {}
    for a, b in every:
        beside.setdefault(a, set()).add(b)
        beside.setdefault(b, set()).add(a)
    steps = _steps(beside, ends)
    if steps is None:
        return [None] * len(circuit.branches)
    ways = (((a, b) in steps, (b, a) in steps) for a, b in (one.ends for one in circuit.branches))
    return [None if there and back else there - back for there, back in ways]


def _steps(beside: Mapping[int, Iterable[int]], ends: Ends) -> set[Ends] | None:
    """Every step from node to node that some route takes; None if there are too many to try."""
    start, goal = ends
    taken: set[Ends] = set()
    route, left, tried = [start], [iter(beside.get(start, ()))], 0
    while left and start != goal:
        node = next(left[-1], None)
        tried += 1
        if tried > _MOST_STEPS:
            return None
        if node is None:
            left.pop()
            route.pop()
        elif node == goal:
            taken.update(pairwise([*route, goal]))
            tried += len(route)
        elif node not in route:
            route.append(node)
            left.append(iter(beside[node]))
    return taken


def extremes(
    network: DcNetwork, circuit: ReadingCircuit, values: Sequence[Array], name: str
) -> tuple[float, float]:
    """Least and greatest current through the meter over the whole box, ampere.

    Raises:
        LimitReached: more than 20 values whose direction is not proved.

    Error: that of the solver. With two pots or more in one circuit that both
    divide, their common stationary points are sought from 3 starts for each pot.
    """
    proved, bands = directions(circuit), bands_of(network, circuit.values, values)
    bent = [b for b in bands if b.number not in proved and circuit.degree(b.number) > 1]
    found = []
    for columns in corners(network, circuit, bands, f"worst case of reading {name}"):
        here = [columns.get(number, value) for number, value in enumerate(values)]
        for sense in (-1, 1):
            found.append(sense * float(np.max(climbed(circuit, list(here), bent, sense))))
    return min(found), max(found)


def corners(
    network: DcNetwork, circuit: ReadingCircuit, bands: Sequence[Band], asking: str
) -> Iterator[dict[int, Array]]:
    """Corners of a box among which the least and the greatest reading are, so many at a time.

    What is proved pulls together, up or down. A track that moves both legs of its pot has its most
    somewhere between: it begins at its least, of several each in its middle and at its most too.
    """
    proved = directions(circuit)
    free = [band for band in bands if band.number not in proved]
    if len(free) > MOST_FREE:
        names = ", ".join(network.values[band.number].name for band in free[:6])
        raise LimitReached(
            f"{asking}: {len(free)} values may move it either way ({names} …), "
            f"more than {MOST_FREE}; state fewer tolerances there, or split the circuit"
        )
    bent = [band for band in free if circuit.degree(band.number) > 1]
    levels = [
        (b.low, b.high) if b not in bent else (b.low, 0.5 * (b.low + b.high), b.high)[:size]
        for b in free
        for size in [3 if len(bent) > 1 else 1]
    ]
    total = 2 * prod(map(len, levels))
    for start in range(0, total, _CHUNK):
        left, side = np.divmod(np.arange(start, min(start + _CHUNK, total)), 2)
        columns = {}
        for band, level in zip(free, levels, strict=True):
            left, at = np.divmod(left, len(level))
            columns[band.number] = np.asarray(level)[at]
        for band in bands:
            if band.number in proved:
                up = (side == 1) == (proved[band.number] >= 0)
                columns[band.number] = np.where(up, band.high, band.low)
        yield columns


def climbed(
    circuit: ReadingCircuit, values: list[Array], bent: Sequence[Band], sense: int
) -> Array:
    """Currents (times ``sense``) after each bent value went to its best, in turn."""
    best = sense * answer(circuit, values).amps
    for _ in range(_SWEEPS if len(bent) > 1 else len(bent)):
        before = best
        for band in bent:
            best = _best_along(circuit, values, band, sense)
        if np.all(best <= before + 1e-15 * np.abs(before)):
            break
    return best


def _best_along(circuit: ReadingCircuit, values: list[Array], band: Band, sense: int) -> Array:
    """Move one value to the best of its ends and stationary points; the currents there."""
    middle = 0.5 * (band.low + band.high)
    along = rational_form(circuit, values, band.number, (band.low, middle, band.high))
    still = roots(along.slope(), band.low, band.high)
    samples = max(still.shape[1], *(v.shape[0] for v in values))
    places = [np.full(samples, band.low), np.full(samples, band.high)]
    places += [np.broadcast_to(np.where(np.isnan(s), band.low, s), (samples,)) for s in still]
    tried = []
    for place in places:
        values[band.number] = place
        tried.append(np.broadcast_to(sense * answer(circuit, values).amps, (samples,)))
    best = np.argmax(tried, axis=0)
    values[band.number] = np.take_along_axis(np.stack(places), best[None], axis=0)[0]
    return np.asarray(np.take_along_axis(np.stack(tried), best[None], axis=0)[0])


@dataclass(frozen=True, slots=True)
class Draw:
    """How many builds are drawn, and the seed; each value has its own stream (PCG64)."""

    samples: int = 10_000
    seed: int = 1

    def values(
        self, network: DcNetwork, numbers: Iterable[int], values: Sequence[Array], law: Law
    ) -> list[Array]:
        """Values with those of ``numbers`` that have a band drawn at random.

        Uniform, or normal with the band at three standard deviations (common practice, no source).
        """
        drawn = list(values)
        for band in bands_of(network, numbers, values):
            stream = np.random.default_rng((self.seed, band.number))
            if law == "uniform":
                column = stream.uniform(band.low, band.high, self.samples)
            else:
                middle, sigma = 0.5 * (band.low + band.high), (band.high - band.low) / 6.0
                column = np.maximum(stream.normal(middle, sigma, self.samples), 0.0)
            drawn[band.number] = column
        return drawn


def errors_within(
    amps: Array, full_scale: float, drift: Array | float = 0.0
) -> tuple[float, float]:
    """Errors, in percent of full scale, between which 99 % of builds lie."""
    low, high = np.percentile(100.0 * (amps / full_scale - 1.0) + drift, _WITHIN)
    return float(low), float(high)


def monte_carlo(
    solved: Solved, circuit: ReadingCircuit, full_scale: float, accuracy: float, draw: Draw
) -> Spread:
    """A seeded Monte Carlo of the values, with the meter's accuracy, percent, as its own band."""
    network, found = solved.network, []
    for law in LAWS:
        drawn = draw.values(network, circuit.values, solved.known, law)
        own = np.random.default_rng((draw.seed, len(network.values)))
        drift = (
            own.uniform(-accuracy, accuracy, draw.samples)
            if law == "uniform"
            else own.normal(0.0, accuracy / 3.0, draw.samples)
        )
        found.append(errors_within(answer(circuit, drawn).amps, full_scale, drift))
    return Spread(draw.samples, draw.seed, found[0], found[1])


def warmed(solved: Solved, circuit: ReadingCircuit, kelvin: float) -> float:
    """Change of a reading, percent of it, when everything warms by some kelvin: R (1 + α ΔT)."""
    network, warm = solved.network, []
    for value, ohms in zip(network.values, solved.known, strict=True):
        part = network.parts.get(value.part)
        alpha = part.per_kelvin if part and not value.is_setting else 0.0
        warm.append(ohms * (1.0 + alpha * kelvin))
    hot, cold = (answer(circuit, values).amps for values in (warm, solved.known))
    return float(100.0 * np.ravel(hot / cold - 1.0)[0])
