"""Fitting: resistances and settings that make readings right, exactly, and the values to buy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import eseries
import numpy as np

from rewire.circuit.dc import Array
from rewire.reading.faults import Fault, SpecError
from rewire.records.part import Part
from rewire.values.dc_network import DcNetwork, Values, changed, filled
from rewire.values.meter_circuit import (
    Fitted,
    ReadingCircuit,
    Setup,
    Solved,
    Unknown,
    answer,
    rational_form,
    roots,
    setting_form,
    weight_of,
)
from rewire.words.quantity import in_ohms, with_unit
from rewire.words.wording import nearest, shown

_ROUNDS = 60
_STARTS = 40
_MET = 1e-9
_SIZES = np.array([0.1, 1.0, 10.0])
_LEAST_OHMS, _MOST_OHMS = 1e-6, 1e12
"""Beyond these no resistor can be had or measured; common practice, no source."""
_FREE = 1e-7
"""Ratio of singular values below which readings leave a combination of values open."""
_NO_FULL_SCALE = "the meter's full-scale current is not known"

SERIES = {series.name: series for series in eseries.ESeries}
"""Preferred values of IEC 60063 by the names of their series."""
EXACT = "exact"
DRAWER = "drawer"
OR = " or "
"""Between two series that a value may come from."""
_MOST_AT_ONCE = 1024
"""Combinations of preferred values that are tried at once."""
_ALIKE = 1e-9
"""Share of full scale that is only rounding."""
_AS_GOOD = 5e-4
"""Share of full scale that no pointer shows: within it a value of fewer per decade is as good."""


def unknowns_of(network: DcNetwork, setups: Mapping[str, Setup]) -> list[Unknown]:
    """Every value of a network that is to be fitted, with its reading."""
    found = []
    for part in network.parts.values():
        if part.fit_for in setups and part.fit_for is not None:
            number = network.of_part(part.name)[-1]
            setting = network.values[number].is_setting
            found.append(Unknown(part.name, number, setups[part.fit_for], setting))
    return found


def fit_values(solved: Solved, unknowns: Sequence[Unknown]) -> None:
    """Find some unknowns, and write what is found into ``found`` and ``values``.

    One reading that depends on one unknown alone is solved at once and exactly;
    what hangs together is solved together.
    """
    left = list(unknowns)
    while left:
        alone = next((u for u in left if _others(u, left) == [u]), None)
        group = [alone] if alone else _coupled(left)
        answers = [_one(solved, alone)] if alone else _together(solved, group)
        for unknown, result in zip(group, answers, strict=True):
            solved.found[unknown.part] = result
            if result.solutions:
                solved.values[unknown.number] = np.array([result.solutions[0]])
            left.remove(unknown)


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


def _hopeless(network: DcNetwork, unknown: Unknown, values: Values) -> str | None:
    """Why a reading can't be solved for, before any sum; None if it may."""
    circuit, reading = unknown.setup.circuit, unknown.setup.reading
    if circuit.meter is None:
        return f"{reading.name}: {circuit.why}"
    missing = [n for n in circuit.values if values[n] is None and n != unknown.number]
    if missing:
        names = ", ".join(dict.fromkeys(network.values[n].name for n in missing))
        return f"{reading.name} depends on what is not known: {names}"
    if circuit.degree(unknown.number) == 0:
        return f"{reading.name} does not depend on {unknown.part}: no current of it passes there"
    return None if unknown.setup.full_scale is not None else _NO_FULL_SCALE


