"""Fitting: resistances and settings that make readings right, exactly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import networkx as nx
import numpy as np

from rewire.circuit.dc import Array
from rewire.values import meter_circuit
from rewire.values.dc_network import DcNetwork, Values, changed, filled
from rewire.values.meter_circuit import Fitted, ReadingCircuit, Setup, Solved, Unknown
from rewire.words.quantity import in_ohms, with_unit

_ROUNDS = 60
_STARTS = 40
_MET = 1e-9
_SIZES = np.array([0.1, 1.0, 10.0])
_LEAST_OHMS, _MOST_OHMS = 1e-6, 1e12
"""Beyond these no resistor can be had or measured; common practice, no source."""
_FREE = 1e-7
"""Ratio of singular values below which readings leave a combination of values open."""
_NO_FULL_SCALE = "the meter's full-scale current is not known"


def unknowns_of(network: DcNetwork, setups: Mapping[str, Setup]) -> list[Unknown]:
    """Every value of a network that is left to be worked out, with its reading."""
    found = []
    for part in network.parts.values():
        if part.fit_for in setups and part.fit_for is not None:
            number = network.of_part(part.name)[-1]
            setting = network.values[number].is_setting
            found.append(Unknown(part.name, number, setups[part.fit_for], setting))
    return found


def fit_values(solved: Solved, unknowns: Sequence[Unknown]) -> None:
    """Find some unknowns, and write what is found into ``found`` and ``values``.

    Those whose readings depend on each other are solved together, after what they depend on; one
    alone is solved at once and exactly.
    """
    depends: nx.DiGraph[int] = nx.DiGraph()
    by_number = {unknown.number: unknown for unknown in unknowns}
    for number, unknown in by_number.items():
        depends.add_edges_from((number, n) for n in unknown.setup.circuit.values if n in by_number)
        depends.add_node(number)
    for numbers in nx.strongly_connected_components(depends):
        group = [unknown for number, unknown in by_number.items() if number in numbers]
        answers = _together(solved, group) if len(group) > 1 else [_one(solved, group[0])]
        for unknown, result in zip(group, answers, strict=True):
            solved.found[unknown.part] = result
            if result.solutions:
                solved.values[unknown.number] = np.array([result.solutions[0]])


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
        target = meter_circuit.setting_form(unknown, known).against(full_scale)
        zeros = meter_circuit.roots(target, -1e-9, 1 + 1e-9)[:, 0]
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
    amps = np.broadcast_to(meter_circuit.answer(unknown.setup.circuit, tried).amps, (3,))
    return bool(np.ptp(amps) > _MET * np.max(np.abs(amps)))


def _middling(circuit: ReadingCircuit, values: Values) -> float:
    """A resistance of the size of those around it: the geometric mean."""
    known = (values[b.value] for b in circuit.branches if b.share is None)
    sizes = [float(v[0]) for v in known if v is not None and v[0] > 0.0]
    return float(np.exp(np.mean(np.log(sizes)))) if sizes else 100.0


def _resistance(
    circuit: ReadingCircuit, known: Sequence[Array], number: int, full_scale: float
) -> Iterator[float]:
    """The resistance that puts the meter at full scale, solved at points that move there."""
    near = float(known[number][0])
    for _ in range(6):
        form = meter_circuit.rational_form(circuit, known, number, (near, 2.0 * near))
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
    if not all(np.isfinite(value).all() for value in tried):
        # What is left open lets no current through, whatever the others are.
        return ""
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
        amps = float(meter_circuit.answer(circuit, changed(known, unknown.number, value)).amps[0])
        if np.isfinite(amps):
            found[said] = value, amps / full_scale
    return found


def _together(solved: Solved, group: Sequence[Unknown]) -> list[Fitted]:
    """Several unknowns that move each other's readings, by Newton's method from several starts."""
    values = solved.values
    others = list(values)
    for one in group:
        others[one.number] = np.array([0.5 if one.is_setting else 100.0])
    why = next(filter(None, (_hopeless(solved.network, one, others) for one in group)), None)
    if why is not None:
        return [Fitted((), why)] * len(group)
    solutions: list[Array] = []
    spots, offs = _newton(group, values, _starts(group, values))
    for spot, off in zip(spots, offs, strict=True):
        if off < _MET and not any(_alike(group, spot, known) for known in solutions):
            solutions.append(spot)
    if any(_leaves_open(group, values, spot) for spot in solutions):
        names, readings = _named(group)
        said = f"{readings} leave {names} open: many values together do it; state one of them"
        return [Fitted((), said)] * len(group)
    absurd = [_absurd(group, spot) for spot in solutions]
    sound = [spot for spot, said in zip(solutions, absurd, strict=True) if not said]
    if sound:
        return [Fitted(tuple(float(s[i]) for s in sound)) for i in range(len(group))]
    nearest = spots[np.argmin(offs)]
    said = _no_common(group, nearest, float(np.min(offs)))
    if solutions:
        said = f"only with {absurd[0]} would all be right: no such resistor can be had"
    return [Fitted((), said, float(nearest[i])) for i in range(len(group))]


def _alike(group: Sequence[Unknown], one: Array, other: Array) -> bool:
    """Whether two solutions are the same but for rounding."""
    sizes = np.where([u.is_setting for u in group], 1.0, np.abs(one))
    return bool(np.all(np.abs(one - other) <= 1e-6 * sizes))


def _leaves_open(group: Sequence[Unknown], values: Values, spot: Array) -> bool:
    """Whether the readings stay right along a line through a solution: not all is fixed there."""
    _, slopes = _linearised(group, values, spot[None])
    sizes = np.linalg.svd(
        slopes[0] * np.where([u.is_setting for u in group], 1.0, spot), compute_uv=False
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


def _starts(group: Sequence[Unknown], values: Values) -> Array:
    """Where the search begins: in the middle, then all over what the values can be."""
    settings = [one.is_setting for one in group]
    middles = np.where(settings, 0.5, [_middling(one.setup.circuit, values) for one in group])
    spots = np.random.default_rng(len(group)).uniform(0.02, 0.98, (_STARTS, len(group)))
    return np.vstack([middles, np.where(settings, spots, middles * 10.0 ** (8.0 * (spots - 0.5)))])


def _newton(group: Sequence[Unknown], values: Values, starts: Array) -> tuple[Array, Array]:
    """Where Newton's method ends from each start, and how far the worst reading is off there."""
    at, best, off = starts.copy(), starts.copy(), np.full(len(starts), np.inf)
    settings, left = np.array([one.is_setting for one in group]), np.arange(len(starts))
    for _ in range(_ROUNDS):
        wrong, slopes = _linearised(group, values, at[left])
        worst = np.max(np.abs(wrong), axis=1)
        better = worst < off[left]
        best[left[better]], off[left[better]] = at[left[better]], worst[better]
        going = np.isfinite(worst) & (worst >= 1e-14)
        left, solved = left[going], zip(slopes[going], -wrong[going], strict=True)
        if not len(left):
            break
        here = at[left]
        there = here + np.stack([np.linalg.lstsq(a, b, rcond=None)[0] for a, b in solved])
        there = np.where(settings, np.clip(there, 1e-9, 1 - 1e-9), np.maximum(there, here / 10))
        at[left] = there
        left = left[~np.isclose(there, here, rtol=1e-15, atol=0).all(axis=1)]
        if not len(left):
            break
    return best, off


