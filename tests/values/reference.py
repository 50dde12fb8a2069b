"""An independent sum: circuits as plain lists, solved exactly by sympy or densely by numpy.

Nothing here knows the program; ``written`` writes the same circuit as a spec for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
import sympy

Values = Mapping[str, Fraction | float]


@dataclass(frozen=True)
class Bar:
    """A resistance between two nodes; a pot has two, both shares of one value."""

    part: str
    ends: tuple[int, int]
    share: Fraction = Fraction(1)


@dataclass
class Made:
    """A circuit with a meter, a drive, and what may be off by how much (percent)."""

    nodes: int
    bars: list[Bar]
    ohms: dict[str, Fraction]
    tolerance: dict[str, int]
    drive: tuple[int, int]
    amount: Fraction
    voltage: bool = False
    source: Fraction = Fraction(0)
    also: list[tuple[tuple[int, int], Fraction]] = field(default_factory=list)
    pots: dict[str, tuple[tuple[int, int, int], Fraction]] = field(default_factory=dict)
    contacts: list[tuple[int, int]] = field(default_factory=list)
    bare: frozenset[str] = frozenset()
    """Parts whose tolerance is not written."""
    accuracy: int | None = None
    accept: int | None = None

    def written(self, worn: bool = False) -> str:
        """The spec; contacts of a switch tie nodes, without resistance unless ``worn``."""
        points = ", ".join(f"P{n}: {{}}" for n in range(self.nodes))
        parts = [self._part(name) for name in self.ohms]
        stated = "" if worn else ", contact_resistance: 0 ohm"
        lugs = "".join(f"[C{n}, T{n}], " for n in range(len(self.contacts)))
        if self.contacts:
            parts.append(
                f"S1: {{switch: {len(self.contacts)}PST, control: TURN, positions: {{ON: 1}}, "
                f"lugs: [{lugs}]{stated}}}"
            )
        wires = [
            f"[S1.{side}{n}, P{node}]"
            for n, ends in enumerate(self.contacts)
            for side, node in zip("CT", ends, strict=True)
        ]
        kind = "voltage" if self.voltage else "current"
        also = ", ".join(
            f"{{current: [P{a}, P{b}], amount: {float(amps)!r} A}}" for (a, b), amps in self.also
        )
        lines = "\n".join(f"      {part}" for part in parts)
        joined = ", ".join(wires)
        source = f", source_resistance: {float(self.source)!r} ohm" if self.voltage else ""
        when = "{TURN: ON}" if self.contacts else "{}"
        control = "controls: {TURN: [ON]}\n" if self.contacts else ""
        unit = "V" if self.voltage else "A"
        accept = "" if self.accept is None else f", accept: {self.accept} %"
        return (
            f"rewire: 1\ntitle: made\n{control}points: {{{points}}}\nreadings:\n"
            f"  r: {{when: {when}, {kind}: [P{self.drive[0]}, P{self.drive[1]}], "
            f"full_scale: {float(self.amount)!r} {unit}{source}, also: [{also}]{accept}}}\n"
            f"wirings:\n  original:\n    parts:\n{lines}\n    wires: [{joined}]\n"
            f"  other:\n    parts:\n{lines}\n    wires: [{joined}]\n"
        )

    def _part(self, name: str) -> str:
        ohms, off = f"{float(self.ohms[name])!r} ohm", self.tolerance.get(name, 0)
        word = "resistance_tolerance" if name == "M1" else "tolerance"
        band = "" if name in self.bare else f", {word}: {off} %"
        if name in self.pots:
            _, at = self.pots[name]
            return f"{name}: {{pot: {ohms}, setting: {float(100 * at)!r} %{band}}}"
        a, b = next(bar.ends for bar in self.bars if bar.part == name)
        between = f"between: [P{a}, P{b}]"
        if name == "M1":
            accuracy = "" if self.accuracy is None else f", accuracy: {self.accuracy} %"
            return f"M1: {{meter: 1 mA, resistance: {ohms}{band}{accuracy}, {between}}}"
        return f"{name}: {{resistor: {ohms}{band}, {between}}}"

    def nets(self) -> str:
        """Wires that land the pots on their nodes, for the ``nets`` of a wiring."""
        return ", ".join(
            f"[{name}.{lug}, P{node}]"
            for name, (nodes, _) in self.pots.items()
            for lug, node in zip(("ccw", "wiper", "cw"), nodes, strict=True)
        )

    def spec(self, worn: bool = False) -> bytes:
        """The spec's bytes, pots landed."""
        text = self.written(worn)
        nets = self.nets()
        return text.replace("    wires:", f"    nets: [{nets}]\n    wires:").encode()


