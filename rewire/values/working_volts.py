"""Working volts: what every net stands at, as far as the spec says, in any moment."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import nan, sqrt

import numpy as np

from rewire.circuit.dc import Array, solve
from rewire.circuit.graph import Joiner
from rewire.records.spec import Point, Spec
from rewire.values.dc_network import Branch, DcNetwork, Solved, Values, filled

_NO_OHMS = 1e-9


@dataclass(frozen=True, slots=True)
class Look:
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
        risen = self.opened is not None and point.rises_to is not None
        return point.rises_to if risen else point.volts

    def closes(self, branch: Branch) -> bool:
        """Whether a branch conducts."""
        return branch.closed(self.state) and branch.section not in (self.opened or ())


def possible_states(spec: Spec) -> Iterator[dict[str, int]]:
    """Every combination of positions that can occur, by number; many where controls are many."""
    controls = spec.controls
    never = [
        {name: controls[name].positions.index(at) for name, at in item.items()}
        for item in spec.never
    ]
    for at in product(*(range(len(control.positions)) for control in controls.values())):
        state = dict(zip(controls, at, strict=True))
        if not any(all(state[n] == p for n, p in item.items()) for item in never):
            yield state


def alone(
    network: DcNetwork, ground: int, columns: Sequence[Array], looks: Sequence[Look]
) -> dict[str, Array]:
    """Volts that each point by itself puts on every node, shape (nodes, looks).

    Source: superposition, each source behind its own resistance.
    """
    points = [p for p in network.spec.points.values() if not p.chassis]
    feeds = [(network.node(point.name), ground) for point in points] or [(ground, ground)]
    inner = [_inner_ohms(point, looks) for point in points] or [np.full(1, np.inf)]
    ends = [*(branch.ends for branch in network.branches), *feeds]
    solved = solve(network.count, ends, [*columns, *inner], feeds, ground)
    return {
        point.name: np.broadcast_to(
            np.array([look.volts(point) or 0.0 for look in looks])
            / inner[row] * solved.volts[row], (network.count, len(looks)),
        )
        for row, point in enumerate(points)
    }  # fmt: skip


def _inner_ohms(point: Point, looks: Sequence[Look]) -> Array:
    """A source's own ohms: none where it is held, infinite where it has no volts."""
    own = max(point.source_resistance, _NO_OHMS)
    return np.array([
        _NO_OHMS if look.held == point.name else np.inf if look.volts(point) is None else own
        for look in looks
    ])  # fmt: skip


def column(branch: Branch, values: Values, looks: Sequence[Look]) -> Array:
    """A branch's ohms in each look; infinite where it is open or not known."""
    if not branch.known(values):
        return np.full(1, np.inf)
    ohms = np.asarray(branch.ohms(filled(values)))
    if branch.control is None:
        return ohms
    return np.where([look.closes(branch) for look in looks], ohms, np.inf)


@dataclass(frozen=True, slots=True)
class Live:
    """Volts to chassis of every node in one look.

    ``steady`` are those of the DC sources together, shape (nodes,); ``swinging`` the peaks of
    each AC source, shape (AC sources, nodes). ``known`` is false where a point whose volts are
    not given, or a diode, may feed the node: what is not given is unknown, never safe.
    ``floating`` is true where nothing links the node to chassis or to a source.
    """

    steady: Array
    swinging: Array
    known: Sequence[bool]
    floating: Sequence[bool]

    def apart(self, one: int, other: int) -> float | None:
        """The most there can be between two nodes, volts.

        None if it is not known; NaN if one of them floats, on nothing that is known.

        Source: one AC source is in step with itself; of several the phases are not
        known, so that their peaks add.
        """
        if one == other:
            return 0.0
        if not (self.known[one] and self.known[other]):
            return None
        if self.floating[one] or self.floating[other]:
            return nan
        swing = np.sum(np.abs(self.swinging[:, one] - self.swinging[:, other]))
        return float(abs(self.steady[one] - self.steady[other]) + swing)


def live(solved: Solved, looks: Sequence[Look]) -> Iterator[Live]:
    """Volts of every node of a wiring, look by look; nothing if the spec names no chassis."""
    network, values = solved.network, solved.values
    ground = network.chassis
    if ground is None or not looks:
        return
    columns = [column(branch, values, looks) for branch in network.branches]
    volts = alone(network, ground, columns, looks)
    points = network.spec.points
    nothing = np.zeros((network.count, len(looks)))
    steady = sum((v for name, v in volts.items() if not points[name].ac), nothing)
    swinging = [sqrt(2.0) * v for name, v in volts.items() if points[name].ac]
    peaks = np.array(swinging).reshape(-1, network.count, len(looks))
    for number, look in enumerate(looks):
        status = _status(network, values, look, ground)
        yield Live(steady[:, number], peaks[:, :, number], *status)


def _status(
    network: DcNetwork, values: Values, look: Look, ground: int
) -> tuple[list[bool], list[bool]]:
    """Which nodes are known, and which float.

    Not known: what is tied to a point whose volts are not given; what floats with
    such a point, or on a part or a diode that no sum can be made with.
    """
    points = [p for p in network.spec.points.values() if not p.chassis]
    closed = [branch for branch in network.branches if look.closes(branch)]
    fed = [(network.node(p.name), ground) for p in points if look.volts(p) is not None]
    paths, ties = Joiner(network.count), Joiner(network.count)
    for ends in (*(b.ends for b in closed if b.known(values)), *fed):
        paths.join(ends)
    for branch in closed:
        if branch.control is not None:
            ties.join(branch.ends)
    unsaid = [network.node(point.name) for point in points if point.volts is None]
    tied = {ties.root(node) for node in unsaid} - {ties.root(ground)}
    vague = [node for b in closed if not b.known(values) for node in b.ends]
    vague += [node for branch in network.blocked for node in branch.ends]
    loose = {paths.root(node) for node in (*unsaid, *vague)}
    floating = [paths.root(n) != paths.root(ground) for n in range(network.count)]
    known = [
        ties.root(n) not in tied and (not floats or paths.root(n) not in loose)
        for n, floats in enumerate(floating)
    ]
    return known, floating