def _one(solved: Solved, unknown: Unknown) -> Fitted:
    """One unknown, one reading: three solves for a resistance, five or so for a setting."""
    why = _hopeless(solved.network, unknown, solved.values)
    if why is not None or unknown.setup.full_scale is None:
        return Fitted((), why)
    circuit, full_scale = unknown.setup.circuit, unknown.setup.full_scale
    known = filled(solved.values, 0.5 if unknown.is_setting else _middling(circuit, solved.values))
    if not _moves(unknown, known):
        return Fitted((), f"{unknown.setup.reading.name} does not depend on {unknown.name}")
    if unknown.is_setting:
        target = setting_form(unknown, known).against(full_scale)
        zeros = roots(target, -1e-9, 1 + 1e-9)[:, 0]
        solutions = sorted(float(min(max(z, 0.0), 1.0)) for z in zeros if z == z)
    else:
        solutions = list(_resistance(circuit, known, unknown.number, full_scale))
    if solutions:
        return Fitted(tuple(dict.fromkeys(solutions)))
    return _nearest_end(solved.network, unknown, known, full_scale)


def _moves(unknown: Unknown, known: Sequence[Array]) -> bool:
    """Whether a reading changes at all with what is sought for it, the rest as it is."""
    tried = list(known)
    at = (0.1, 0.5, 0.9) if unknown.is_setting else float(known[unknown.number][0]) * _SIZES
    tried[unknown.number] = np.asarray(at)
    amps = np.broadcast_to(answer(unknown.setup.circuit, tried).amps, (3,))
    return bool(np.ptp(amps) > _MET * np.max(np.abs(amps)))


def _middling(circuit: ReadingCircuit, values: Values) -> float:
    """A resistance of the size of those around it: the geometric mean."""
    known = (values[b.value] for b in circuit.branches if b.share is None)
    sizes = [float(v[0]) for v in known if v is not None and v[0] > 0.0]
    return float(np.exp(np.mean(np.log(sizes)))) if sizes else 100.0


def _resistance(
    circuit: ReadingCircuit, known: Sequence[Array], number: int, full_scale: float
) -> Iterator[float]:
    """The resistance that puts the meter at full scale, if there is one.

    Solved at points that move to the solution, so that no digits are lost between them.
    """
    near = float(known[number][0])
    for _ in range(6):
        form = rational_form(circuit, known, number, (near, 2.0 * near))
        constant, slope = form.against(full_scale)[:, 0]
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


def _nearest_end(
    network: DcNetwork, unknown: Unknown, known: list[Array], full_scale: float
) -> Fitted:
    """Why no value does it, in words, and the nearest that can be had."""
    setup, reading = unknown.setup, unknown.setup.reading
    meter = setup.meter_name or "the meter"
    if reading.quantity == "current" and not reading.also and full_scale > reading.full_scale:
        needs, has = with_unit(full_scale, "A"), with_unit(reading.full_scale, "A")
        return Fitted(
            (),
            f"{meter} needs {needs} for full scale; {has} cannot move it there: a shunt cannot "
            f"make a meter more sensitive; pick a movement of {has} or less",
        )
    ends = _at_ends(setup.circuit, known, unknown, full_scale)
    if not ends:
        return Fitted((), f"no value of {unknown.name} puts {meter} at full scale")
    at, (value, stands) = min(ends.items(), key=lambda item: abs(item[1][1] - 1.0))
    if abs(stands - 1.0) <= _MET:
        return Fitted((), f"only {at} puts {meter} at full scale in {reading.name}", value)
    more = "too little current" if max(d for _, d in ends.values()) < 1.0 else "too much current"
    other = _would_do(network, unknown, changed(known, unknown.number, value), full_scale)
    return Fitted(
        (),
        f"no value of {unknown.name} puts {meter} at full scale in {reading.name}: it gets "
        f"{more}; the nearest is {100.0 * stands:.4g} % of full scale with {at}{other}",
        value,
    )


def _would_do(
    network: DcNetwork, unknown: Unknown, tried: Sequence[Array], full_scale: float
) -> str:
    """Which other resistor could be changed so that it can be done, and to how many ohms."""
    circuit, found = unknown.setup.circuit, []
    for number in circuit.values:
        part, now = network.values[number].part, float(tried[number][0])
        if network.parts[part].fixed_ohms and part != unknown.part and now:
            for ohms in _resistance(circuit, tried, number, full_scale):
                if ohms:
                    found.append((abs(np.log(ohms / now)), part, ohms, ohms > now))
    if not found:
        return ""
    _, part, ohms, rises = min(found)
    return f"; {part} of {in_ohms(ohms, 3)} or {'more' if rises else 'less'} would do"


