"""Trials: one wiring under many mishaps at once, each a sample of the solver.

What the meter takes is a matter of a reading, in its own state. Whether a rule
breaks or a point rises is a matter of the wiring, in every state.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rewire.circuit.dc import Array, Ends, solve
from rewire.circuit.ohms import least_beyond, most_within
from rewire.circuit.states import LimitReached, States
from rewire.records.parts import COLD
from rewire.records.spec import Diode, Lamp, Meter, Point, Rule
from rewire.values.board import Board, Branch
from rewire.values.circuits import State, controls_between, place_of
from rewire.values.pointer import Flags, load_of
from rewire.values.readings import numbered

MOST_STATES = 512
"""Positions of controls in which rules and rises are looked at."""
_RISE = 1.0
"""Volts below which nobody notices a rise."""
_MORE = 1.5
"""Times its usual volts that count as a rise."""
_TIED = 1e-6
"""Ohms below which two places count as tied."""


@dataclass(frozen=True, slots=True)
class Watched:
    """What rules and points come to; the first sample is the wiring as it should be.

    ``broken`` has the rules that do not hold, ``volts`` what each point with
    ``rises_to`` rises to, ``reached`` whether a meter's terminal hangs on such a
    point that has lost its way to chassis. Arrays of shape (samples,) or (1,).
    """

    broken: Mapping[int, Flags]
    volts: Mapping[str, Array]
    reached: Mapping[tuple[str, str], Flags]


@dataclass(frozen=True, slots=True)
class RuleOhms:
    """Branches as rules see them, each at what is to the rule's disadvantage.

    ``most`` for a connection within a limit, ``ties`` for one without (contacts and wires
    alone), ``least`` for an isolation.
    """

    most: Sequence[Array]
    ties: Sequence[Array]
    least: Sequence[Array]


def rule_ohms(
    board: Board,
    branches: Sequence[Branch],
    columns: Sequence[Array],
    failed: Mapping[str, Flags] | None = None,
) -> RuleOhms:
    """Branches as rules see them: contacts tie, a diode may conduct, a lamp may be cold.

    Args:
        board: has the parts.
        branches: of the board.
        columns: their ohms, for all samples.
        failed: diodes and the samples in which they are open for good.
    """
    most, ties, least = [], [], []
    for branch, ohms in zip(branches, columns, strict=True):
        part = board.parts.get(branch.part)
        contact = np.where(np.isinf(ohms), np.inf, 0.0)
        is_part = part is not None and branch.control is None
        most.append(contact if branch.control is not None else ohms)
        ties.append(np.full(1, np.inf) if is_part else contact)
        if isinstance(part, Diode):
            open_for_good = (failed or {}).get(part.name, np.zeros(1, dtype=np.bool_))
            least.append(np.where(open_for_good, ohms, 0.0))
        else:
            least.append(COLD * ohms if isinstance(part, Lamp) else most[-1])
    return RuleOhms(most, ties, least)


def watch(
    board: Board,
    ends: Sequence[Ends],
    ohms: Sequence[Array],
    seen: RuleOhms,
    rules: Sequence[tuple[int, Rule]],
) -> Watched:
    """Try the rules, and let the points rise, for all samples.

    Args:
        board: gives places their nodes.
        ends: nodes of the branches.
        ohms: theirs, of shape (samples,) or (1,).
        seen: the same as the rules see them.
        rules: with their numbers; one with a place that is missing is passed over.
    """
    broken: dict[int, Flags] = {}
    for columns, kind in ((seen.most, "within"), (seen.ties, "tie"), (seen.least, "isolate")):
        asked = [
            (n, rule, pair)
            for n, rule in rules
            if _kind(rule) == kind and (pair := ends_of(board, rule)) is not None
        ]
        loads = _loads(board, ends, columns, [pair for *_, pair in asked])
        for (number, rule, _), (load, _) in zip(asked, loads, strict=True):
            broken[number] = _broken(rule, load)
    rising = list(risers(board))
    loads = _loads(board, ends, ohms, [pair for _, pair in rising])
    meters = [part for part in board.parts.values() if isinstance(part, Meter)]
    return Watched(
        broken,
        {p.name: _risen(p, load) for (p, _), (load, _) in zip(rising, loads, strict=True)},
        {
            (point.name, meter.terminal(lug)): lost[board.node(meter.terminal(lug))]
            for (point, _), (_, lost) in zip(rising, loads, strict=True)
            for meter in meters
            for lug in meter.terminals
        },
    )


def _kind(rule: Rule) -> str:
    if rule.kind == "isolate":
        return "isolate"
    return "tie" if rule.limit is None else "within"


def _loads(
    board: Board, ends: Sequence[Ends], ohms: Sequence[Array], pairs: Sequence[Ends]
) -> list[tuple[Array, Flags]]:
    """Ohms between the nodes of each pair, and the nodes from which a drive there is lost."""
    if not pairs:
        return []
    solved = solve(board.count, ends, ohms, pairs, pairs[-1][1])
    return [(load_of(solved, n, pair), solved.lost[n]) for n, pair in enumerate(pairs)]


def ends_of(board: Board, rule: Rule) -> Ends | None:
    """The nodes of a rule's places; None if one is missing in this wiring."""
    one, other = (place_of(board, place) for place in rule.places)
    return None if one is None or other is None else (one, other)


