"""Node equations solved in exact fractions: slow, and never wrong by a digit."""

from collections.abc import Mapping
from fractions import Fraction

from tests.simulator.netlist import Circuit, Ends, Source


def volts(circuit: Circuit) -> dict[str, Fraction]:
    """Volts of every node, each piece of the circuit against the node it goes by.

    A source's current is an unknown more.
    """
    pieces = circuit.grounds()
    names = sorted({node for ends in circuit.edges() for node in ends})
    free = {node: i for i, node in enumerate(n for n in names if pieces(n) != n)}
    size = len(free) + (1 if circuit.source else 0)
    rows = [[Fraction(0)] * (size + 1) for _ in range(size)]
    for ends, ohms in circuit.resistors.values():
        mine = [(free[node], sign) for node, sign in _signed(ends) if node in free]
        for a, sign in mine:
            for b, other in mine:
                rows[a][b] += sign * other / ohms
    for ends, amps in circuit.currents:
        for node, sign in _signed(ends):
            if node in free:
                rows[free[node]][size] += sign * amps
    if circuit.source:
        _add_source(rows, circuit.source, free)
    found = _eliminated(rows, size)
    return {node: found[free[node]] if node in free else Fraction(0) for node in names}


def _signed(ends: Ends) -> tuple[tuple[str, int], tuple[str, int]]:
    return (ends[0], 1), (ends[1], -1)


def _add_source(rows: list[list[Fraction]], source: Source, free: Mapping[str, int]) -> None:
    """Its current is the last unknown, its volts the last equation."""
    for node, sign in _signed(source.ends):
        if node in free:
            rows[free[node]][-2] -= sign
            rows[-1][free[node]] += sign
    rows[-1][-2] += source.ohms
    rows[-1][-1] = source.volts


def _eliminated(rows: list[list[Fraction]], size: int) -> list[Fraction]:
    for column in range(size):
        pivot = next(r for r in range(column, size) if rows[r][column])
        rows[column], rows[pivot] = rows[pivot], rows[column]
        top = rows[column]
        for row in range(size):
            if row != column and rows[row][column]:
                factor = rows[row][column] / top[column]
                rows[row] = [
                    x - factor * y if y else x for x, y in zip(rows[row], top, strict=True)
                ]
    return [rows[i][size] / rows[i][i] for i in range(size)]
