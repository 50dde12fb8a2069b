"""All corners of a box of tolerances, by plain node equations in numpy.

It only finds the two worst corners; what the meter takes there is asked of the simulator.
"""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import product
from typing import Any

import numpy as np

from tests.simulator.netlist import Circuit, Ends, Source
from tests.simulator.readings import Taken

Corner = dict[str, Fraction]


def worst_corners(taken: Taken) -> tuple[Corner, Corner]:
    """Where the meter takes least, and where most."""
    free, nominal = taken.free(), taken.rig.nominal
    each = [(amps, corner) for amps, corner in _all(taken, free, nominal)]
    least, most = min(each, key=lambda e: e[0].min()), max(each, key=lambda e: e[0].max())
    return _at(least, free, int(least[0].argmin())), _at(most, free, int(most[0].argmax()))


def _at(
    found: tuple[Any, Corner], free: Mapping[str, tuple[Fraction, Fraction]], number: int
) -> Corner:
    """The corner of a number: its values from first to last are its binary digits."""
    inner = [name for name in free if name not in found[1]]
    digits = [number >> (len(inner) - 1 - place) & 1 for place in range(len(inner))]
    return {**found[1], **{n: free[n][d] for n, d in zip(inner, digits, strict=True)}}


def _all(
    taken: Taken, free: Mapping[str, tuple[Fraction, Fraction]], nominal: Mapping[str, Fraction]
) -> Iterator[tuple[Any, Corner]]:
    """The meter's current at all corners that share the same contacts without resistance."""
    contacts = [name for name in free if "–" in name]
    inner = {name: ends for name, ends in free.items() if name not in contacts}
    count = 2 ** len(inner)
    known = {name: float(ohms) for name, ohms in nominal.items()}
    bits = np.arange(count)
    for place, (name, (low, high)) in enumerate(inner.items()):
        upper = bits >> (len(inner) - 1 - place) & 1
        known[name] = np.where(upper == 1, float(high), float(low))
    for chosen in product(*(free[name] for name in contacts)):
        corner = dict(zip(contacts, chosen, strict=True))
        yield _meter_amps(taken, {**known, **corner}, {**nominal, **corner}, count), corner


def _meter_amps(taken: Taken, box: Any, one: Corner, count: int) -> Any:
    """Of as many samples, all with the nodes that the values ``one`` leave."""
    circuit, ends = taken.circuit(one), taken.net.merged(one)[1]
    plus, minus = ends(f"{taken.meter}.+"), ends(f"{taken.meter}.-")
    if plus == minus or taken.meter not in circuit.resistors:
        return np.zeros(count)
    ohms = {b.name: b.ohms(box) for b in taken.net.branches if b.name in circuit.resistors}
    volts = _solved(circuit, ohms, count)
    return (volts.get(plus, 0.0) - volts.get(minus, 0.0)) / ohms[taken.meter]


def _solved(circuit: Circuit, ohms: Mapping[str, Any], count: int) -> dict[str, Any]:
    pieces = circuit.grounds()
    names = sorted({node for ends in circuit.edges() for node in ends if pieces(node) != node})
    at = {node: number for number, node in enumerate(names)}
    size = len(names) + (circuit.source is not None)
    rows, known = np.zeros((count, size, size)), np.zeros((count, size))
    for name, (ends, _) in circuit.resistors.items():
        mine = [(at[node], sign) for node, sign in _signed(ends) if node in at]
        for a, sign in mine:
            for b, other in mine:
                rows[:, a, b] += sign * other / ohms[name]
    for ends, amps in circuit.currents:
        for node, sign in _signed(ends):
            if node in at:
                known[:, at[node]] += sign * float(amps)
    if circuit.source:
        _add_source(rows, known, circuit.source, at)
    found = np.linalg.solve(rows, known[:, :, None])[:, :, 0]
    return {node: found[:, number] for node, number in at.items()}


def _signed(ends: Ends) -> tuple[tuple[str, float], tuple[str, float]]:
    return (ends[0], 1.0), (ends[1], -1.0)


def _add_source(rows: Any, known: Any, source: Source, at: Mapping[str, int]) -> None:
    """Its current is the last unknown, its volts the last equation."""
    for node, sign in _signed(source.ends):
        if node in at:
            rows[:, at[node], -1] -= sign
            rows[:, -1, at[node]] += sign
    rows[:, -1, -1] += float(source.ohms)
    known[:, -1] = float(source.volts)