def risers(board: Board) -> Iterator[tuple[Point, Ends]]:
    """Points that rise when their load is taken off, each with its node and the chassis's."""
    points = board.spec.points.values()
    chassis = next((point.name for point in points if point.chassis), None)
    for point in points if chassis is not None else ():
        if point.rises_to is not None and chassis is not None:
            yield point, (board.node(point.name), board.node(chassis))


def _broken(rule: Rule, ohms: Array) -> Flags:
    """Whether a rule fails."""
    if rule.kind == "connect":
        return np.asarray(ohms > (_TIED if rule.limit is None else most_within(rule.limit)))
    if rule.limit is None:
        return np.isfinite(ohms)
    return np.asarray(ohms < least_beyond(rule.limit))


def _risen(point: Point, load: Array) -> Array:
    """Volts of a point behind its source resistance, on what load it has left."""
    assert point.rises_to is not None
    alone = np.isinf(load)
    load = np.where(alone, 1.0, load)
    share = load / np.maximum(load + point.source_resistance, _TIED)
    return np.asarray(point.rises_to * np.where(alone, 1.0, np.where(load < _TIED, 0.0, share)))


def standing_volts(watched: Iterable[Watched]) -> dict[str, float]:
    """The most each point that can rise stands at while nothing is wrong, in any position."""
    most: dict[str, float] = {}
    for one in watched:
        for name, volts in one.volts.items():
            most[name] = max(most.get(name, 0.0), abs(float(volts[0])))
    return most


def usual_volts(board: Board, values: Sequence[Array | None]) -> dict[str, float]:
    """The most each point that can rise stands at, at rest, in any position of the controls.

    Raises:
        LimitReached: more positions than are looked at.
    """
    if not any(True for _ in risers(board)):
        return {}
    known = [np.array([1.0]) if v is None else v for v in values]
    watched = []
    for state in states_watched(board, "volts at rest"):
        closed = [b for b in board.branches if b.closed(state)]
        ohms = [np.asarray(b.ohms(known)) for b in closed]
        ends = [b.ends for b in closed]
        watched.append(watch(board, ends, ohms, rule_ohms(board, closed, ohms), []))
    return standing_volts(watched)


def states_watched(board: Board, asking: str) -> list[dict[str, int]]:
    """Every state that can matter to a rule or to a rise; none if there is neither.

    Raises:
        LimitReached: more of them than are looked at.
    """
    if not board.spec.rules and not any(True for _ in risers(board)):
        return []
    states = States(board.spec.controls, board.spec.never)
    asking = f"{asking} of {board.wiring.name}"
    frame = states.frame(watched_controls(board, moving=False), asking)
    mask = states.possible(frame)
    if mask.bit_count() > MOST_STATES:
        raise LimitReached(
            f"{asking}: the controls that can matter to a rule make {mask.bit_count():,} states, "
            f"more than {MOST_STATES:,}; narrow the rules with 'when', or split the spec"
        )
    return [full_state(board, numbered(board, state)) for state in frame.states(mask)]


def rises(
    watched: Watched, sample: int, usual_volts: Mapping[str, float]
) -> tuple[tuple[str, float], ...]:
    """Points, and meter terminals on them, that rise noticeably in a sample; volts.

    Args:
        watched: with all samples.
        sample: which.
        usual_volts: what the points come to anyway.
    """
    found: dict[str, float] = {}
    for name, volts in watched.volts.items():
        usual, now = usual_volts.get(name, 0.0), at(volts, sample)
        if abs(now) < max(_RISE, _MORE * usual):
            continue
        found[name] = now
        for (point, terminal), reached in watched.reached.items():
            if point == name and at(reached, sample):
                found[terminal] = now
    return tuple(sorted(found.items(), key=lambda item: (-abs(item[1]), item[0])))


def at(column: Array | Flags, sample: int) -> float:
    """One sample of a column, or what all samples share; a flag is 1 or 0."""
    return float(column[sample if column.shape[0] > 1 else 0])


def watched_controls(board: Board, moving: bool) -> set[str]:
    """Controls that can matter to a rule (moving: one that holds while switching) or to a rise."""
    rules = [rule for rule in board.spec.rules if rule.while_switching or not moving]
    pairs = [pair for rule in rules if (pair := ends_of(board, rule)) is not None]
    pairs += [pair for _, pair in risers(board)]
    return controls_between(board, pairs) | {name for rule in rules for name in rule.when}


def full_state(board: Board, state: State) -> dict[str, int]:
    """A reading's state completed by the first positions of the other controls."""
    return {name: state.get(name, 0) for name in board.spec.controls}


def rules_at(board: Board, state: State, moving: bool) -> list[tuple[int, Rule]]:
    """Rules that apply in a state, or while switching there; about resistances alone."""
    found = []
    for number, rule in enumerate(board.spec.rules):
        if moving and not rule.while_switching:
            continue
        controls = board.spec.controls
        if all(
            controls[name].positions[state[name]] in positions
            for name, positions in rule.when.items()
        ):
            found.append((number, rule))
    return found
