"""How far a wiring is from the original, counted quickly: what is worth a comparison."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import product
from math import prod

from rewire.circuit.circuit import Circuit, circuit_of
from rewire.circuit.graph import Joiner
from rewire.circuit.roles import roles_as_written
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch

_MOST_STATES = 24
"""States that are asked all; where there are more, one control at a time is moved."""


class Apart:
    """How far a wiring is from the original at rest, counted quickly.

    Which of its terminals contacts connect is asked for a few states, for what has a role in both.
    It only says what is worth a comparison: nothing is told because of it.
    """

    def __init__(self, spec: Spec, wiring: Wiring) -> None:
        self.spec = spec
        roles = roles_as_written(spec, wiring)
        self.states = few_states(spec)
        self._meant = _meant(spec, wiring)
        self._closed = self._contacts(wiring)
        anchors = sorted(roles.seat)
        here = circuit_of(spec, spec.original)
        self._was = self._labels(here, self._contacts(spec.original), anchors)
        self._seats = [roles.seat[anchor] for anchor in anchors]

    def pairs(self, wiring: Wiring) -> int:
        """Pairs of terminals that only one of the two connects, over all the states."""
        now = self._labels(circuit_of(self.spec, wiring), self._closed, self._seats)
        return sum(map(_pairs_apart, self._was, now))

    def _contacts(self, wiring: Wiring) -> list[list[tuple[str, ...]]]:
        """Per state the groups of terminals that contacts close."""
        sections = [
            (switch, section)
            for switch in self.spec.all_of(Switch, wiring).values()
            for section in switch.sections
        ]
        return [
            [
                tuple(map(switch.terminal, group))
                for switch, section in sections
                for group in section.groups[state[switch.control]]
            ]
            for state in self.states
        ]

    def _labels(
        self, circuit: Circuit, closed: Sequence[Sequence[tuple[str, ...]]], seats: Sequence[str]
    ) -> list[list[int]]:
        """Per state which terminals are connected: those that have a number in common."""
        index = {name: number for number, name in enumerate(circuit.terminals)}
        soldered = Joiner(len(index))
        for joint in circuit.soldered:
            soldered.join([index[name] for name in joint])
        for lugs in self._meant:
            soldered.join([index[name] for name in lugs if name in index])
        numbers = [index[seat] for seat in seats]
        found = []
        for groups in closed:
            joiner = soldered.copy()
            for group in groups:
                joiner.join([index[name] for name in group])
            found.append([joiner.root(number) for number in numbers])
        return found


def _meant(spec: Spec, wiring: Wiring) -> list[tuple[str, ...]]:
    """Lugs of the parts that are declared as now in series: they count as connected."""
    parts = spec.parts_of(wiring)
    names = (name for c in wiring.changes if c.kind == "insert" for name in c.parts)
    return [parts[name].full_terminals for name in dict.fromkeys(names) if name in parts]


def few_states(spec: Spec) -> list[dict[str, int]]:
    """Every position of each control, the others at their first; all states where these are few."""
    sizes = {name: len(control.positions) for name, control in spec.controls.items()}
    if prod(sizes.values()) <= _MOST_STATES:
        every = product(*(range(size) for size in sizes.values()))
        return [dict(zip(sizes, at, strict=True)) for at in every]
    first = dict.fromkeys(sizes, 0)
    return [{**first, name: at} for name, size in sizes.items() for at in range(size)]


def _pairs_apart(was: Sequence[int], now: Sequence[int]) -> int:
    """Pairs that are together in one of two partitions and not in the other."""
    one, other, both = Counter(was), Counter(now), Counter(zip(was, now, strict=True))
    together = (sum(n * (n - 1) for n in of.values()) for of in (one, other, both))
    first, second, shared = together
    return (first + second) // 2 - shared
