"""The most volts that can stand at each lug, for the order of work, the sheet and the pictures.

A lug gets its volts where it is connected to a high point in some position, and where they reach
it through parts: in operation, with the load off, and while one section of a switch, or every
contact of one control, is open. So the low end of a multiplier has the whole voltage, for its way
to chassis may open. A high point stands at the most that is written of it, whatever the parts
around it make of its source resistance: what held it down may have failed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, permutations, product
from math import floor, log10, prod

import numpy as np

from rewire.circuit import LimitReached, States
from rewire.circuit.circuit import circuit_of
from rewire.circuit.connectivity import Beside, beside, bonds_at_rest, controls_of, spread
from rewire.circuit.dc import Array, solve
from rewire.records.spec import Diode, Point, Spec, Wiring
from rewire.values.assemble import work_out
from rewire.values.board import Board, Branch, board_of
from rewire.values.live import most_volts, possible_states

Values = Sequence[Array | None]
Look = tuple[dict[str, int], frozenset[int] | None, str | None]
"""Positions; which sections are open with the loads off, None in operation; the point held."""

HIGH = 50.0
"""Volts from which a lug gets a caution: the project's own limit, DC or rms."""
INSULATION = (300, 600, 1000, 5000, 10_000, 15_000, 20_000, 30_000, 40_000)
"""Usual ratings of hook-up and high-tension wire, volts; common practice, no source."""
_MOST_STATES = 10_000
_MOST_LOOKS = 20_000
_NO_OHMS = 1e-9
_ANY_OHMS = (1e-3, 1e12)
_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class LugVolts:
    """The most volts to chassis at one lug."""

    volts: float
    """With its sign; rms for AC."""
    ac: bool
    point: str | None
    """The point that it is connected to in some position; None where parts lie between."""

    @property
    def said(self) -> str:
        """``-460 V (HT_MINUS)``, ``680 V, through parts``."""
        feeds = f" ({self.point})" if self.point else ", through parts"
        return f"{_three(self.volts):g} V{' AC' if self.ac else ''}{feeds}"

    @property
    def insulation(self) -> str:
        """What a wire here must stand: the next usual rating."""
        volts = abs(self.volts)
        least = next((rating for rating in INSULATION if rating >= volts * (1.0 - _SLACK)), None)
        if least is None:
            return f"insulation for more than {volts / 1000:g} kV"
        said = f"{least / 1000:g} kV" if least >= 1000 else f"{least} V"
        return f"insulation {said} or more"


def insulation_asked(given: float | None, volts: LugVolts | None) -> str | None:
    """What a new wire must stand, from what the plan says of it and the volts at its ends."""
    if given is None:
        return volts.insulation if volts else None
    if volts and abs(volts.volts) > given:
        return f"{volts.insulation}, the {given:g} V of the plan are too little"
    return f"insulation for {given:g} V"


def _three(volts: float) -> float:
    """To three figures, for what is worked out; what is given has hardly more."""
    return round(volts, 2 - floor(log10(abs(volts)))) if volts else volts


def is_high(point: Point) -> bool:
    """Whether a point gets a caution."""
    return abs(most_volts(point)) >= HIGH


def high_points(spec: Spec) -> list[Point]:
    """Points of 50 V or more, the highest first."""
    high = [p for p in spec.points.values() if is_high(p) and not p.chassis]
    return sorted(high, key=lambda p: (-abs(most_volts(p)), p.name))


def lug_volts(spec: Spec, wiring: Wiring) -> dict[str, LugVolts]:
    """Terminal or point → its volts, for each that can stand at 50 V or more.

    What lies on the chassis is never among them. Where the circuit is too large, has a part of
    unknown value or no chassis, every part and contact passes all volts on: rather one caution
    too many.
    """
    if not high_points(spec):
        return {}
    board, values = _board(spec, wiring)
    cold = {board.node(p.name) for p in spec.points.values() if p.chassis}
    through = _solved(board, values) if cold else None
    if through is None:
        through = _all_passed_on(board, cold)
    found = _connected(board, cold)
    for node, volts in through.items():
        if _is_more(volts, found.get(node)):
            found[node] = volts
    _over_diodes(board, found, cold)
    of = board.nets.of
    return {place: found[node] for place, node in of.items() if node in found}


def _is_more(one: LugVolts, other: LugVolts | None) -> bool:
    return other is None or abs(one.volts) > abs(other.volts) * (1.0 + _SLACK)


def _board(spec: Spec, wiring: Wiring) -> tuple[Board, Values]:
    """The wiring's board, with the values that are to be fitted where they can be."""
    board = board_of(spec, wiring)
    if not any(getattr(part, "fit_for", None) for part in wiring.parts.values()):
        return board, board.nominal()
    try:
        worked = work_out(spec, wiring)
    except LimitReached:
        return board, board.nominal()
    return worked.board, worked.values


def _connected(board: Board, cold: set[int]) -> dict[int, LugVolts]:
    """Nodes that contacts alone connect to a high point in some position, not over the chassis."""
    spec, circuit = board.spec, circuit_of(board.spec, board.wiring)
    contacts, links = circuit.contacts, circuit.links
    controls = controls_of(links, contacts)
    bonds, possible = [(link.places, 1) for link in links], 1
    if prod(len(spec.controls[name].positions) for name in controls) <= _MOST_STATES:
        states = States(spec.controls, spec.never)
        frame = states.frame(controls)
        bonds, possible = bonds_at_rest(links, contacts, frame), states.possible(frame)
    return _spread(board, beside(bonds), possible, cold, over_parts=False)


