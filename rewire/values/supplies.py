"""What the set's own supplies put on parts, contacts and meters, in every position.

A reading has its own drive alone. Here every point of known volts is a source, so that a bleeder
or a meter that a wrong wire puts across one is judged too. Only what is sure is told: a place of
a current reading gives no more than its full scale, of two such places one is the load of the
other, what the original connects to as many volts has none of its own there, and what burns in
the original just as well is a matter of the volts that the spec gives.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np
import numpy.typing as npt

from rewire.circuit.dc import Array, solve
from rewire.records.parts import Diode
from rewire.records.spec import Point, Spec
from rewire.values.cases import MOST_STATES, SLOPE
from rewire.values.dc_network import TINY, Branch, DcNetwork
from rewire.values.lug_volts import possible_states
from rewire.values.meter_circuit import Solved
from rewire.values.readings import tried
from rewire.words.quantity import in_ohms, with_unit

_MOST_TURNS = 20
"""Rounds in which the diodes that conduct are found; more than any circuit with a few needs."""
_STIFF = 1e-6
"""Ohm: stands for a source of which no resistance is given."""
_CONTACT = 1e-3
"""Ohm: stands for a contact of none, so that contacts side by side share alike."""
_NAMED = 0.1
"""Share of the volts across a part from which a source is named."""


@dataclass(frozen=True, slots=True)
class SupplyLook:
    """One position of all controls; ``risen`` with points at what they rise to, load off."""

    state: Mapping[str, int]
    risen: bool

    def volts(self, point: Point) -> float | None:
        """The volts behind a point's source resistance; without one nothing rises."""
        rises = self.risen and point.source_resistance > 0.0 and point.rises_to is not None
        return point.rises_to if rises else point.volts


def looks_at(spec: Spec) -> list[SupplyLook]:
    """Every position that can occur, in operation and risen; none where they are too many."""
    states = list(islice(possible_states(spec), MOST_STATES + 1))
    if len(states) > MOST_STATES:
        return []
    return [SupplyLook(state, risen) for risen in (False, True) for state in states]


def most_amps(spec: Spec) -> dict[str, float]:
    """Point → the most that it gives: full scale of the current that is read there.

    0 for one that is only the load of the point which the same current passes first. A standing
    current is what flows there anyway, and no limit of what the point can give.
    """
    points = {name: point for name, point in spec.points.items() if not point.chassis}
    readings = [reading for w in spec.wirings.values() for reading in w.readings.values()]
    currents = [(r.places, r.full_scale) for r in readings if r.quantity == "current"]
    read = {name for places, _ in currents for name in places}
    currents += [(drive.places, abs(drive.amps)) for r in readings for drive in r.also]
    most, loads = dict[str, float](), set[str]()
    for places, amps in currents:
        here = [points[name] for name in places if name in points]
        most |= {p.name: max(amps, most.get(p.name, 0.0)) for p in here if p.name in read}
        if len(here) == 2:
            loads.add(min(reversed(here), key=lambda p: abs(p.most_volts)).name)
    return most | dict.fromkeys(loads, 0.0)


@dataclass(frozen=True, slots=True)
class Source:
    """A point of known volts: its volts and the ohms behind them, in each sample."""

    point: Point
    volts: Array
    ohms: Array
    """Infinite where it has no volts of its own."""

    @property
    def said(self) -> str:
        """``B_PLUS (up to 96 V behind 60 Ω)``: what is written of it."""
        point = self.point
        if not point.source_resistance:
            return f"{point.name} ({with_unit(point.volts, 'V', 3)}, source resistance not given)"
        behind = in_ohms(point.source_resistance)
        return f"{point.name} (up to {with_unit(point.most_volts, 'V', 3)} behind {behind})"


def sources_of(original: DcNetwork, looks: Sequence[SupplyLook]) -> list[Source]:
    """Every point of known volts, as a source in each look."""
    spec, most = original.spec, most_amps(original.spec)
    points = [p for p in spec.points.values() if not p.chassis and most.get(p.name) != 0.0]
    volts = np.array([_own_volts(original, points, look) for look in looks], dtype=float)
    return [
        _source(point, own, most.get(point.name))
        for point, own in zip(points, volts.T, strict=True)
    ]


def _own_volts(
    original: DcNetwork, points: Sequence[Point], look: SupplyLook
) -> list[float | None]:
    """Volts of each point by itself in a look.

    None where the original connects it to one that has as much, or to the chassis and nothing is
    said to lie in between: there it is only fed, or off.
    """
    ties, chassis = original.ties(look.state), original.chassis
    found, node = dict[str, float | None](), original.node
    for point in sorted(points, key=lambda p: -abs(look.volts(p) or 0.0)):
        own = look.volts(point)
        over = [node(name) for name, volts in found.items() if volts is not None]
        over += [] if point.source_resistance or chassis is None else [chassis]
        fed_there = any(ties.joins(node(point.name), other) for other in over)
        found[point.name] = None if fed_there else own
    return [found[point.name] for point in points]


def _source(point: Point, volts: Array, most: float | None) -> Source:
    """Most ampere that a source gives."""
    ohms = np.maximum(max(point.source_resistance, _STIFF), np.abs(volts) / (most or np.inf))
    return Source(point, np.nan_to_num(volts), np.where(np.isnan(volts), np.inf, ohms))