def _at_ends(
    circuit: ReadingCircuit, known: Sequence[Array], unknown: Unknown, full_scale: float
) -> dict[str, tuple[float, float]]:
    """Value and deflection with the unknown at either end of what it can be."""
    part = unknown.part
    ends = {f"{part} at ccw": 0.0, f"{part} at cw": 1.0} if unknown.is_setting else {
        f"{part} left out (open)": np.inf, f"{part} replaced by a wire": 0.0}  # fmt: skip
    found = {}
    for said, value in ends.items():
        amps = float(answer(circuit, changed(known, unknown.number, value)).amps[0])
        if np.isfinite(amps):
            found[said] = value, amps / full_scale
    return found


def _together(solved: Solved, group: Sequence[Unknown]) -> list[Fitted]:
    """Several unknowns that move each other's readings.

    Newton's method on the polynomial forms, whose derivatives by each unknown are
    exact; from several starts, for there may be more than one solution or none.
    """
    values = solved.values
    others = list(values)
    for one in group:
        others[one.number] = np.array([0.5 if one.is_setting else 100.0])
    why = next(filter(None, (_hopeless(solved.network, one, others) for one in group)), None)
    if why is not None:
        return [Fitted((), why)] * len(group)
    solutions: list[Array] = []
    ended = [_newton(group, values, start) for start in _starts(group, values)]
    for spot, off in ended:
        if off < _MET and not any(_alike(group, spot, known) for known in solutions):
            solutions.append(spot)
    if any(_leaves_open(group, values, spot) for spot in solutions):
        names, readings = _named(group)
        said = f"{readings} leave {names} open: many values together do it; state one of them"
        return [Fitted((), said)] * len(group)
    sound = [spot for spot in solutions if not _absurd(group, spot)]
    if sound:
        return [Fitted(tuple(float(s[i]) for s in sound)) for i in range(len(group))]
    nearest, off = min(ended, key=lambda end: end[1])
    said = _no_common(group, nearest, off)
    if solutions:
        absurd = _absurd(group, solutions[0])
        said = f"only with {absurd} would all be right: no such resistor can be had"
    return [Fitted((), said, float(nearest[i])) for i in range(len(group))]


def _alike(group: Sequence[Unknown], one: Array, other: Array) -> bool:
    """Whether two solutions are the same but for rounding."""
    sizes = np.where([u.is_setting for u in group], 1.0, np.abs(one))
    return bool(np.all(np.abs(one - other) <= 1e-6 * sizes))


def _leaves_open(group: Sequence[Unknown], values: Values, spot: Array) -> bool:
    """Whether the readings stay right along a line through a solution: not all is fixed there."""
    _, slopes = _linearised(group, values, spot)
    sizes = np.linalg.svd(
        slopes * np.where([u.is_setting for u in group], 1.0, spot), compute_uv=False
    )
    return bool(sizes[-1] <= _FREE * sizes[0])


def _absurd(group: Sequence[Unknown], spot: Array) -> str:
    """Resistors of a solution that cannot be had, in words."""
    return ", ".join(
        f"{one.part} = {in_ohms(float(x))}"
        for one, x in zip(group, spot, strict=True)
        if not one.is_setting and not _LEAST_OHMS <= x <= _MOST_OHMS
    )


def _named(group: Sequence[Unknown]) -> tuple[str, str]:
    """The unknowns and their readings."""
    readings = ", ".join(one.setup.reading.name for one in group)
    return ", ".join(one.name for one in group), readings