def _linearised(group: Sequence[Unknown], values: Values, at: Array) -> tuple[Array, Array]:
    """Deflection less 1 of every reading, shape (starts, unknowns), and its form's exact slopes."""
    starts, size = at.shape
    inward = np.where(at > 0.5, -1e-5, 1e-5)
    nudges = np.where([one.is_setting for one in group], inward, at * 1e-3)
    samples = np.repeat(at[:, None, :], size + 1, axis=1)
    samples[:, np.arange(size), np.arange(size)] += nudges
    known, numbers = filled(values), {one.number for one in group}
    for column, one in enumerate(group):
        known[one.number] = samples[:, :, column].ravel()
    wrong, slopes = np.empty((starts, size)), np.empty((starts, size, size))
    for row, one in enumerate(group):
        circuit, full_scale = one.setup.circuit, one.setup.full_scale or np.nan
        found = meter_circuit.answer(circuit, known)
        logs, amps = (
            np.broadcast_to(each, (starts * (size + 1),)).reshape(starts, size + 1)
            for each in (
                found.log_det + meter_circuit.weight_of(circuit, numbers, known),
                found.amps,
            )
        )
        form = (amps / full_scale - 1.0) * np.exp(logs - logs[:, -1:])
        wrong[:, row] = form[:, size]
        slopes[:, row] = (form[:, :size] - form[:, size:]) / nudges
    return wrong, slopes
