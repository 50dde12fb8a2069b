"""Rigs of any size, and the peer: a networkx graph built anew for each position."""

from __future__ import annotations

import time
from collections.abc import Iterator

import networkx as nx

from rewire.spec.model import Spec, Wiring

POSITIONS = 24
POLES = "ABCD"
LUGS_OF_A_SWITCH = len(POLES) * (1 + POSITIONS)
LARGEST = 100_000


def rig(lugs: int) -> bytes:
    """Four-pole switches of 24 throws, ten to a control; one wire in a hundred is lost."""
    switches = range(max(lugs // LUGS_OF_A_SWITCH, 1))
    controls = sorted({number // 10 for number in switches})
    throws = range(1, POSITIONS + 1)
    stops = ", ".join(f"P{position}" for position in throws)
    kind = f"switch: 4P{POSITIONS}T, timing: non-shorting"
    parts = [f"      S{number}: {{{kind}, control: K{number // 10}}}" for number in switches]
    wires = [
        f"      - [S{number}.{pole}{throw}, N{number}-{throw}]"
        for number in switches for pole in POLES for throw in throws
    ]  # fmt: skip
    points = [f"  N{number}-{throw}: {{}}" for number in switches for throw in throws]
    lacking = [wire for count, wire in enumerate(wires) if count % 100]
    return "\n".join([
        "rewire: 1", "title: a large rig", "controls:",
        *(f"  K{control}: [{stops}]" for control in controls),
        "points:", *points, "wirings:",
        "  original:", "    parts:", *parts, "    wires:", *wires,
        "  substitute:", "    parts:", *parts, "    wires:", *lacking,
    ]).encode()  # fmt: skip


def built_anew(spec: Spec) -> float:
    """Processor seconds that networkx takes, the plain way.

    In each position of each control, the graph of both wirings is built from the wires and
    closed contacts, and its connected components are taken. Every combination of controls would
    be a power of this: the peer is spared that.
    """
    start = time.process_time()
    for control in spec.controls.values():
        for position in control.positions:
            for wiring in spec.wirings.values():
                graph = nx.Graph(_wires(wiring))
                graph.add_edges_from(_closed(wiring, control.name, position))
                list(nx.connected_components(graph))
    return time.process_time() - start


def _wires(wiring: Wiring) -> Iterator[tuple[str, str]]:
    for wire in wiring.wires:
        yield str(wire.ends[0]), str(wire.ends[1])


def _closed(wiring: Wiring, turned: str, position: str) -> Iterator[tuple[str, str]]:
    for name in wiring.parts:
        control = f"K{int(name[1:]) // 10}"
        stop = int(position[1:]) if control == turned else 1
        for pole in POLES:
            yield f"{name}.{pole}", f"{name}.{pole}{stop}"