def _no_common(group: Sequence[Unknown], nearest: Array, off: float) -> str:
    names, readings = _named(group)
    if not np.isfinite(off):
        return f"nothing makes {readings} right together"
    at = ", ".join(
        f"{one.part} at {100 * x:.1f} %" if one.is_setting else f"{one.part} = {in_ohms(float(x))}"
        for one, x in zip(group, nearest, strict=True)
    )
    return (
        f"no values of {names} make {readings} right together; the nearest found is {at}, "
        f"with errors up to {100 * off:.3g} % of full scale"
    )


def _starts(group: Sequence[Unknown], values: Values) -> Iterator[Array]:
    """Where the search begins: in the middle, then all over what the values can be."""
    settings = [one.is_setting for one in group]
    middles = np.where(settings, 0.5, [_middling(one.setup.circuit, values) for one in group])
    yield middles
    spots = np.random.default_rng(len(group)).uniform(0.02, 0.98, (_STARTS, len(group)))
    yield from np.where(settings, spots, middles * 10.0 ** (8.0 * (spots - 0.5)))


def _newton(group: Sequence[Unknown], values: Values, start: Array) -> tuple[Array, float]:
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


def _linearised(group: Sequence[Unknown], values: Values, at: Array) -> tuple[Array, Array]:
    """Deflection less 1 of every reading, and the slopes of its form by every unknown."""
    size = len(group)
    inward = np.where(at > 0.5, -1e-5, 1e-5)
    nudges = np.where([one.is_setting for one in group], inward, at * 1e-3)
    samples = np.tile(at[:, None], (1, size + 1))
    samples[np.arange(size), np.arange(size)] += nudges
    known = filled(values)
    for row, one in enumerate(group):
        known[one.number] = samples[row]
    numbers = {one.number for one in group}
    wrong, slopes = np.empty(size), np.empty((size, size))
    for row, one in enumerate(group):
        circuit, full_scale = one.setup.circuit, one.setup.full_scale or np.nan
        found = answer(circuit, known)
        weight = np.broadcast_to(found.log_det + weight_of(circuit, numbers, known), (size + 1,))
        form = (found.amps / full_scale - 1.0) * np.exp(weight - weight[-1])
        wrong[row] = form[size]
        slopes[row] = (form[:size] - form[size]) / nudges
    return wrong, slopes


def checked_choice(part: Part) -> None:
    """Check the ``choose`` of a part; ``SpecError`` if it is none of the known ones."""
    if part.choose in (None, EXACT, DRAWER) or all(n in SERIES for n in _asked(part)):
        return
    assert part.choose is not None
    close = nearest(part.choose, [*SERIES, EXACT, DRAWER])
    hint = f"nearest is {shown(close)}" if close else "write E12, E24, E48, E96, exact or drawer"
    message = f"{part.name}: choose: {shown(part.choose)} is no series of preferred values"
    raise SpecError([Fault(part.place, message, hint)])


def preferred_near(name: str, ohms: float) -> tuple[float, ...]:
    """The preferred values on either side of a value, one if it is one itself.

    Source: IEC 60063, through the library eseries.

    >>> preferred_near("E12", 5.0)
    (4.7, 5.6)
    """
    if ohms <= 0.0:
        return (ohms,)
    below = float(eseries.find_less_than_or_equal(SERIES[name], ohms * (1 + 1e-12)))
    above = float(eseries.find_greater_than_or_equal(SERIES[name], ohms * (1 - 1e-12)))
    return tuple(dict.fromkeys((below, above)))


def series_of(part: Part, ohms: float) -> str | None:
    """Of the series a part may come from, the one with the fewest values that has this one."""
    names = sorted((name for name in _asked(part) if name in SERIES), key=_per_decade)
    return next((name for name in names if ohms in preferred_near(name, ohms)), None)


def _asked(part: Part) -> list[str]:
    return (part.choose or "").split(OR)


def _per_decade(name: str) -> int:
    return int(name[1:])


