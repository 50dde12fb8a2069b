"""The network of a reading against Kirchhoff's laws and Ohm's, and currents by numpy."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings

from rewire.reading import read_spec, read_text
from rewire.records.parts import Capacitor, Diode, Pot
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch
from rewire.values.reading_network import Network, network_of
from rewire.values.readings import SHORTED
from rewire.values.solved import solved_of
from tests.draw.random_circuits import random_circuit
from tests.values.reference import Made, exact
from tests.values.test_readings import circuits, tied_by_zeros

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
SMALL = 1e-9


def networks(spec: Spec, wiring: Wiring) -> list[Network]:
    solved = solved_of(spec, wiring)
    return [network_of(solved, name) for name in wiring.readings]


def obeys_the_laws(network: Network) -> None:
    """Currents that obey all three laws are the currents: there is one solution."""
    assert network.amps is not None
    scale = abs(network.amps) + sum(abs(b.amps or 0.0) for b in network.branches)
    ohms_law(network, scale)
    current_law(network, scale)
    voltage_law(network)


def ohms_law(network: Network, scale: float) -> None:
    for branch in network.branches:
        if branch.kind in {"capacitor", "diode"}:
            assert branch.amps == 0.0
        elif branch.ohms:
            assert branch.amps is not None
            assert branch.volts == pytest.approx(
                branch.amps * branch.ohms, rel=1e-6, abs=SMALL * scale * branch.ohms
            )


def current_law(network: Network, scale: float) -> None:
    """At each node, or at nodes joined by contacts that share as they please, nothing is left."""
    joined = nx.Graph([b.ends for b in network.branches if b.amps is None])
    joined.add_nodes_from(range(len(network.nodes)))
    assert network.amps is not None
    for group in nx.connected_components(joined):
        leaving = network.amps * ((network.exit in group) - (network.entry in group))
        for branch in network.branches:
            a, b = (end in group for end in branch.ends)
            leaving += (branch.amps or 0.0) * (a - b)
        assert leaving == pytest.approx(0.0, abs=SMALL * scale)


def voltage_law(network: Network) -> None:
    """Each node has one potential; the drive's own is what it was asked for."""
    volts = {network.entry: 0.0}
    waiting = [network.entry]
    largest = max(abs(b.volts or 0.0) for b in network.branches)
    while waiting:
        node = waiting.pop()
        for branch in network.branches:
            if node in branch.ends:
                assert branch.volts is not None
                first = node == branch.ends[0]
                other = branch.ends[1] if first else branch.ends[0]
                there = volts[node] - branch.volts if first else volts[node] + branch.volts
                if other not in volts:
                    waiting.append(other)
                assert volts.setdefault(other, there) == pytest.approx(there, abs=SMALL * largest)
    assert network.volts == pytest.approx(-volts[network.exit], abs=SMALL * largest)
    reading = network.reading
    if reading.quantity == "current":
        assert network.amps == reading.full_scale
    else:
        assert network.amps is not None
        assert network.volts is not None
        driven = network.volts + reading.source_resistance * network.amps
        assert driven == pytest.approx(reading.full_scale, rel=1e-9)


def reads_what_its_meter_carries(network: Network) -> None:
    carried = [b.amps for b in network.branches if b.part == network.meter]
    if carried and carried[0] is not None:
        assert network.meter_amps == pytest.approx(carried[0], rel=1e-6, abs=1e-15)


def node_of(spec: Spec, terminal: str) -> str:
    """The first member of the net that a terminal is on; random specs have nets alone."""
    return next((net.members[0] for net in spec.original.nets if terminal in net.members), terminal)


def resistances(spec: Spec) -> Iterator[tuple[str, str, str]]:
    """What passes DC, a pot as two: its name and its two nodes."""
    for part in spec.original.parts.values():
        nodes = [node_of(spec, part.terminal(lug)) for lug in part.terminals]
        if isinstance(part, Pot):
            yield f"{part.name} ccw", nodes[0], nodes[1]
            yield f"{part.name} wiper", nodes[1], nodes[2]
        elif not isinstance(part, Capacitor | Diode | Switch):
            yield part.name, nodes[0], nodes[1]


