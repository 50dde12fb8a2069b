"""The DC solver. Imported only where ohms are asked for, because it loads numpy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Ends = tuple[int, int]
TIED = 1e-30
"""Ohms used for zero: too little to change any other value of a float."""
_LOST = 1e-9
"""Share of a drive that must be left over before it counts as having no path back."""


@dataclass(frozen=True, slots=True)
class Solution:
    """Volts of every node against the ground node, for each drive and sample.

    ``volts`` and ``lost`` have the shape (drives, nodes, samples). Where ``lost``
    is true a drive has no path back from that node, and the volts mean nothing
    (0 is written). ``log_det`` (samples) is the logarithm of the determinant of
    the conductance matrix without the ground's row, floating nodes left out.
    """

    volts: Array
    lost: npt.NDArray[np.bool_]
    log_det: Array

    def across(self, drive: int, ends: Ends) -> Array:
        """Volts from the first of two nodes to the second, per ampere of a drive."""
        return np.asarray(self.volts[drive, ends[0]] - self.volts[drive, ends[1]])

    def load(self, drive: int, ends: Ends) -> Array:
        """Ohms that a drive sees between its two nodes; infinite without a path."""
        lost = self.lost[drive, ends[0]] | self.lost[drive, ends[1]]
        return np.where(lost, np.inf, self.across(drive, ends))


def solve(
    count: int,
    ends: Sequence[Ends],
    ohms: Sequence[Array],
    drives: Sequence[Ends],
    ground: int,
) -> Solution:
    """Solve one network for many samples and several drives of one ampere.

    ``ends`` are the two nodes (numbered from 0 to ``count``) of each branch and ``ohms`` its
    resistance, of shape (samples,) or (1,) where all samples share it; 0 joins its nodes, infinity
    is open. ``drives`` are the nodes that one ampere enters and leaves at. ``ground`` has 0 V;
    whatever is not linked to it floats and is given 0 V at one node of its own.

    Error: nodes are eliminated one by one into the meshes that take their place.
    Conductances are only ever added, multiplied and divided, never subtracted, so
    each volt of a drive that leaves at ``ground`` is right to a few units in the
    last place whatever the values are, zero and infinity among them. The cost is
    linear in samples and, for circuits as people build them, in branches.

    Source: elimination without subtraction after W. K. Grassmann, M. I. Taksar and
    D. P. Heyman, "Regenerative analysis and steady state distributions for Markov
    chains", Oper. Res. 33(5), 1985; in circuits it is the star-mesh transform
    (A. Rosen, "A new network theorem", J. IEE 62, 1924). From memory.
    """
    links = _conductances(count, ends, ohms)
    injected: list[Array] = [np.zeros((len(drives), 1)) for _ in range(count)]
    for number, (enters, leaves) in enumerate(drives):
        injected[enters][number] += 1.0
        injected[leaves][number] -= 1.0
    steps, log_det = [], np.zeros(1)
    waiting = set(range(count)) - {ground}
    while waiting:
        node = min(waiting, key=lambda one: (len(links[one]), one))  # few neighbours: few new links
        waiting.remove(node)
        total, shares = _eliminate(node, links, injected)
        log_det = log_det + np.log(np.where(total > 0.0, total, 1.0))
        steps.append((node, total, shares))
    return _substituted(count, steps, injected, len(drives), log_det)


def _conductances(
    count: int, ends: Sequence[Ends], ohms: Sequence[Array]
) -> list[dict[int, Array]]:
    links: list[dict[int, Array]] = [{} for _ in range(count)]
    for (one, other), value in zip(ends, ohms, strict=True):
        if one == other:
            continue
        siemens = 1.0 / np.maximum(value, TIED)
        for here, there in ((one, other), (other, one)):
            known = links[here].get(there)
            links[here][there] = siemens if known is None else known + siemens
    return links


def _eliminate(
    node: int, links: list[dict[int, Array]], injected: list[Array]
) -> tuple[Array, dict[int, Array]]:
    """Take a node out, put the mesh in its place; its conductances and their shares."""
    row = links[node]
    total: Array = sum(row.values(), start=np.zeros(1))
    whole = np.where(total > 0.0, total, 1.0)
    shares = {other: siemens / whole for other, siemens in row.items()}
    for other, share in shares.items():
        del links[other][node]
        injected[other] = injected[other] + share * injected[node]
    for (one, siemens), (other, _) in combinations(row.items(), 2):
        added = siemens * shares[other]
        known = links[one].get(other)
        both = added if known is None else known + added
        links[one][other] = links[other][one] = both
    return total, shares


def _substituted(
    count: int,
    steps: Sequence[tuple[int, Array, dict[int, Array]]],
    injected: Sequence[Array],
    drives: int,
    log_det: Array,
) -> Solution:
    shape = np.broadcast_shapes(log_det.shape, *(one.shape[1:] for one in injected))
    volts = np.zeros((drives, count, *shape))
    lost = np.zeros((drives, count, *shape), dtype=np.bool_)
    for node, total, shares in reversed(steps):
        floating = total == 0.0
        own = injected[node] / np.where(floating, 1.0, total)
        volts[:, node] = np.where(floating, 0.0, own)
        lost[:, node] = floating & (np.abs(injected[node]) > _LOST)
        for other, share in shares.items():
            volts[:, node] += share * volts[:, other]
            lost[:, node] |= (share > 0.0) & lost[:, other]
    return Solution(volts, lost, np.broadcast_to(log_det, shape))
