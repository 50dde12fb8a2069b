"""Which diodes an ohmmeter's own voltage makes conduct, and with its plus lead where."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np

from rewire.bench.buzz.measure import Ohms, Touch, readings
from rewire.bench.buzz.mistakes import Edit
from rewire.bench.buzz.network import Ends, Network, State

_OHMS_THAT_MATTER = 100.0
"""Ohms across a diode up to which a test current does not open it; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Way:
    """Diodes that conduct between the leads, and at which end (0, 1) the plus lead must be."""

    diodes: tuple[str, ...] = ()
    plus: tuple[int, ...] = ()


def ways(
    network: Network,
    states: Sequence[State],
    touches: Sequence[Touch],
    ohms: Ohms,
    diodes: Mapping[str, Ends],
) -> list[Way]:
    """For each touch the diodes that matter.

    Where nothing else passes current they are those on a way from lead to lead that goes
    through each from anode to cathode; elsewhere those across which the current through the
    rest leaves enough volts to open them.

    Args:
        network: the wiring.
        states: positions of all controls.
        touches: what is touched.
        ohms: what each reads with all diodes open.
        diodes: name → nodes of anode and cathode.
    """
    if not diodes:
        return [Way()] * len(touches)
    found = [Way()] * len(touches)
    for number in range(len(states)):
        own = [n for n, touch in enumerate(touches) if touch.state == number]
        ends = [touches[n].ends for n in own]
        open_ones = _through(network, states[number], ends, diodes)
        beside = _beside(network, states[number], ends, diodes)
        for row, n in enumerate(own):
            found[n] = open_ones[row] if ohms[n] == np.inf else beside[row]
    return found


def _through(
    network: Network, state: State, pairs: Sequence[Ends], diodes: Mapping[str, Ends]
) -> list[Way]:
    """Ways through diodes alone between pieces that nothing else links."""
    pieces: nx.Graph[int] = nx.Graph()
    pieces.add_nodes_from(range(network.count))
    pieces.add_edges_from((*network.solid, *network.wires, *network.closed(state)))
    pieces.add_edges_from(bar.ends for bar in network.bars if bar.ohms[0] < np.inf)
    piece = {node: n for n, nodes in enumerate(nx.connected_components(pieces)) for node in nodes}
    oneway: nx.DiGraph[int] = nx.DiGraph()
    oneway.add_edges_from((piece[a], piece[k]) for a, k in diodes.values())
    reach = {node: nx.descendants(oneway, node) | {node} for node in oneway}

    def on_the_way(plus: int, minus: int) -> list[str]:
        start, end = piece[plus], piece[minus]
        if start == end or end not in reach.get(start, ()):
            return []
        return [
            name
            for name, (a, k) in diodes.items()
            if piece[a] != piece[k] and piece[a] in reach[start] and end in reach[piece[k]]
        ]

    return [_way(on_the_way(one, other), on_the_way(other, one)) for one, other in pairs]


def _way(forward: Sequence[str], backward: Sequence[str]) -> Way:
    plus = (0,) * bool(forward) + (1,) * bool(backward)
    return Way(tuple(dict.fromkeys((*forward, *backward))), plus)


def _beside(
    network: Network, state: State, pairs: Sequence[Ends], diodes: Mapping[str, Ends]
) -> list[Way]:
    """Diodes beside resistance: volts from anode to cathode per ampere from lead to lead.

    They are half of R(A, minus) + R(K, plus) - R(A, plus) - R(K, minus), as in any network of
    resistances (superposition).
    """
    forward: list[list[str]] = [[] for _ in pairs]
    backward: list[list[str]] = [[] for _ in pairs]
    for name, (a, k) in diodes.items():
        corners = [((a, q), (k, p), (a, p), (k, q)) for p, q in pairs]
        touches = [Touch(0, ends) for four in corners for ends in four]
        found = readings(network, [Edit()], [state], touches)[:, 0].reshape(-1, 4)
        with np.errstate(invalid="ignore"):
            volts = (found[:, 0] + found[:, 1] - found[:, 2] - found[:, 3]) / 2.0
        for row in np.nonzero(np.abs(volts) > _OHMS_THAT_MATTER)[0]:
            if np.isfinite(volts[row]):
                (forward if volts[row] > 0.0 else backward)[row].append(name)
    return [_way(one, other) for one, other in zip(forward, backward, strict=True)]
