"""Fitting: resistances and settings that make readings come out right, exactly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rewire.circuit.dc import TIED, Array
from rewire.records.spec import Pot, Resistor
from rewire.values.board import Board
from rewire.values.circuits import Circuit, answer
from rewire.values.forms import degree, forms, roots
from rewire.values.readings import Setup
from rewire.words.quantity import in_ohms, with_unit

_ROUNDS = 60
_STARTS = 40
_MET = 1e-9
_SIZES = np.array([0.1, 1.0, 10.0])
_LEAST_OHMS, _MOST_OHMS = 1e-6, 1e12
"""Beyond these no resistor can be had or measured; common practice, no source."""
_FREE = 1e-7
"""Ratio of singular values below which readings leave a combination of values open."""


@dataclass(frozen=True, slots=True)
class Unknown:
    """A value to be found, and the reading it is found for."""

    part: str
    number: int
    setup: Setup
    is_setting: bool

    @property
    def name(self) -> str:
        """``R46``, or ``the setting of RV41``."""
        return f"the setting of {self.part}" if self.is_setting else self.part


@dataclass(frozen=True, slots=True)
class Found:
    """What came of one unknown: every solution, the one taken first; or why there is none.

    ``nearest`` is what comes nearest where there is no solution.
    """

    solutions: tuple[float, ...]
    why: str | None = None
    nearest: float | None = None


def unknowns_of(board: Board, setups: Mapping[str, Setup]) -> list[Unknown]:
    """Every value of a board that is to be fitted, with its reading."""
    found = []
    for part in board.parts.values():
        reading = getattr(part, "fit_for", None)
        if reading is None or reading not in setups:
            continue
        number = board.of_part(part.name)[-1]
        found.append(Unknown(part.name, number, setups[reading], isinstance(part, Pot)))
    return found


def fit(board: Board, unknowns: Sequence[Unknown], values: list[Array | None]) -> dict[str, Found]:
    """Find every unknown, and write what is found into ``values``.

    One reading that depends on one unknown alone is solved at once and exactly;
    what hangs together is solved together.

    Args:
        board: the wiring.
        unknowns: what to find; one reading each.
        values: the board's values, None where one is not known. Changed in place.

    Returns:
        Part → what was found.
    """
    found: dict[str, Found] = {}
    left = list(unknowns)
    while left:
        alone = next((u for u in left if _others(u, left) == [u]), None)
        group = [alone] if alone else _coupled(left)
        answers = [_one(board, group[0], values)] if alone else _together(board, group, values)
        for unknown, result in zip(group, answers, strict=True):
            found[unknown.part] = result
            if result.solutions:
                values[unknown.number] = np.array([result.solutions[0]])
            left.remove(unknown)
    return found


def _others(unknown: Unknown, left: Sequence[Unknown]) -> list[Unknown]:
    """The unknowns that the reading of one of them depends on, itself always among them."""
    used = set(unknown.setup.circuit.values)
    return [one for one in left if one is unknown or one.number in used]


def _coupled(left: Sequence[Unknown]) -> list[Unknown]:
    """The smallest set of unknowns whose readings depend on no others of ``left``."""
    groups = []
    for first in left:
        group = [first]
        for member in group:
            group += [one for one in _others(member, left) if one not in group]
        groups.append(group)
    return min(groups, key=len)


def _one(board: Board, unknown: Unknown, values: Sequence[Array | None]) -> Found:
    """One unknown, one reading: three solves for a resistance, five or so for a setting.

    The points solved at are moved to the solution and the solve repeated, so that
    no digits are lost between them.
    """
    why = _hopeless(board, unknown, values)
    if why is not None:
        return Found((), why)
    circuit, full_scale = unknown.setup.circuit, unknown.setup.full_scale
    known = _filled(values, unknown)
    if full_scale is None:
        return Found((), "the meter's full-scale current is not known")
    if not _moves(unknown, known):
        return Found((), _does_nothing(unknown))
    rank = degree(circuit, unknown.number)
    if unknown.is_setting:
        points = (0.25, 0.75) if rank == 1 else (0.2, 0.5, 0.8)
        zeros = roots(_target(circuit, known, unknown.number, points, full_scale), -1e-9, 1 + 1e-9)
        solutions = sorted(float(min(max(z, 0.0), 1.0)) for z in zeros[:, 0] if z == z)
    else:
        solutions = list(_resistance(circuit, known, unknown.number, full_scale))
    if solutions:
        return Found(tuple(dict.fromkeys(solutions)))
    return _nearest_end(board, unknown, known, full_scale)


def _moves(unknown: Unknown, known: Sequence[Array]) -> bool:
    """Whether a reading changes at all with what is sought for it, the rest as it is."""
    tried = list(known)
    at = (0.1, 0.5, 0.9) if unknown.is_setting else float(known[unknown.number][0]) * _SIZES
    tried[unknown.number] = np.asarray(at)
    amps = np.broadcast_to(answer(unknown.setup.circuit, tried).amps, (3,))
    return bool(np.ptp(amps) > _MET * np.max(np.abs(amps)))


def _does_nothing(unknown: Unknown) -> str:
    return f"{unknown.setup.reading.name} does not depend on {unknown.name}"


def _filled(values: Sequence[Array | None], unknown: Unknown) -> list[Array]:
    """Values with the one that is sought at a middling size."""
    circuit = unknown.setup.circuit
    start = 0.5 if unknown.is_setting else _middling(circuit, values)
    return [np.array([start]) if v is None else v for v in values]


def _middling(circuit: Circuit, values: Sequence[Array | None]) -> float:
    """A resistance of the size of those around it: the geometric mean."""
    known = (values[b.value] for b in circuit.branches if b.share is None)
    sizes = [float(v[0]) for v in known if v is not None and v[0] > 0.0]
    return float(np.exp(np.mean(np.log(sizes)))) if sizes else 100.0


def _target(
    circuit: Circuit, known: list[Array], number: int, points: Sequence[float], full_scale: float
) -> Array:
    return forms(circuit, known, number, points).against(full_scale)


def _resistance(
    circuit: Circuit, known: list[Array], number: int, full_scale: float
) -> Iterator[float]:
    near = float(known[number][0])
    for _ in range(6):
        constant, slope = _target(circuit, known, number, (near, 2.0 * near), full_scale)[:, 0]
        if slope == 0.0 or abs(constant) > 1e15 * abs(slope * near):
            return
        ohms = float(-constant / slope)
        if ohms <= 0.0:
            if ohms > -1e-9 * near:
                yield 0.0
            return
        if abs(ohms - near) <= 1e-15 * ohms:
            break
        near = ohms
    yield near


def _hopeless(board: Board, unknown: Unknown, values: Sequence[Array | None]) -> str | None:
    """Why a reading can't be solved for, before any sum; None if it may."""
    circuit, reading = unknown.setup.circuit, unknown.setup.reading
    if circuit.meter is None:
        return f"{reading.name}: {circuit.why}"
    missing = [n for n in circuit.values if values[n] is None and n != unknown.number]
    if missing:
        names = ", ".join(dict.fromkeys(board.values[n].name for n in missing))
        return f"{reading.name} depends on what is not known: {names}"
    if degree(circuit, unknown.number) == 0:
        return f"{reading.name} does not depend on {unknown.part}: no current of it passes there"
    return None