@dataclass(frozen=True, slots=True)
class Fed:
    """A wiring on its supplies: what each source alone puts on the nodes, shape (nodes, samples).

    A sample is a look, and in it a trial of what is not known; ``diodes`` is what those that
    conduct put there, ``ohms`` are the branches'. ``through`` is ``alone`` with every diode
    conducting, which AC finds in the one half of its swing or the other.
    """

    network: DcNetwork
    sources: Sequence[Source]
    trials: int
    ohms: Sequence[Array]
    alone: Sequence[Array]
    through: Sequence[Array]
    diodes: Array

    @property
    def shape(self) -> tuple[int, ...]:
        """Of a column: the samples."""
        return self.diodes.shape[1:]

    def across(self, branch: Branch) -> tuple[Array, Array]:
        """Volts from its first end to its second: DC with its sign, and rms of AC.

        Source: of several AC sources the phases are not known: the least that they can come to.
        Where diodes conduct in a part of the swing, the lesser of with them and without.
        """
        one, other = branch.ends
        steady, swinging = self.diodes[one] - self.diodes[other], list[Array]()
        for source, volts, on in zip(self.sources, self.alone, self.through, strict=True):
            own = volts[one] - volts[other]
            if source.point.ac:
                swinging.append(np.minimum(np.abs(own), np.abs(on[one] - on[other])))
            else:
                steady = steady + own
        most = np.max(swinging, axis=0) if swinging else np.zeros(1)
        least = np.maximum(2.0 * most - np.sum(swinging, axis=0), 0.0) if swinging else most
        return steady, least

    def rms(self, number: int) -> tuple[Array, Array]:
        """Volts across a branch and ampere through it, by its number."""
        volts = np.hypot(*self.across(self.network.branches[number]))
        return volts, volts / self.ohms[number]

    def looked(self, column: Array) -> Array:
        """A column by looks: the least of the trials of what is not known."""
        whole = np.broadcast_to(column, self.shape)
        return np.asarray(whole.reshape(-1, self.trials).min(axis=1))

    def feeding(self, branch: Branch, look: int) -> list[Source]:
        """The sources that a branch has its volts from in a look, the one with most first."""
        one, other = branch.ends
        own = [abs(float((v[one] - v[other])[look * self.trials])) for v in self.alone]
        ranked = sorted(zip(own, range(len(own)), strict=True), key=lambda pair: -pair[0])
        return [self.sources[n] for volts, n in ranked if volts > _NAMED * max(own)]


def fed(solved: Solved, sources: Sequence[Source], looks: Sequence[SupplyLook]) -> Fed:
    """Solve a wiring with every point of known volts as a source, in every look.

    Source: superposition; a diode that conducts is its forward volts behind an ohm or less, and
    which ones do is found by turns, with AC about by the DC alone.
    """
    network, values = solved.network, tried(solved.network, solved.values)
    trials = max((value.shape[0] for value in values), default=1)
    known = [np.tile(v, len(looks)) if v.shape[0] > 1 else v for v in values]
    every = [look for look in looks for _ in range(trials)]
    ohms = [_ohms(branch, known, every) for branch in network.branches]
    driven = [
        replace(s, volts=np.repeat(s.volts, trials), ohms=np.repeat(s.ohms, trials))
        for s in sources
    ]
    alone, through, diodes = _by_source(network, ohms, driven, len(every))
    return Fed(network, sources, trials, ohms, alone, through, diodes)


def _ohms(branch: Branch, known: Sequence[Array], looks: Sequence[SupplyLook]) -> Array:
    if branch.control is None:
        return np.maximum(branch.ohms(known), TINY)
    closed = [branch.closed(look.state) for look in looks]
    return np.where(closed, np.maximum(branch.ohms(known), _CONTACT), np.inf)


def _by_source(
    network: DcNetwork, ohms: Sequence[Array], sources: Sequence[Source], count: int
) -> tuple[list[Array], list[Array], Array]:
    """What each source puts on the nodes, alike with all diodes on, and what those on put there.

    Of shape (nodes, samples) each.
    """
    ground = network.count if network.chassis is None else network.chassis
    feeds = [(network.node(source.point.name), ground) for source in sources]
    known = network.spec.all_of(Diode, network.wiring).items()
    forward = {name: diode.conducts_at for name, diode in known if diode.conducts_at}
    ends = [(network.node(f"{name}.A"), network.node(f"{name}.K")) for name in forward]
    every = [*(branch.ends for branch in network.branches), *feeds, *ends]

    def with_diodes(on: Sequence[npt.NDArray[np.bool_]]) -> tuple[list[Array], Array]:
        """Each source alone; and the volts that an ampere into each diode puts on the nodes."""
        columns = [*ohms, *(s.ohms for s in sources), *(np.where(one, SLOPE, np.inf) for one in on)]
        solved = solve(network.count + 1, every, columns, [*feeds, *ends], ground)
        volts = np.broadcast_to(solved.volts, (*solved.volts.shape[:2], count))
        return [s.volts / s.ohms * volts[n] for n, s in enumerate(sources)], volts[len(sources) :]

    on = [np.zeros(count, dtype=np.bool_) for _ in forward]
    for _ in range(_MOST_TURNS):
        alone, into = with_diodes(on)
        diodes = sum(
            (np.where(one, own / SLOPE, 0.0) * column
             for one, own, column in zip(on, forward.values(), into, strict=True)),
            start=np.zeros((network.count + 1, count)),
        )  # fmt: skip
        dc = diodes + sum(v for v, s in zip(alone, sources, strict=True) if not s.point.ac)
        now = [dc[a] - dc[k] > own for own, (a, k) in zip(forward.values(), ends, strict=True)]
        if all((was == is_on).all() for was, is_on in zip(on, now, strict=True)):
            break
        on = now
    return alone, with_diodes([np.ones(count, dtype=np.bool_) for _ in forward])[0], diodes
