"""A wiring on its sources: points of known volts, drives, and the diodes that conduct then.

Every sum of what stands at a node while more than a reading's own drive feeds it is made here:
of the readings with one thing wrong, of the set's own supplies, of the most at each lug.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from math import inf

import numpy as np
import numpy.typing as npt

from rewire.circuit.dc import Array, Ends, Solution, solve
from rewire.records.parts import Diode
from rewire.records.spec import Point, Spec
from rewire.values.dc_network import NO_VALUE, Branch, DcNetwork
from rewire.words.quantity import in_ohms, with_unit

Flags = npt.NDArray[np.bool_]
_SLOPE = 0.3
"""Ohm in series with a conducting diode, so that an ampere lifts it to a volt; from memory."""
_MOST_TURNS = 20
"""Rounds in which the diodes that conduct are found; more than any circuit with a few needs."""
NONE: Flags = np.zeros(1, dtype=np.bool_)
ALL: Flags = np.ones(1, dtype=np.bool_)
OPEN: Array = np.full(1, inf)


@dataclass(frozen=True, slots=True)
class WorstMoment:
    """One moment: where the controls stand, what is open, and what is held at its most."""

    state: dict[str, int]
    opened: Collection[int] | None = None
    """Sections that are open, points at what they rise to; None in operation."""
    held: str | None = None
    """The point that stands at the most that is written of it."""

    def volts(self, point: Point) -> float | None:
        """What a point stands at; None where it has no volts of its own."""
        if self.held == point.name:
            return point.most_volts
        steady = self.opened is None or point.rises_to is None
        return point.volts if steady else point.rises_to

    def closes(self, branch: Branch) -> bool:
        """Whether a branch conducts."""
        return branch.closed(self.state) and branch.section not in (self.opened or ())


def possible_states(spec: Spec) -> Iterator[dict[str, int]]:
    """Every combination of positions that can occur, by number; many where controls are many."""
    controls, never = spec.controls, [item.items() for item in spec.never]
    for at in product(*(enumerate(control.positions) for control in controls.values())):
        named = dict(zip(controls, (name for _, name in at), strict=True))
        if not any(item <= named.items() for item in never):
            yield dict(zip(controls, (number for number, _ in at), strict=True))


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


def source_at(point: Point, volts: Sequence[float | None], ohms: Array | float) -> Source:
    """A point behind some ohms; open where it has no volts of its own."""
    own = np.array(volts, dtype=float)
    return Source(point, np.nan_to_num(own), np.where(np.isnan(own), inf, ohms))


def by_source(sources: Sequence[Source], solved: Solution) -> list[Array]:
    """Volts that each source by itself puts on the nodes; the drives of the solution are theirs."""
    return [s.volts / s.ohms * solved.volts[n] for n, s in enumerate(sources)]


def closed_ohms(branch: Branch, ohms: Array, looks: Sequence[WorstMoment]) -> Array:
    """Ohms of a branch, a contact open where a look does not close it."""
    if branch.control is None:
        return ohms
    return np.where([look.closes(branch) for look in looks], ohms, inf)


@dataclass(frozen=True, slots=True)
class Samples:
    """Branches of a network with their ohms in each sample, shape (samples,) or (1,).

    ``failed`` are diodes and the samples in which they conduct nothing, for they are open.
    """

    network: DcNetwork
    branches: Sequence[Branch]
    ohms: Sequence[Array]
    failed: Mapping[str, Flags] = field(default_factory=dict)

    def loads(self, pairs: Sequence[Ends]) -> list[tuple[Array, Flags]]:
        """Ohms between the nodes of each pair, and the nodes from which a drive there is lost."""
        if not pairs:
            return []
        solved = self.solved(pairs, pairs[-1][1])
        return [(solved.load(n, pair), solved.lost[n]) for n, pair in enumerate(pairs)]

    def fed(self, sources: Sequence[Source], ground: int) -> tuple[Samples, list[Ends]]:
        """The same with a source behind its own resistance at each point; and its nodes."""
        node = self.network.node
        feeds = [Branch(s.point.name, (node(s.point.name), ground), NO_VALUE) for s in sources]
        ohms = [*self.ohms, *(source.ohms for source in sources)]
        whole = Samples(self.network, [*self.branches, *feeds], ohms, self.failed)
        return whole, [feed.ends for feed in feeds]

    def solved(
        self, drives: Sequence[Ends], ground: int, on: Mapping[str, Flags] | None = None
    ) -> Solution:
        """Volts by an ampere of each drive, then by one into each diode; of these some are on."""
        count, diodes, ohms = max(self.network.count, ground + 1), list[Ends](), list(self.ohms)
        for name, conducts in (on or {}).items():
            diodes.append((self.network.node(f"{name}.A"), self.network.node(f"{name}.K")))
            ohms.append(np.where(conducts, _SLOPE, inf))
        ends = [*(branch.ends for branch in self.branches), *diodes]
        return solve(count, ends, ohms, [*drives, *diodes], ground)


def part_loads(pieces: Sequence[tuple[Array, Array]]) -> dict[str, Array]:
    """Watts of a part, the most volts and ampere of any piece; from those of each piece."""
    volts, amps = (np.array(np.broadcast_arrays(*of)) for of in zip(*pieces, strict=True))
    return {"watts": np.sum(volts * amps, axis=0), "volts": volts.max(0), "amps": amps.max(0)}


@dataclass(frozen=True, slots=True)
class Settled:
    """Samples with their diodes settled; arrays of shape (nodes, samples) or (nodes, 1).

    ``volts`` are those of the nodes, ``lifted`` what the diodes that conduct put there of it,
    ``on`` the diodes with the samples in which they conduct.
    """

    solved: Solution
    volts: Array
    lifted: Array
    on: dict[str, Flags]


def settled(
    samples: Samples,
    drives: Sequence[Ends],
    ground: int,
    driven: Callable[[Solution, Array], Array],
) -> Settled:
    """Which diodes conduct, and the volts of every node then.

    ``driven`` gives these volts from the solution of the drives and what the diodes put there.

    Source: superposition; a diode that conducts is its forward volts behind an ohm or less, and
    which ones do is found by turns.
    """
    known, node = samples.network.spec.all_of(Diode, samples.network.wiring), samples.network.node
    forward = {name: diode.conducts_at for name, diode in known.items() if diode.conducts_at}
    on = dict.fromkeys(forward, NONE)
    for _ in range(_MOST_TURNS):
        solved = samples.solved(drives, ground, on)
        lifted = np.zeros(solved.volts.shape[1:])
        for number, (name, own) in enumerate(forward.items(), len(drives)):
            lifted = lifted + np.where(on[name], own / _SLOPE, 0.0) * solved.volts[number]
        volts, was = driven(solved, lifted), on
        on = {
            name: (volts[node(f"{name}.A")] - volts[node(f"{name}.K")] > own)
            & ~samples.failed.get(name, NONE)
            for name, own in forward.items()
        }
        if all((was[name] == on[name]).all() for name in on):
            break
    return Settled(solved, volts, lifted, on)
