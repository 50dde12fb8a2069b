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
from itertools import permutations, product
from math import prod, sqrt

import numpy as np

from rewire.circuit import LimitReached, States
from rewire.circuit.contacts import contacts_of, links_of
from rewire.circuit.dc import Array
from rewire.circuit.ties import Beside, beside, bonds_at_rest, controls_of, spread
from rewire.spec.model import Diode, Point, Spec, Wiring
from rewire.values.assemble import work_out
from rewire.values.board import Board, board_of
from rewire.values.live import Live, live, possible_states

Values = Sequence[Array | None]
Look = tuple[Board, dict[str, int], frozenset[int] | None]
"""A board, positions, and which sections are open with the loads off; None in operation."""

HIGH = 50.0
"""Volts from which a lug gets a caution: the project's own limit, DC or rms."""
INSULATION = (300, 600, 1000, 5000, 10_000, 15_000, 20_000, 30_000, 40_000)
"""Usual ratings of hook-up and high-tension wire, volts; common practice, no source."""
_MOST_STATES = 10_000
_MOST_LOOKS = 2000
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
        return f"{self.volts:.4g} V{' AC' if self.ac else ''}{feeds}"

    @property
    def insulation(self) -> str:
        """What a wire here must stand: the next usual rating."""
        volts = abs(self.volts)
        least = next((rating for rating in INSULATION if rating >= volts * (1.0 - _SLACK)), None)
        if least is None:
            return f"insulation for more than {volts / 1000:g} kV"
        said = f"{least / 1000:g} kV" if least >= 1000 else f"{least} V"
        return f"insulation {said} or more"


def most_volts(point: Point) -> float:
    """The most that is written of a point, in volts with its sign; 0 where nothing is."""
    return max((volts or 0.0 for volts in (point.volts, point.rises_to)), key=abs)


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
    spec, nets = board.spec, board.nets
    contacts = contacts_of(spec, board.wiring, nets)
    links = list(links_of(contacts))
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
    """The most of every node over all looks, by the solver; None where that is too much.

    Source: a node's volts are a ratio of two expressions that are of first degree in each
    resistance, so that they are greatest at one end of what a resistance may be.
    """
    unknown = [number for number, value in enumerate(values) if value is None]
    looks = list(_looks(board))
    if len(looks) << len(unknown) > _MOST_LOOKS:
        return None
    most: dict[int, LugVolts] = {}
    for corner in product((0, 1), repeat=len(unknown)):
        tried = list(values)
        for number, end in zip(unknown, corner, strict=True):
            ends = (0.0, 1.0) if board.values[number].is_setting else _ANY_OHMS
            tried[number] = np.array([ends[end]])
        for now in (live(at, tried, state, opened) for at, state, opened in looks):
            if now is not None:
                _take(most, now)
    return most


def _looks(board: Board) -> Iterator[Look]:
    """The board in operation; then with one point held high, and nothing or something open."""
    held = [_held(board, point) for point in high_points(board.spec)]
    for state in possible_states(board.spec):
        yield board, state, None
        for opened in _opened(board, state):
            yield from ((one, state, opened) for one in held)


def _held(board: Board, point: Point) -> Board:
    """A board on which a point stands at the most that is written of it."""
    high = replace(point, rises_to=most_volts(point), source_resistance=0.0)
    return replace(board, spec=replace(board.spec, points={**board.spec.points, point.name: high}))


def _opened(board: Board, state: dict[str, int]) -> Iterator[frozenset[int]]:
    """Sections that are open: none, each of the closed ones, all of one control."""
    closed = [b for b in board.branches if b.control and b.closed(state)]
    sets = [frozenset[int]()]
    sets += [frozenset({branch.section}) for branch in closed]
    for name in dict.fromkeys(b.control for b in closed):
        sets.append(frozenset(b.section for b in closed if b.control == name))
    yield from dict.fromkeys(sets)


def _take(most: dict[int, LugVolts], now: Live) -> None:
    swing = np.sum(np.abs(now.swinging), axis=0) / sqrt(2.0)
    for node, (steady, rms) in enumerate(zip(now.steady, swing, strict=True)):
        volts = abs(float(steady)) + float(rms)
        if now.floating[node] or volts < HIGH * (1.0 - _SLACK):
            continue
        one = LugVolts(-volts if steady < 0 else volts, bool(rms > abs(steady)), None)
        if _is_more(one, most.get(node)):
            most[node] = one


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