@dataclass(frozen=True, slots=True)
class _Asking:
    """A resistor that is to have a preferred value."""

    unknown: Unknown
    series: Sequence[str]
    exact: float

    @property
    def options(self) -> tuple[float, ...]:
        """Preferred values on either side."""
        return tuple(dict.fromkeys(v for n in self.series for v in preferred_near(n, self.exact)))

    def rank(self, ohms: float) -> int:
        """Values per decade of the coarsest series that has this one."""
        finest = max(map(_per_decade, self.series))
        coarse = (n for n in SERIES if _per_decade(n) <= finest and ohms in preferred_near(n, ohms))
        return min(map(_per_decade, coarse))

    def far(self, ohms: float) -> float:
        """How far a value is from the exact one, as a share of it."""
        return abs(ohms / self.exact - 1.0) if self.exact else 0.0


def choose_values(solved: Solved, setups: Sequence[Setup], unknowns: Sequence[Unknown]) -> None:
    """Preferred values for all fitted resistors that ask for one, into ``values`` and ``chosen``.

    What shares no reading is chosen on its own. Otherwise every combination of neighbours is
    tried: the least worst error over the readings that count (``setups``) is best, then the least
    next to it, and so on; then the series with the fewest values; then the nearest.
    """
    asking = []
    for unknown in unknowns:
        part, value = solved.network.parts[unknown.part], solved.values[unknown.number]
        if value is not None and _asked(part)[0] in SERIES:
            asking.append(_Asking(unknown, _asked(part), float(value[0])))
    for group in _groups(asking, setups):
        for one, ohms in zip(group, _best(solved, group, setups), strict=True):
            solved.chosen[one.unknown.part] = ohms
            solved.values[one.unknown.number] = np.array([ohms])


def _groups(asking: Sequence[_Asking], setups: Sequence[Setup]) -> Iterator[list[_Asking]]:
    """Resistors that share readings, so many at a time as can be tried together."""
    together = [set(setup.circuit.values) for setup in setups]
    left = list(asking)
    while left:
        group, size = [left.pop(0)], 1
        for member in group:
            size *= len(member.options)
            for other in list(left):
                pair = {member.unknown.number, other.unknown.number}
                fits = size * len(other.options) <= _MOST_AT_ONCE
                if fits and any(pair <= values for values in together):
                    group.append(other)
                    left.remove(other)
        yield group


def _best(solved: Solved, group: Sequence[_Asking], setups: Sequence[Setup]) -> tuple[float, ...]:
    picks = np.array(list(product(*(one.options for one in group))))
    off = _errors(solved, group, picks, setups)
    order = np.lexsort(off[::-1])
    slack = _AS_GOOD if any(len(one.series) > 1 for one in group) else _ALIKE
    good = [n for n in order if np.all(off[:, n] <= off[:, order[0]] + slack)]

    def cost(number: int) -> tuple[float, ...]:
        pick = list(zip(group, map(float, picks[number]), strict=True))
        ranks = sum(one.rank(ohms) for one, ohms in pick)
        return (ranks, *off[:, number], max(one.far(ohms) for one, ohms in pick))

    return tuple(float(v) for v in picks[min(good, key=cost)])


def _errors(
    solved: Solved, group: Sequence[_Asking], picks: Array, setups: Sequence[Setup]
) -> Array:
    """Errors of the readings that any of them is in, the worst first: (readings, picks)."""
    tried: list[Array | None] = list(solved.values)
    for one, column in zip(group, picks.T, strict=True):
        tried[one.unknown.number] = column
    numbers = {one.unknown.number for one in group}
    rows = [np.zeros(len(picks))]
    for setup in setups:
        circuit, used = setup.circuit, setup.circuit.values
        if circuit.meter is None or circuit.blind or not setup.full_scale:
            continue
        if any(tried[n] is None for n in used) or not numbers & set(used):
            continue
        amps = answer(circuit, filled(tried)).amps
        rows.append(np.broadcast_to(np.abs(amps / setup.full_scale - 1.0), (len(picks),)))
    return -np.sort(-np.stack(rows), axis=0)