def _nearest_end(board: Board, unknown: Unknown, known: list[Array], full_scale: float) -> Found:
    """Why no value does it, in words, and the nearest that can be had."""
    setup = unknown.setup
    meter = setup.meter.name if setup.meter else "the meter"
    reading = setup.reading
    if reading.quantity == "current" and not reading.also and full_scale > reading.full_scale:
        needs, has = with_unit(full_scale, "A"), with_unit(reading.full_scale, "A")
        return Found(
            (),
            f"{meter} needs {needs} for full scale; {has} cannot move it there: a shunt cannot "
            f"make a meter more sensitive; pick a movement of {has} or less",
        )
    ends = _at_ends(setup.circuit, known, unknown, full_scale)
    if not ends:
        return Found((), f"no value of {unknown.name} puts {meter} at full scale")
    at, (value, stands) = min(ends.items(), key=lambda item: abs(item[1][1] - 1.0))
    if abs(stands - 1.0) <= _MET:
        return Found((), f"only {at} puts {meter} at full scale in {reading.name}", value)
    more = "too little current" if max(d for _, d in ends.values()) < 1.0 else "too much current"
    return Found(
        (),
        f"no value of {unknown.name} puts {meter} at full scale in {reading.name}: it gets "
        f"{more}; the nearest is {100.0 * stands:.4g} % of full scale with {at}"
        f"{_would_do(board, unknown, known, value, full_scale)}",
        value,
    )