def exact(made: Made) -> tuple[Fraction, Fraction] | None:
    """Meter current and drive resistance by sympy's rational arithmetic; None if no path.

    Branch currents of every bar are unknowns beside the node voltages (the sparse
    tableau), so that bars of zero ohms need no special case.
    """
    labels = _merged(made)
    bars = [bar for bar in made.bars if labels[bar.ends[0]] != labels[bar.ends[1]]]
    start, end = (labels[n] for n in made.drive)
    inside = _component(bars, labels, end)
    if start not in inside or start == end:
        return None
    solved = []
    for ends, _ in [(made.drive, None), *made.also]:
        one, two = (labels[n] for n in ends)
        if one not in inside or two not in inside:
            return None
        solved.append(_tableau(made, bars, labels, inside, (one, two), end))
    volts, amps = solved[0]
    into = volts[start] - volts[end]
    own = made.amount
    if made.voltage:
        standing = sum(
            (amount * (v[start] - v[end]) for (v, _), (_, amount) in zip(solved[1:], made.also,
                                                                           strict=True)),
            start=Fraction(0),
        )  # fmt: skip
        if into + made.source == 0:
            return None
        own = (made.amount - standing) / (into + made.source)
    total = own * amps.get("M1", Fraction(0))
    for (_, theirs), (_, amount) in zip(solved[1:], made.also, strict=True):
        total += amount * theirs.get("M1", Fraction(0))
    return total, into


def _merged(made: Made) -> list[int]:
    labels = list(range(made.nodes))
    for a, b in made.contacts:
        old, new = labels[a], labels[b]
        labels = [new if label == old else label for label in labels]
    return labels


def _component(bars: Sequence[Bar], labels: Sequence[int], start: int) -> list[int]:
    seen = [start]
    for node in seen:
        for bar in bars:
            ends = [labels[n] for n in bar.ends]
            if node in ends:
                seen += [n for n in ends if n not in seen]
    return seen


def _tableau(
    made: Made,
    bars: Sequence[Bar],
    labels: Sequence[int],
    inside: Sequence[int],
    drive: tuple[int, int],
    ground: int,
) -> tuple[dict[int, Fraction], dict[str, Fraction]]:
    here = [bar for bar in bars if labels[bar.ends[0]] in inside]
    nodes = [n for n in inside if n != ground]
    size = len(nodes) + len(here)
    matrix, right = sympy.zeros(size, size), sympy.zeros(size, 1)
    for row, bar in enumerate(here):
        column = len(nodes) + row
        for node, sign in zip((labels[n] for n in bar.ends), (1, -1), strict=True):
            if node != ground:
                matrix[nodes.index(node), column] += sign
                matrix[column, nodes.index(node)] += sign
        ohms = made.ohms[bar.part] * bar.share
        matrix[column, column] -= sympy.Rational(ohms.numerator, ohms.denominator)
    for node, sign in zip(drive, (1, -1), strict=True):
        if node != ground:
            right[nodes.index(node)] += sign
    found = matrix.LUsolve(right)
    volts = {n: Fraction(int(found[i].p), int(found[i].q)) for i, n in enumerate(nodes)}
    volts[ground] = Fraction(0)
    amps = {
        bar.part: Fraction(int(found[len(nodes) + i].p), int(found[len(nodes) + i].q))
        for i, bar in enumerate(here)
    }
    return volts, amps


def dense(made: Made, values: Values, worn: Sequence[float] = ()) -> float:
    """Meter current by numpy's dense solver, with some values moved; contacts in ohms."""
    bars = [(b.ends, float(values.get(b.part, made.ohms[b.part])) * float(b.share), b.part)
            for b in made.bars]  # fmt: skip
    bars += [(ends, ohms, "") for ends, ohms in zip(made.contacts, worn, strict=True)]
    size = made.nodes + len(bars) + 1
    matrix, right = np.zeros((size, size)), np.zeros(size)
    for row, ((a, b), ohms, _) in enumerate(bars, made.nodes):
        matrix[a, row] += 1
        matrix[b, row] -= 1
        matrix[row, a] += 1
        matrix[row, b] -= 1
        matrix[row, row] = -ohms
    source, (start, end) = size - 1, made.drive
    matrix[start, source] -= 1
    matrix[end, source] += 1
    if made.voltage:
        matrix[source, start], matrix[source, end] = 1, -1
        matrix[source, source] = float(made.source)
        right[source] = float(made.amount)
    else:
        matrix[source, source] = 1
        right[source] = float(made.amount)
    for (a, b), amps in made.also:
        right[a] += float(amps)
        right[b] -= float(amps)
    # Volts count from the end of the drive, in place of its own equation.
    matrix[end, :] = 0
    matrix[end, end] = 1
    right[end] = 0
    found = np.linalg.solve(matrix, right)
    number = next(row for row, (_, _, part) in enumerate(bars, made.nodes) if part == "M1")
    return float(found[number])
