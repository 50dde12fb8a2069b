"""A wiring worked out: readings set up, what is open fitted and chosen, pots set to it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from rewire.circuit.circuit import Case
from rewire.circuit.states import States
from rewire.records.spec import Spec, Wiring
from rewire.values.answers import Combination
from rewire.values.dc_network import DcNetwork, dc_network_of
from rewire.values.drawer import Stock, in_stock, what_is_left
from rewire.values.fitting import checked_choice, choose_values, fit_values, unknowns_of
from rewire.values.meter_circuit import Fitted, Setup, Solved, Unknown, loads_of
from rewire.values.readings import nominal, setup
from rewire.words.quantity import in_ohms

LOW_OHMS = 10.0
"""Ohm in all below which the copper of the wires counts in a reading."""


def solved_of(spec: Spec, wiring: Wiring) -> Solved:
    """A wiring worked out: readings set up, what is open fitted and chosen, pots set to it.

    The same records give the same answer, worked out once; nobody changes it.

    Raises:
        LimitReached, SpecError: as ``values_of``.
    """
    return _solved_of(Case(spec, wiring))


@lru_cache(maxsize=64)
def _solved_of(case: Case) -> Solved:
    return with_drawer(case.spec, case.wiring, ())[0]


def with_drawer(
    spec: Spec, wiring: Wiring, stocks: Sequence[Stock]
) -> tuple[Solved, dict[str, list[Combination]]]:
    """A wiring worked out with what lies in a drawer, and the best of it for each resistor."""
    network = dc_network_of(spec, wiring)
    setups = _readings(network, list(wiring.readings))
    unknowns = unknowns_of(network, setups)
    for unknown in unknowns:
        checked_choice(network.parts[unknown.part])
    solved = Solved(network, setups, unknowns, network.nominal(), {})
    fit_values(solved, unknowns)
    solved.exact |= {
        u.part: float(v[0]) for u in unknowns if (v := solved.values[u.number]) is not None
    }
    resistors = [u for u in unknowns if not u.is_setting and u.part in solved.exact]
    combined = _take_from_drawer(solved, resistors, stocks) if stocks else {}
    pots = [u for u in unknowns if u.is_setting and u.part in solved.exact]
    by_pot = [u.setup for u in pots]
    counting = [s for s in setups.values() if s not in by_pot]
    choose_values(solved, counting, [u for u in resistors if u.part not in solved.chosen])
    if solved.chosen and pots:
        for unknown in pots:
            solved.values[unknown.number] = None
        fit_values(solved, pots)
        _spoilt(solved, pots)
    return solved, combined


def _readings(network: DcNetwork, names: Sequence[str]) -> dict[str, Setup]:
    """The readings that can be taken at all."""
    states = States(network.spec.controls, network.spec.never)
    readings = network.wiring.readings
    found = {name: setup(network, states, readings[name]) for name in names}
    return {name: one for name, one in found.items() if one is not None}


def _take_from_drawer(
    solved: Solved, resistors: Sequence[Unknown], stocks: Sequence[Stock]
) -> dict[str, list[Combination]]:
    """The best combination for each resistor in turn; what one takes, the next cannot have."""
    watts: dict[str, float] = {}
    for ready in solved.setups.values():
        for part, load in loads_of(solved, ready).items():
            watts[part] = max(load.watts, watts.get(part, 0.0))
    combined = {}
    for unknown in resistors:
        best = in_stock(stocks, solved.exact[unknown.part], watts.get(unknown.part))
        combined[unknown.part] = best
        if not best:
            continue
        stocks = what_is_left(stocks, best[0])
        solved.chosen[unknown.part] = best[0].ohms
        solved.values[unknown.number] = np.array([best[0].ohms])
        if best[0].tolerance_percent is not None:
            off = best[0].tolerance_percent / 100.0
            value = solved.network.values[unknown.number]
            solved.network.values[unknown.number] = replace(value, tolerance=off)
    return combined


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
    low = [name for name in solved.setups if (insertion(solved, name) or 0.0) < LOW_OHMS]
    if not leads or not low:
        return lambda _: solved
    network = dc_network_of(solved.spec, wiring, leads)
    values, known = network.nominal(), dict[int, int]()
    numbers = {(v.part, v.name): n for n, v in enumerate(network.values)}
    for number, value in enumerate(solved.network.values):
        known[number] = here = numbers[value.part, value.name]
        network.values[here], values[here] = value, solved.values[number]
    setups = _readings(network, low)
    unknowns = [
        replace(u, number=known[u.number], setup=setups[u.setup.reading.name])
        for u in solved.unknowns
        if u.setup.reading.name in setups
    ]
    leaded = Solved(network, setups, unknowns, values, solved.found)
    return lambda name: leaded if name in setups else solved


def insertion(solved: Solved, name: str) -> float | None:
    """Insertion resistance of a reading, ohm; None where it is not known."""
    ready = solved.setups.get(name)
    return nominal(solved.network, ready.circuit, solved.values).insertion if ready else None
