"""Ohms between two places with the power off: rules at rest, and what an ohmmeter finds."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from tests.simulator import engine, exact
from tests.simulator.judge import full_state
from tests.simulator.ledger import Ledger
from tests.simulator.netlist import Circuit, Ends
from tests.simulator.quantities import quantity
from tests.simulator.reader import Net, Rig, State, applies

COLD = Fraction(1, 10)
"""Ohms of a cold lamp over those of a lit one, from memory."""
SLACK = 1e-9
"""Relative: so near to its limit a rule is met."""


@dataclass(frozen=True)
class Between:
    """Two places of a rig in a state. Ohms are None where no path is, 0 where they are one."""

    rig: Rig
    state: State
    places: Ends
    cold: bool = True

    @cached_property
    def net(self) -> Net:
        whole = self.rig.net(self.state)
        return whole.kept([self.ends()])

    def ends(self) -> Ends:
        return self.rig.here(self.places[0]), self.rig.here(self.places[1])

    @cached_property
    def values(self) -> dict[str, Fraction]:
        share = COLD if self.cold else Fraction(1)
        lamps = {name for name, part in self.rig.parts.items() if "lamp" in part}
        return {n: v * share if n in lamps else v for n, v in self.rig.nominal.items()}

    def known(self) -> bool:
        parts = {b.part for b in self.net.branches}
        mine = [v for n, v in self.rig.values.items() if n.split("#")[0].split()[0] in parts]
        return all(value.nominal is not None for value in mine)

    def circuit(self) -> Circuit | None:
        """One ampere through the places; None where they are one node or have no path."""
        resistors, nodes = self.net.merged(self.values)
        one, two = (nodes(end) for end in self.ends())
        if one == two or not resistors:
            return None
        return Circuit(resistors, [((one, two), Fraction(1))])

    def one_node(self) -> bool:
        nodes = self.net.merged(self.values)[1]
        return nodes(self.ends()[0]) == nodes(self.ends()[1])


def ohms(asked: Iterable[Between]) -> Iterator[Any]:
    """Of each; infinite where there is no path."""
    asked = list(asked)
    circuits = [one.circuit() for one in asked]
    solved = engine.volts([circuit for circuit in circuits if circuit])
    for one, circuit in zip(asked, circuits, strict=True):
        if circuit is None:
            yield 0.0 if one.one_node() else float("inf")
        else:
            [(plus, minus), _] = circuit.currents[0]
            volts = next(solved)
            yield volts[plus] - volts[minus]


def holds(rule: Mapping[str, Any], found: float, one: Between) -> bool:
    """Whether a rule is kept; exact fractions decide where the figure is near its limit."""
    limit = (
        quantity(rule["within" if "connect" in rule else "beyond"]) if _has_limit(rule) else None
    )
    if limit is None:
        return found == 0.0 if "connect" in rule else found == float("inf")
    circuit = one.circuit()
    if circuit and abs(found / float(limit) - 1.0) < 1e-6:
        volts = exact.volts(circuit)
        [(plus, minus), _] = circuit.currents[0]
        found = float((volts[plus] - volts[minus]) / limit) * float(limit)
    if "connect" in rule:
        return found <= float(limit) * (1 + SLACK)
    return found >= float(limit) * (1 - SLACK)


def _has_limit(rule: Mapping[str, Any]) -> bool:
    return "within" in rule or "beyond" in rule


def rules(ledger: Ledger, about: str, rig: Rig, findings: Iterable[Mapping[str, Any]]) -> None:
    """Every rule in every state of a wiring, against what `rewire check` finds broken at rest."""
    told: dict[int, set[tuple[str, ...]]] = {}
    states = list(rig.states())
    for finding in findings:
        if finding["kind"] == "rule" and finding.get("states") is not None:
            for state in states:
                if any(all(state[c] == p for c, p in s.items()) for s in finding["states"]):
                    told.setdefault(finding["rule"], set()).add(tuple(state.values()))
    for number, rule in enumerate(rig.spec.get("rules", ())):
        places = tuple(rule.get("connect") or rule["isolate"])
        asked = [Between(rig, s, places, "isolate" in rule) for s in states if applies(rule, s)]
        if not all(one.known() for one in asked):
            continue
        found = zip(asked, ohms(asked), strict=True)
        broken = {tuple(o.state.values()) for o, f in found if not holds(rule, f, o)}
        ledger.same(f"{about} rule {number}: rule at rest", told.get(number, set()), broken)


def table(ledger: Ledger, about: str, rig: Rig, tests: Iterable[Mapping[str, Any]]) -> None:
    """What an ohmmeter must find: closed, open, or so many ohms."""
    own = Rig({**rig.spec, "points": {}}, rig.name, rig.found)
    for test in tests:
        state = full_state(rig, test["state"])
        one = Between(own, state, tuple(test["between"]))
        if not one.known():
            continue
        start = f"{about} {test['state']} {test['between']}"
        circuit = one.circuit()
        if circuit is None:
            expected = "closed" if one.one_node() else "open"
            ledger.same(f"{start}: ohmmeter closed or open", test["expect"], expected)
            continue
        [(plus, minus), _] = circuit.currents[0]
        ledger.ask(
            f"{start}: ohmmeter ohms",
            test["ohms"],
            [circuit],
            lambda v, plus=plus, minus=minus: v[0][plus] - v[0][minus],
            1e-9,
        )
