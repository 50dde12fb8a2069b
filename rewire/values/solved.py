"""A wiring worked out: readings set up, what is open fitted and chosen, pots set to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from math import prod

import networkx as nx
import numpy as np

from rewire.circuit.circuit import Case, circuit_of
from rewire.circuit.dc import Array
from rewire.circuit.states import LimitReached, States
from rewire.compare.roles import roles_between
from rewire.records.part import Part
from rewire.records.spec import Spec, Wiring
from rewire.values.dc_network import DcNetwork, dc_network_of, filled
from rewire.values.drawer import SERIES, Stock, in_stock, preferred_near, what_is_left
from rewire.values.fitting import fit_values, unknowns_of
from rewire.values.meter_circuit import Fitted, Setup, Solved, Unknown, answer, loads_of
from rewire.values.readings import nominal_of, setup_of
from rewire.values.sources import LugVolts, high_points, most_volts
from rewire.words.quantity import in_ohms, with_unit

LOW_OHMS = 10.0
"""Ohm in all below which the copper of the wires counts in a reading."""
EXACT = "exact"
DRAWER = "drawer"
OR = " or "
"""Between two series that a value may come from."""
_MOST_OF_IT = 0.9
"""Share of the current that goes through a sense resistor, at least."""
_ROUNDING = 1e-3
"""So much more, with the wires' own copper, the places may have between them than the resistor."""
_ONE = 0.005
"""As near to 1 Ω as this a voltmeter's millivolts are milliamperes."""
_ONE_FACTOR = 0.01
"""Factors of several readings that differ by less are given as one."""
_MOST_AT_ONCE = 1024
"""Combinations of preferred values that are tried at once."""
_ALIKE = 1e-9
"""Share of full scale that is only rounding."""
_AS_GOOD = 5e-4
"""Share of full scale that no pointer shows: within it a value of fewer per decade is as good."""


def solved_of(spec: Spec, wiring: Wiring, stocks: tuple[Stock, ...] = ()) -> Solved:
    """A wiring worked out, once for the same records; nobody changes it.

    ``stocks`` are what lies in a drawer.

    Raises:
        LimitReached: as ``values_of``.
    """
    return _solved_of(Case(spec, wiring), stocks)


def lug_volts(spec: Spec, wiring: Wiring) -> dict[str, LugVolts]:
    """Terminal or point → its volts, for each that can be at 50 V or more."""
    return dict(_lug_volts(Case(spec, wiring)))


def point_volts(spec: Spec) -> dict[str, LugVolts]:
    """Point → the most volts that it can be at in any wiring, from 50 V on, the highest first."""
    found = dict[str, LugVolts]()
    for wiring in spec.wirings.values():
        for place, volts in lug_volts(spec, wiring).items():
            if place in spec.points and volts.exceeds(found.get(place)):
                found[place] = volts
    return dict(sorted(found.items(), key=lambda item: (-abs(round(item[1].volts, 6)), item[0])))


@lru_cache(maxsize=64)
def _lug_volts(case: Case) -> dict[str, LugVolts]:
    if not high_points(case.spec):
        return {}
    try:
        solved = _solved_of(case, ())
    except LimitReached:
        network = dc_network_of(case.spec, case.wiring, roles_between(case.spec, case.wiring))
        return most_volts(network, network.nominal())
    return most_volts(solved.network, solved.values)


@lru_cache(maxsize=64)
def _solved_of(case: Case, stocks: tuple[Stock, ...]) -> Solved:
    roles = roles_between(case.spec, case.wiring)
    return worked_out(dc_network_of(case.spec, case.wiring, roles), stocks)


def worked_out(network: DcNetwork, stocks: Sequence[Stock] = ()) -> Solved:
    """A network worked out; ``solved_of`` keeps that of a wiring."""
    wiring = network.wiring
    setups = _readings(network, list(wiring.readings))
    unknowns = unknowns_of(network, setups)
    solved = Solved(network, setups, unknowns, network.nominal(), {})
    fit_values(solved, unknowns)
    solved.exact |= {
        u.part: float(v[0]) for u in unknowns if (v := solved.values[u.number]) is not None
    }
    resistors = [u for u in unknowns if not u.is_setting and u.part in solved.exact]
    if stocks:
        _take_from_drawer(solved, resistors, stocks)
    pots = [u for u in unknowns if u.is_setting and u.part in solved.exact]
    by_pot = [u.setup for u in pots]
    counting = [s for s in setups.values() if s not in by_pot]
    choose_values(solved, counting, [u for u in resistors if u.part not in solved.chosen])
    if solved.chosen and pots:
        for unknown in pots:
            solved.values[unknown.number] = None
        fit_values(solved, pots)
        _spoilt(solved, pots)
    return solved


def _readings(network: DcNetwork, names: Sequence[str]) -> dict[str, Setup]:
    """The readings that can be taken at all."""
    states = States(network.spec.controls, network.spec.never)
    readings = network.wiring.readings
    found = {name: setup_of(network, states, readings[name]) for name in names}
    return {name: one for name, one in found.items() if one is not None}


def _take_from_drawer(
    solved: Solved, resistors: Sequence[Unknown], stocks: Sequence[Stock]
) -> None:
    """The best combination for each resistor in turn; what one takes, the next cannot have."""
    watts: dict[str, float] = {}
    for ready in solved.setups.values():
        for part, load in loads_of(solved, ready).items():
            watts[part] = max(load.watts, watts.get(part, 0.0))
    for unknown in resistors:
        value = solved.network.values[unknown.number]
        off = None if value.tolerance is None else 100.0 * value.tolerance
        exact = solved.exact[unknown.part]
        best = in_stock(stocks, exact, watts.get(unknown.part), off)
        solved.combined[unknown.part] = best
        if not best:
            continue
        stocks = what_is_left(stocks, best[0])
        solved.chosen[unknown.part] = best[0].ohms
        solved.values[unknown.number] = np.array([best[0].ohms])
        if best[0].tolerance_percent is not None:
            spread = best[0].tolerance_percent / 100.0
            solved.network.values[unknown.number] = replace(value, tolerance=spread)


