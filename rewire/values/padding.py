"""Padding: fixed resistors beside a pot, so that no stop hurts and the setting is not cramped."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rewire.circuit.dc import Array
from rewire.records.spec import Pot
from rewire.values.board import Board, Branch, Value
from rewire.values.circuits import Circuit
from rewire.values.fitting import Unknown
from rewire.values.reach import Needed, corner_settings
from rewire.values.readings import Setup
from rewire.values.stops import seen_at
from rewire.words.quantity import in_ohms

_TENTH = 0.1
_HURT = 2.0
"""Times full scale that a movement stands for a while; common practice, no source."""
_MOST_CORNERS = 50_000
"""Corners of the tolerance box beyond which no other pot is tried."""
_PAD_TOLERANCE = 0.01
"""Of the fixed resistors that are thought of, a share: film resistors of 1 %."""
_USUAL_TRACKS = tuple(m * 10.0**p for p in range(7) for m in (1.0, 2.0, 5.0))
"""Tracks that pots are made with, ohm; common practice, no source."""
_USUAL_FIXED = tuple(
    m * 10.0**p
    for p in range(-1, 7)
    for m in (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
)
"""E12 of IEC 60063, ohm."""


@dataclass(frozen=True, slots=True)
class Padded:
    """A pot of another track, with fixed resistors at its ends; 0 for none."""

    at_ccw: float
    track: float
    at_cw: float


def advice(
    board: Board,
    unknown: Unknown,
    values: Sequence[Array],
    setups: Sequence[Setup],
    over: Needed,
    stops: Sequence[float | None],
) -> str | None:
    """What would keep the meter safe and the setting off the stops; None if nothing is amiss.

    Args:
        board: the wiring.
        unknown: the pot's setting and its reading.
        values: the board's values, each of shape (1,).
        setups: all readings of the wiring.
        over: settings that are needed over the tolerance box.
        stops: times full scale through the meter at either stop.
    """
    pot = board.parts[unknown.part]
    hurt = max((abs(stop) for stop in stops if stop is not None), default=0.0)
    cramped = over.low < _TENTH or over.high > 1.0 - _TENTH
    if not isinstance(pot, Pot) or not (hurt > _HURT or cramped):
        return None
    why = "the setting may come to lie in the last tenth of the travel"
    if hurt > _HURT:
        why = f"a stop puts {hurt:.3g} times full scale through the meter"
    if np.isinf(hurt):
        why = "a stop leaves nothing in series with the meter, whose current then has no limit"
    few = corner_settings(board, unknown, list(values)).size <= _MOST_CORNERS
    for padded in _candidates(pot, unknown, 0.5 * (over.low + over.high)) if few else ():
        found = _tried(board, unknown, values, setups, padded)
        if found is not None:
            return f"{why}: {_said(padded)} {found}"
    return f"{why}: set it with the meter shorted, and turn it up from the harmless stop"


def _said(padded: Padded) -> str:
    ends = (("ccw", padded.at_ccw), ("cw", padded.at_cw))
    fixed = [f"{in_ohms(ohms)} at its {end} end" for end, ohms in ends if ohms]
    return " ".join(
        [f"a pot of {in_ohms(padded.track)}", *(["with", " and ".join(fixed)] if fixed else [])]
    )


def _candidates(pot: Pot, unknown: Unknown, middle: float) -> Iterator[Padded]:
    """Pots with the middle of what is needed near the middle of the track, smallest first.

    A pot with both legs in circuit keeps about the ohms it has from end to end.
    """
    legs = [b for b in unknown.setup.circuit.branches if b.share == unknown.number]
    below = pot.ohms * middle
    for track in _USUAL_TRACKS:
        if len(legs) > 1:
            for at_ccw in _near(below - 0.5 * track):
                for at_cw in _near(pot.ohms - track - at_ccw):
                    yield Padded(at_ccw, track, at_cw)
        elif legs and legs[0].upper:
            yield from (Padded(0.0, track, fixed) for fixed in _near(pot.ohms - below - track / 2))
        else:
            yield from (Padded(fixed, track, 0.0) for fixed in _near(below - 0.5 * track))


def _near(ohms: float) -> tuple[float, ...]:
    """The usual values on either side of what is wanted; none at all where it is not above 0."""
    lower = max((f for f in _USUAL_FIXED if f <= ohms), default=0.0)
    upper = min((f for f in _USUAL_FIXED if f >= ohms), default=lower)
    return tuple(dict.fromkeys((lower, upper))) if ohms > 0.0 else (0.0,)


def _tried(
    board: Board,
    unknown: Unknown,
    values: Sequence[Array],
    setups: Sequence[Setup],
    padded: Padded,
) -> str | None:
    """What solving the circuit with another pot comes to, in words; None if it is no better."""
    padded_board, padded_values = _board_with(board, unknown, values, padded)
    pads = (len(board.values), len(board.values) + 1)
    changed = [replace(s, circuits=(_circuit_with(s.circuit, unknown, pads),)) for s in setups]
    own = _circuit_with(unknown.setup.circuit, unknown, pads)
    other = replace(unknown, setup=replace(unknown.setup, circuits=(own,)))
    needed = corner_settings(padded_board, other, padded_values)
    low, high = float(np.min(needed)), float(np.max(needed))
    if not _TENTH <= low <= high <= 1.0 - _TENTH:
        return None
    seen = [seen_at(other, padded_values, changed, share) for share in (0.0, 1.0)]
    most = max((abs(one) for one in seen if one is not None), default=0.0)
    if most > _HURT or None in seen:
        return None
    return (
        f"needs {100 * low:.0f} to {100 * high:.0f} % of its travel, with {most:.2g} times full "
        "scale at the worse stop; put it into the spec and run this again"
    )


def _board_with(
    board: Board, unknown: Unknown, values: Sequence[Array], padded: Padded
) -> tuple[Board, list[Array]]:
    whole = board.of_part(unknown.part)[0]
    kept = list(board.values)
    kept[whole] = replace(kept[whole], nominal=padded.track)
    found = list(values)
    found[whole] = np.array([padded.track])
    found[unknown.number] = np.array([0.5])
    for end, ohms in (("ccw", padded.at_ccw), ("cw", padded.at_cw)):
        name = f"pad at {unknown.part}.{end}"
        kept.append(Value(name, name, ohms, _PAD_TOLERANCE))
        found.append(np.array([ohms]))
    return replace(board, values=kept), found


def _circuit_with(circuit: Circuit, unknown: Unknown, pads: tuple[int, int]) -> Circuit:
    """A circuit with a resistor in each of the pot's ends that are in it."""
    count, branches, added = circuit.count, [], []
    for branch in circuit.branches:
        if branch.share != unknown.number:
            branches.append(branch)
            continue
        one, two = branch.ends
        if branch.upper:
            branches.append(replace(branch, ends=(one, count)))
            added.append(Branch(unknown.part, (count, two), pads[1]))
        else:
            branches.append(replace(branch, ends=(count, two)))
            added.append(Branch(unknown.part, (one, count), pads[0]))
        count += 1
    nodes = (*circuit.nodes, *(-1 for _ in added))
    return replace(circuit, count=count, branches=(*branches, *added), nodes=nodes)