def carrying(spec: Spec, seed: int) -> set[str]:
    """Parts in which a current flows from IN to OUT when each has a value drawn by lot.

    Nodes that contacts join are one; the node equations are solved by numpy.
    """
    joined: nx.Graph[str] = nx.Graph()
    joined.add_nodes_from(["IN", "OUT"])
    for part in spec.original.parts.values():
        nodes = [node_of(spec, part.terminal(lug)) for lug in part.terminals]
        joined.add_nodes_from(nodes)
        if isinstance(part, Switch):
            joined.add_edges_from(zip(nodes[::2], nodes[1::2], strict=True))
    groups = enumerate(nx.connected_components(joined))
    number = {node: n for n, group in groups for node in group}
    every = [(name, number[a], number[b]) for name, a, b in resistances(spec)]
    lot = np.random.default_rng(seed).uniform(1.0, 10.0, len(every))
    size = max(number.values()) + 1
    matrix, right = np.zeros((size, size)), np.zeros(size)
    for (_, a, b), siemens in zip(every, lot, strict=True):
        np.add.at(matrix, ([a, b, a, b], [a, b, b, a]), siemens * np.array([1, 1, -1, -1]))
    right[number[node_of(spec, "IN")]] += 1.0
    right[number[node_of(spec, "OUT")]] -= 1.0
    volts = np.linalg.lstsq(matrix, right, rcond=1e-12)[0]
    return {
        name for (name, a, b), siemens in zip(every, lot, strict=True)
        if abs(volts[a] - volts[b]) * siemens > 1e-7
    }  # fmt: skip


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_shipped_networks_obey_the_laws(path: Path) -> None:
    spec = read_spec(path)
    for wiring in spec.wirings.values():
        for network in networks(spec, wiring):
            obeys_the_laws(network)
            reads_what_its_meter_carries(network)


@pytest.mark.parametrize("seed", range(40))
def test_random_networks_obey_the_laws_and_hold_what_carries_current(seed: int) -> None:
    spec = read_text(random_circuit(seed, blocking=0.0).encode())
    network = networks(spec, spec.original)[0]
    if network.why == SHORTED:
        assert {b.kind for b in network.branches} <= {"contact"}
        return
    shown = {
        f"{b.part} {b.terminals[0].partition('.')[2]}" if b.kind == "pot" else b.part
        for b in network.branches
        if b.kind != "contact"
    }
    kept_anyway = {str(network.meter), *parallel_to_meter(network)}
    assert shown - kept_anyway == carrying(spec, seed) - kept_anyway
    for branch in network.branches:
        if branch.kind == "contact" and branch.amps is not None:
            assert abs(branch.amps) > 0.0 or bridged_meter(network)
    obeys_the_laws(network)
    reads_what_its_meter_carries(network)


def bridged_meter(network: Network) -> bool:
    """Whether the meter carries nothing, as contacts bridge it."""
    return network.meter_amps == 0.0


def parallel_to_meter(network: Network) -> set[str]:
    ends = next((set(b.ends) for b in network.branches if b.part == network.meter), set[int]())
    return {b.part for b in network.branches if set(b.ends) == ends and b.kind != "contact"}


@settings(max_examples=40)
@given(circuits())
def test_the_meter_agrees_with_rational_arithmetic(made: Made) -> None:
    """sympy's exact solution of the same circuit; zeros and standing currents among them."""
    spec = read_text(made.spec())
    network = networks(spec, spec.original)[0]
    wanted = None if tied_by_zeros(made) else exact(made)
    if wanted is None or network.meter_amps is None:
        return
    assert network.meter_amps == pytest.approx(float(wanted[0]), rel=1e-9, abs=1e-12)
    known = [b for b in network.branches if b.amps is not None and b.part == "M1"]
    assert all(b.amps == pytest.approx(float(wanted[0]), rel=1e-6, abs=1e-9) for b in known)