def _would_do(
    board: Board, unknown: Unknown, known: list[Array], value: float, full_scale: float
) -> str:
    """Which other resistor could be changed so that it can be done, and to how many ohms."""
    circuit = unknown.setup.circuit
    tried = list(known)
    tried[unknown.number] = np.array([value])
    found = []
    for number in circuit.values:
        part, now = board.values[number].part, float(known[number][0])
        if isinstance(board.parts[part], Resistor) and part != unknown.part and now:
            for ohms in _resistance(circuit, tried, number, full_scale):
                if ohms:
                    found.append((abs(np.log(ohms / now)), part, ohms, ohms > now))
    if not found:
        return ""
    _, part, ohms, rises = min(found)
    return f"; {part} of {in_ohms(ohms, 3)} or {'more' if rises else 'less'} would do"


def _at_ends(
    circuit: Circuit, known: list[Array], unknown: Unknown, full_scale: float
) -> dict[str, tuple[float, float]]:
    """Value and deflection with the unknown at either end of what it can be."""
    part = unknown.part
    ends = {f"{part} at ccw": 0.0, f"{part} at cw": 1.0} if unknown.is_setting else {
        f"{part} left out (open)": np.inf, f"{part} replaced by a wire": 0.0}  # fmt: skip
    found = {}
    for said, value in ends.items():
        tried = list(known)
        tried[unknown.number] = np.array([value])
        amps = float(answer(circuit, tried).amps[0])
        if np.isfinite(amps):
            found[said] = value, amps / full_scale
    return found


def _together(
    board: Board, group: Sequence[Unknown], values: Sequence[Array | None]
) -> list[Found]:
    """Several unknowns that move each other's readings.

    Newton's method on the polynomial forms, whose derivatives by each unknown are
    exact; from several starts, for there may be more than one solution or none.
    """
    for unknown in group:
        others = list(values)
        for one in group:
            others[one.number] = np.array([0.5 if one.is_setting else 100.0])
        why = _hopeless(board, unknown, others)
        if why is not None or unknown.setup.full_scale is None:
            return [Found((), why or "the meter's full-scale current is not known")] * len(group)
    solutions: list[Array] = []
    nearest: tuple[float, Array] | None = None
    for start in _starts(group, values):
        point, off = _newton(group, values, start)
        if off < _MET and not any(_alike(group, point, known) for known in solutions):
            solutions.append(point)
        if nearest is None or off < nearest[0]:
            nearest = off, point
    sound = [point for point in solutions if _can_be_had(group, point)]
    if any(_leaves_open(group, values, point) for point in solutions):
        return [Found((), _open_told(group))] * len(group)
    if sound:
        return [Found(tuple(float(s[i]) for s in sound)) for i in range(len(group))]
    why = _no_common(group, nearest) if not solutions else _absurd(group, solutions[0])
    return [Found((), why, None if nearest is None else float(nearest[1][i]))
            for i in range(len(group))]  # fmt: skip


def _alike(group: Sequence[Unknown], one: Array, other: Array) -> bool:
    """Whether two solutions are the same but for rounding."""
    sizes = np.array([1.0 if u.is_setting else abs(x) for u, x in zip(group, other, strict=True)])
    return bool(np.all(np.abs(one - other) <= 1e-6 * sizes))


def _can_be_had(group: Sequence[Unknown], point: Array) -> bool:
    return all(
        one.is_setting or _LEAST_OHMS <= x <= _MOST_OHMS
        for one, x in zip(group, point, strict=True)
    )


def _leaves_open(group: Sequence[Unknown], values: Sequence[Array | None], point: Array) -> bool:
    """Whether the readings stay right along a line through a solution: not all is fixed there."""
    _, slopes = _linearised(group, values, point)
    scale = np.array([1.0 if u.is_setting else x for u, x in zip(group, point, strict=True)])
    sizes = np.linalg.svd(slopes * scale, compute_uv=False)
    return bool(sizes[-1] <= _FREE * sizes[0])