def _spoilt(solved: Solved, pots: Sequence[Unknown]) -> None:
    """Where what was chosen leaves a pot no setting: the nearest, and that this is why."""
    numbers = {u.part: u.number for u in solved.unknowns}
    circuits = [{*s.circuit.values} for s in solved.setups.values()]
    for pot in pots:
        found = solved.found[pot.part]
        if found.solutions or found.nearest is None:
            continue
        near = [n for n in solved.chosen if any({numbers[n], pot.number} <= c for c in circuits)]
        said = ", ".join(f"{name} = {in_ohms(solved.chosen[name])}" for name in near)
        why = f"with {said} no setting is right, with the exact value there is one; {found.why}"
        solved.values[pot.number] = np.array([found.nearest])
        solved.found[pot.part] = Fitted((found.nearest,), why)


def with_leads(solved: Solved) -> Callable[[str], Solved]:
    """By the name of a reading: the same with the copper of its wires, where that counts."""
    wiring = solved.network.wiring
    leads = {wire.id: ohms for wire in wiring.wires if (ohms := wire.ohms)}
    low = [n for n, one in solved.setups.items()
           if (nominal_of(solved, one).insertion or 0.0) < LOW_OHMS]  # fmt: skip
    if not leads or not low:
        return lambda _: solved
    network = dc_network_of(solved.spec, wiring, solved.network.roles, leads)
    numbers = {(v.part, v.name): n for n, v in enumerate(network.values)}
    known = [numbers[value.part, value.name] for value in solved.network.values]
    for number, value in zip(known, solved.network.values, strict=True):
        network.values[number] = value
    setups = _readings(network, low)
    unknowns = [
        replace(u, number=known[u.number], setup=setups[u.setup.reading.name])
        for u in solved.unknowns
        if u.setup.reading.name in setups
    ]
    leaded = Solved(network, setups, unknowns, solved.values_in(network), solved.found)
    return lambda name: leaded if name in setups else solved


def sense_factors(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Resistor → what a voltmeter across it says of the current: ``mV = mA``, ``1 A = 66.7 mV``.

    Of those that lie between the two points of a current reading and take nearly all of it.
    """
    circuit = circuit_of(spec, wiring)
    try:
        solved = solved_of(spec, wiring)
    except LimitReached:
        return {}
    found: dict[str, list[float]] = {}
    for setup in solved.setups.values():
        ohms = nominal_of(solved, setup).insertion
        if setup.reading.quantity != "current" or not ohms:
            continue
        places = {circuit.nets.of[place] for place in setup.reading.places}
        for part in circuit.parts.values():
            own = part.legs[0].ohms if part.fixed_ohms and part.two_ended else None
            between = {circuit.nets.of[terminal] for terminal in part.full_terminals}
            if own and between == places and _MOST_OF_IT * own <= ohms <= own * (1.0 + _ROUNDING):
                found.setdefault(part.name, []).append(ohms)
    return {
        name: _as_volts(sum(each) / len(each)) for name, each in found.items()
        if max(each) <= min(each) * (1.0 + _ONE_FACTOR)
    }  # fmt: skip


def _as_volts(ohms: float) -> str:
    if abs(ohms - 1.0) <= _ONE:
        return "mV = mA"
    if ohms < 1.0:
        return f"1 A = {with_unit(ohms, 'V', 3)}"
    return f"1 mA = {with_unit(ohms / 1e3, 'V', 3)}"


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
    """A resistor that is to have a value of one of some series."""

    number: int
    part: str
    series: Sequence[str]
    exact: float

    @property
    def options(self) -> tuple[float, ...]:
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
        value, names = solved.values[unknown.number], _asked(solved.network.parts[unknown.part])
        if value is not None and names[0] in SERIES:
            asking.append(_Asking(unknown.number, unknown.part, names, float(value[0])))
    for group in _groups(asking, setups):
        for one, ohms in zip(group, _best(solved, group, setups), strict=True):
            solved.chosen[one.part] = ohms
            solved.values[one.number] = np.array([ohms])


def _groups(asking: Sequence[_Asking], setups: Sequence[Setup]) -> Iterator[list[_Asking]]:
    """Resistors that share readings; each by itself where they are too many to try together."""
    by_number = {one.number: one for one in asking}
    sharing: nx.Graph[int] = nx.Graph()
    sharing.add_nodes_from(by_number)
    for setup in setups:
        nx.add_path(sharing, [n for n in by_number if n in setup.circuit.values])
    for numbers in nx.connected_components(sharing):
        group = [one for one in asking if one.number in numbers]
        few = prod(len(one.options) for one in group) <= _MOST_AT_ONCE
        yield from [group] if few else [[one] for one in group]


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
        tried[one.number] = column
    numbers = {one.number for one in group}
    rows = [np.zeros(len(picks))]
    for setup in setups:
        circuit = setup.circuit
        if circuit.meter is None or circuit.blind or not setup.full_scale:
            continue
        if not circuit.known(tried) or not numbers & set(circuit.values):
            continue
        amps = answer(circuit, filled(tried)).amps
        rows.append(np.broadcast_to(np.abs(amps / setup.full_scale - 1.0), (len(picks),)))
    return -np.sort(-np.stack(rows), axis=0)