def _all_passed_on(board: Board, cold: set[int]) -> dict[int, LugVolts]:
    """As if every contact were closed and every part passed all volts on."""
    bonds = beside([(branch.ends, 1) for branch in board.branches])
    return _spread(board, bonds, 1, cold, over_parts=True)


def _spread(
    board: Board, bonds: Beside, possible: int, cold: set[int], *, over_parts: bool
) -> dict[int, LugVolts]:
    found: dict[int, LugVolts] = {}
    for point in high_points(board.spec):
        start = board.node(point.name)
        if start in cold:
            continue
        for node in spread(bonds, start, possible, cold.__contains__):
            if node not in cold:
                name = None if over_parts and node != start else point.name
                found.setdefault(node, LugVolts(most_volts(point), point.ac, name))
    return found


def _solved(board: Board, values: Values) -> dict[int, LugVolts] | None:
    """The most of every node over all looks, in one solution; None where that is too much.

    Source: superposition. A node's volts are a ratio of two expressions that are of first degree
    in each resistance, so that they are greatest at one end of what a resistance may be.
    """
    unknown = [number for number, value in enumerate(values) if value is None]
    looks = list(islice(_looks(board), _MOST_LOOKS + 1))
    if len(looks) << len(unknown) > _MOST_LOOKS:
        return None
    corners = list(product((0, 1), repeat=len(unknown)))
    looks = [look for look in looks for _ in corners]
    known = [np.array([0.0]) if value is None else value for value in values]
    for place, number in enumerate(unknown):
        ends = (0.0, 1.0) if board.values[number].is_setting else _ANY_OHMS
        picked = [ends[corner[place]] for corner in corners]
        known[number] = np.array(picked * (len(looks) // len(corners)))
    points = [p for p in board.spec.points.values() if not p.chassis]
    ground = next(board.node(p.name) for p in board.spec.points.values() if p.chassis)
    feeds = [(board.node(p.name), ground) for p in points]
    inner = [_inner_ohms(point, looks) for point in points]
    ohms = [_ohms(branch, known, looks) for branch in board.branches] + inner
    solved = solve(board.count, [*(b.ends for b in board.branches), *feeds], ohms, feeds, ground)
    shares = [
        _volts(point, looks) / inner[row] * solved.volts[row] for row, point in enumerate(points)
    ]
    nothing = np.zeros((board.count, len(looks)))
    steady = sum((s for s, p in zip(shares, points, strict=True) if not p.ac), nothing)
    swing = sum((abs(s) for s, p in zip(shares, points, strict=True) if p.ac), nothing)
    return dict(
        _most(np.broadcast_to(steady, nothing.shape), np.broadcast_to(swing, nothing.shape))
    )


def _looks(board: Board) -> Iterator[Look]:
    """In operation; then with one point held high, and nothing or something open."""
    high = [point.name for point in high_points(board.spec)]
    for state in possible_states(board.spec):
        yield state, None, None
        for opened in _opened(board, state):
            yield from ((state, opened, name) for name in high)


def _opened(board: Board, state: dict[str, int]) -> Iterator[frozenset[int]]:
    """Sections that are open: none, each of the closed ones, all of one control."""
    closed = [b for b in board.branches if b.control and b.closed(state)]
    sets = [frozenset[int]()]
    sets += [frozenset({branch.section}) for branch in closed]
    for name in dict.fromkeys(b.control for b in closed):
        sets.append(frozenset(b.section for b in closed if b.control == name))
    yield from dict.fromkeys(sets)


def _ohms(branch: Branch, known: Sequence[Array], looks: Sequence[Look]) -> Array:
    """A branch's ohms in each look; infinite where its contact is open."""
    ohms = np.asarray(branch.ohms(known))
    if branch.control is None:
        return ohms
    closed = [branch.closed(s) and branch.section not in (opened or ()) for s, opened, _ in looks]
    return np.where(closed, ohms, np.inf)


def _inner_ohms(point: Point, looks: Sequence[Look]) -> Array:
    """A source's own ohms in each look: none where it is held, infinite where it has no volts."""
    own = max(point.source_resistance, _NO_OHMS)
    return np.array([
        _NO_OHMS if held == point.name else np.inf if _given(point, opened) is None else own
        for _, opened, held in looks
    ])  # fmt: skip


def _volts(point: Point, looks: Sequence[Look]) -> Array:
    return np.array([
        most_volts(point) if held == point.name else _given(point, opened) or 0.0
        for _, opened, held in looks
    ])  # fmt: skip


def _given(point: Point, opened: frozenset[int] | None) -> float | None:
    """What is written of a point in operation, or with its load off."""
    risen = opened is not None and point.rises_to is not None
    return point.rises_to if risen else point.volts


def _most(steady: Array, swing: Array) -> Iterator[tuple[int, LugVolts]]:
    """Of each node the look with the most, from 50 V on; DC and rms add up."""
    sizes = np.abs(steady) + swing
    for node, look in enumerate(np.argmax(sizes, axis=1)):
        size, at_rest = float(sizes[node, look]), float(steady[node, look])
        if size >= HIGH * (1.0 - _SLACK):
            ac = size > 2.0 * abs(at_rest)
            yield node, LugVolts(-size if at_rest < 0 else size, ac, None)


def _over_diodes(board: Board, found: dict[int, LugVolts], cold: set[int]) -> None:
    """A diode may pass on what stands at one of its ends, and a capacitor does so with AC."""
    waiting = True
    while waiting:
        waiting = False
        for name, *ends in board.blocked:
            for one, other in permutations(ends):
                volts = found.get(one)
                passes = volts and (volts.ac or isinstance(board.parts[name], Diode))
                if volts and passes and other not in cold and _is_more(volts, found.get(other)):
                    found[other] = replace(volts, point=None)
                    waiting = True