def _open_told(group: Sequence[Unknown]) -> str:
    names = ", ".join(one.name for one in group)
    readings = ", ".join(one.setup.reading.name for one in group)
    return f"{readings} leave {names} open: many values together do it; state one of them"


def _absurd(group: Sequence[Unknown], point: Array) -> str:
    said = ", ".join(
        f"{one.part} = {in_ohms(float(x))}"
        for one, x in zip(group, point, strict=True)
        if not one.is_setting and not _LEAST_OHMS <= x <= _MOST_OHMS
    )
    return f"only with {said} would all be right: no such resistor can be had"


def _no_common(group: Sequence[Unknown], nearest: tuple[float, Array] | None) -> str:
    names = ", ".join(one.name for one in group)
    readings = ", ".join(one.setup.reading.name for one in group)
    if nearest is None:
        return f"nothing makes {readings} right together"
    at = ", ".join(
        f"{one.part} at {100 * x:.1f} %" if one.is_setting else f"{one.part} = {in_ohms(float(x))}"
        for one, x in zip(group, nearest[1], strict=True)
    )
    return (
        f"no values of {names} make {readings} right together; the nearest found is {at}, "
        f"with errors up to {100 * nearest[0]:.3g} % of full scale"
    )


def _starts(group: Sequence[Unknown], values: Sequence[Array | None]) -> Iterator[Array]:
    """Where the search begins: in the middle, then all over what the values can be."""
    middles = [0.5 if one.is_setting else _middling(one.setup.circuit, values) for one in group]
    yield np.array(middles)
    spots = np.random.default_rng(len(group)).uniform(0.02, 0.98, (_STARTS, len(group)))
    for spot in spots:
        yield np.array([
            at if one.is_setting else middle * 10.0 ** (8.0 * (at - 0.5))
            for one, middle, at in zip(group, middles, spot, strict=True)
        ])  # fmt: skip


def _newton(
    group: Sequence[Unknown], values: Sequence[Array | None], start: Array
) -> tuple[Array, float]:
    """Where Newton's method ends, and by how much the worst reading is off there (a share)."""
    at = start.astype(float)
    best, off = at, np.inf
    settings = np.array([one.is_setting for one in group])
    for _ in range(_ROUNDS):
        wrong, slopes = _linearised(group, values, at)
        worst = float(np.max(np.abs(wrong)))
        if not np.isfinite(worst):
            break
        if worst < off:
            best, off = at, worst
        if worst < 1e-14:
            break
        step = np.linalg.lstsq(slopes, -wrong, rcond=None)[0]
        moved = np.where(
            settings, np.clip(at + step, 1e-9, 1 - 1e-9), np.maximum(at + step, at / 10)
        )
        if np.allclose(moved, at, rtol=1e-15, atol=0):
            break
        at = moved
    return best, off


def _linearised(
    group: Sequence[Unknown], values: Sequence[Array | None], at: Array
) -> tuple[Array, Array]:
    """Deflection less 1 of every reading, and the slopes of its form by every unknown."""
    size = len(group)
    inward = np.where(at > 0.5, -1e-5, 1e-5)
    nudges = np.where([one.is_setting for one in group], inward, at * 1e-3)
    samples = np.tile(at[:, None], (1, size + 1))
    samples[np.arange(size), np.arange(size)] += nudges
    filled: list[Array] = [np.array([1.0]) if v is None else v for v in values]
    for row, one in enumerate(group):
        filled[one.number] = samples[row]
    wrong, slopes = np.empty(size), np.empty((size, size))
    for row, one in enumerate(group):
        form = _form(group, one, filled)
        wrong[row] = form[size]
        slopes[row] = (form[:size] - form[size]) / nudges
    return wrong, slopes


def _form(group: Sequence[Unknown], one: Unknown, filled: list[Array]) -> Array:
    """Numerator less denominator over the denominator in the last sample."""
    circuit, full_scale = one.setup.circuit, one.setup.full_scale
    assert full_scale is not None
    found = answer(circuit, filled)
    weight = np.broadcast_to(found.log_det, (len(group) + 1,)).copy()
    numbers = {other.number for other in group}
    for branch in circuit.branches:
        if branch.value in numbers or branch.share in numbers:
            weight = weight + np.log(np.maximum(branch.ohms(filled), TIED))
    return np.asarray((found.amps / full_scale - 1.0) * np.exp(weight - weight[-1]))
