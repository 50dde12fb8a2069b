"""Flows: the current through every branch of a circuit, branches of no resistance included."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np

from rewire.circuit.dc import Array, Ends, Solution, solve
from rewire.values.circuits import Circuit

TINY = 1e-6
"""Ohm: stands for a meter of no resistance where only watts and volts are asked for."""
_NONE = 1e-20


@dataclass(frozen=True, slots=True)
class Flow:
    """What one branch carries, ampere from its first end to its second.

    ``amps`` is None where the law of currents leaves it open: branches without
    resistance side by side share as they please, ``at_most`` all of it.
    """

    amps: float | None
    at_most: float
    volts: float


def flows(circuit: Circuit, values: Sequence[Array], times: float = 1.0) -> list[Flow] | None:
    """Currents and voltages at so many times the full scale of a reading.

    Args:
        circuit: what carries the reading.
        values: the board's values, each of shape (1,).
        times: factor on the reading's own drive; standing drives stay as they are.

    Returns:
        One flow per branch of the circuit; None if a drive has no way back.

    Source: Kirchhoff's current law at the nodes that branches of no resistance join.
    """
    ohms = [float(np.ravel(branch.ohms(values))[0]) for branch in circuit.branches]
    if circuit.meter is not None and ohms[circuit.meter] == 0.0:
        ohms[circuit.meter] = TINY
    drives = [circuit.ends, *(drive.ends for drive in circuit.also)]
    ends = [branch.ends for branch in circuit.branches]
    solved = solve(circuit.count, ends, [np.array([o]) for o in ohms], drives, circuit.ends[1])
    amps = _drive_amps(circuit, solved, times)
    if solved.lost.any() or not np.isfinite(amps).all():
        return None
    volts = np.tensordot(amps, solved.volts[:, :, 0], axes=1)
    injected = np.zeros(circuit.count)
    for strength, (enters, leaves) in zip(amps, drives, strict=True):
        injected[enters] += strength
        injected[leaves] -= strength
    return _with_ties(ends, ohms, volts, injected)


def _drive_amps(circuit: Circuit, solved: Solution, times: float) -> Array:
    standing = [drive.amps for drive in circuit.also]
    if circuit.volts is None:
        return np.array([(circuit.amps or 0.0) * times, *standing])
    others = sum(
        drive.amps * float(solved.across(n, circuit.ends)[0])
        for n, drive in enumerate(circuit.also, 1)
    )
    whole = circuit.source_ohms + float(solved.across(0, circuit.ends)[0])
    return np.array([(circuit.volts * times - others) / whole if whole else np.inf, *standing])


def _with_ties(
    ends: Sequence[Ends], ohms: Sequence[float], volts: Array, injected: Array
) -> list[Flow]:
    drops = [float(volts[a] - volts[b]) for a, b in ends]
    known = [d / o if o > _NONE else None for d, o in zip(drops, ohms, strict=True)]
    left = injected.copy()
    for (a, b), amps in zip(ends, known, strict=True):
        left[a] -= amps or 0.0
        left[b] += amps or 0.0
    ties: nx.MultiGraph[int] = nx.MultiGraph()
    for number, (a, b) in enumerate(ends):
        if known[number] is None and a != b:
            ties.add_edge(a, b, key=number)
    through = _through_ties(ties, ends, left)
    return [
        Flow(amps, abs(amps), drop) if amps is not None else Flow(*through.get(n, (0.0, 0.0)), 0.0)
        for n, (amps, drop) in enumerate(zip(known, drops, strict=True))
    ]


def _through_ties(
    ties: nx.MultiGraph[int], ends: Sequence[Ends], left: Array
) -> dict[int, tuple[float | None, float]]:
    """Currents through branches of no resistance, from what is left over at their nodes."""
    found: dict[int, tuple[float | None, float]] = {}
    for nodes in nx.connected_components(ties):
        most = float(sum(max(left[node], 0.0) for node in nodes))
        for _, _, number in ties.subgraph(nodes).edges(keys=True):
            a, b = ends[number]  # the graph may name them the other way round
            found[number] = None, most
            if ties.number_of_edges(a, b) > 1:
                continue
            cut = ties.subgraph(nodes).copy()
            cut.remove_edge(a, b, number)
            side = nx.node_connected_component(cut, a)
            if b not in side:
                amps = float(sum(left[node] for node in side))
                found[number] = amps, abs(amps)
    return found
