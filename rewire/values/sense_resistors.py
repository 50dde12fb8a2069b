"""Which resistors of the set a current can be read over, and how many millivolts they show."""

from __future__ import annotations

from rewire.circuit.circuit import circuit_of
from rewire.circuit.states import LimitReached
from rewire.records.spec import Spec, Wiring
from rewire.values.solved import insertion, solved_of
from rewire.words.quantity import with_unit

_MOST_OF_IT = 0.9
"""Share of the current that goes through a sense resistor, at least."""
_ROUNDING = 1e-3
"""So much more, with the wires' own copper, the places may have between them than the resistor."""
_ONE = 0.005
"""As near to 1 Ω as this a voltmeter's millivolts are milliamperes."""
_ALIKE = 0.01
"""Factors of several readings that differ by less are told as one."""


def sense_factors(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Resistor → what a voltmeter across it says of the current: ``mV = mA``, ``1 A = 66.7 mV``.

    A resistor counts that lies straight between the two places of a current reading and takes
    nearly all of the current. The meter beside it is reckoned with. Empty where a limit is reached.
    """
    circuit = circuit_of(spec, wiring)
    try:
        solved = solved_of(spec, wiring)
    except LimitReached:
        return {}
    found: dict[str, list[float]] = {}
    for name, setup in solved.setups.items():
        ohms = insertion(solved, name)
        if setup.reading.quantity != "current" or not ohms:
            continue
        places = {circuit.nets.of[place] for place in setup.reading.places}
        for part in circuit.parts.values():
            own = part.legs[0].ohms if part.fixed_ohms and part.two_ended else None
            between = {circuit.nets.of[terminal] for terminal in part.full_terminals}
            if own and between == places and _MOST_OF_IT * own <= ohms <= own * (1.0 + _ROUNDING):
                found.setdefault(part.name, []).append(ohms)
    return {
        name: _said(sum(each) / len(each)) for name, each in found.items()
        if max(each) <= min(each) * (1.0 + _ALIKE)
    }  # fmt: skip


def _said(ohms: float) -> str:
    if abs(ohms - 1.0) <= _ONE:
        return "mV = mA"
    if ohms < 1.0:
        return f"1 A = {with_unit(ohms, 'V', 3)}"
    return f"1 mA = {with_unit(ohms / 1e3, 'V', 3)}"
