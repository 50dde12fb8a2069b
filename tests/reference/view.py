"""Roles and anchors: two wirings seen through one set of names.

A *view* is a wiring whose anchored terminals bear the names of the original.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tests.reference.circuit import Circuit, Contacts, components, kind_of, lugs_of, read_circuit

Groups = frozenset[frozenset[str]]
"""Anchors, two groups or more: what a fact speaks of."""

ROLELESS = ("switch", "strip")


@dataclass
class View:
    """A wiring and the anchor that each of its anchored terminals is."""

    circuit: Circuit
    name_of: dict[str, str]
    """Terminal or point → anchor, by its name in the original."""

    def anchors(self, numbers: frozenset[int]) -> frozenset[str]:
        """The anchors on some nets."""
        return frozenset(
            self.name_of[terminal]
            for number in numbers
            for terminal in self.circuit.nets[number]
            if terminal in self.name_of
        )

    def net(self, number: int) -> frozenset[str]:
        """The anchors on one net."""
        return self.anchors(frozenset([number]))

    def anchored(self) -> list[int]:
        """Nets with an anchor."""
        return [number for number in range(len(self.circuit.nets)) if self.net(number)]

    def anchored_nets(self) -> list[frozenset[str]]:
        """Those nets, as their anchors."""
        return [self.net(number) for number in self.anchored()]

    def tied(self, closed: Contacts) -> list[frozenset[str]]:
        """Anchors gathered by nets and closed contacts: To or Tw."""
        return self.gathered(closed, frozenset())

    def gathered(self, closed: Contacts, more: frozenset[frozenset[int]]) -> list[frozenset[str]]:
        """Anchors gathered by nets, closed contacts and further groups of nets."""
        groups = (self.anchors(numbers) for numbers in self.circuit.joined(closed, more))
        return [group for group in groups if group]

    def made_whole(self, closed: Contacts, by: View) -> list[frozenset[str]]:
        """Ties with the anchors of each net of the other wiring in one group: Ho or Hw."""
        return components(self.name_of.values(), self.tied(closed) + by.anchored_nets())

    def nets_of(self, anchors: frozenset[str]) -> frozenset[int]:
        """The nets on which some anchors lie."""
        return frozenset(
            self.circuit.net_of[terminal]
            for terminal, name in self.name_of.items()
            if name in anchors
        )


def claims(spec: Mapping[str, Any], wiring: str) -> dict[str, str]:
    """Terminal of a wiring → terminal of the original in whose role it stands.

    Parts that stay in the equipment are the same part in both, so they have
    their own roles.
    """
    stay = spec.get("parts", {})
    first = {**stay, **spec["wirings"]["original"].get("parts", {})}
    roles: dict[str, str] = {}
    for name, part in {**stay, **spec["wirings"][wiring].get("parts", {})}.items():
        if kind_of(part) in ROLELESS:
            continue
        given = part.get("replaces")
        if isinstance(given, Mapping):
            roles |= {f"{name}.{lug}": terminal for lug, terminal in given.items()}
        elif given is not None:
            roles |= {f"{name}.{lug}": f"{given}.{lug}" for lug in lugs_of(part)}
        elif name in first and kind_of(first[name]) == kind_of(part):
            roles |= {f"{name}.{lug}": f"{name}.{lug}" for lug in lugs_of(part)}
    return roles


def views(spec: Mapping[str, Any], wiring: str) -> tuple[View, View]:
    """The original and another wiring, nothing turned."""
    points = {point: point for point in spec.get("points", {})}
    roles = claims(spec, wiring)
    original = View(
        read_circuit(spec, "original"), points | {name: name for name in roles.values()}
    )
    return original, View(read_circuit(spec, wiring), points | roles)


def turned(other: View, pair: tuple[str, str]) -> View:
    """The other wiring with two anchors exchanged, whoever plays them."""
    swap = {pair[0]: pair[1], pair[1]: pair[0]}
    return View(other.circuit, {t: swap.get(name, name) for t, name in other.name_of.items()})


def turnable(original: View) -> list[tuple[str, tuple[str, str]]]:
    """Parts of the original with two terminals, both played, in order of their names."""
    found = []
    for name in sorted(rolebearing(original)):
        terminals = original.circuit.terminals[name]
        if len(terminals) == 2 and all(t in original.name_of for t in terminals):
            found.append((name, (terminals[0], terminals[1])))
    return found


def rolebearing(view: View) -> list[str]:
    """Parts that have or need roles: no switches, no strips."""
    return [name for name, part in view.circuit.parts.items() if kind_of(part) not in ROLELESS]


def missing_parts(original: View) -> list[str]:
    """Parts of the original with a terminal whose role nothing plays."""
    return sorted(
        name
        for name in rolebearing(original)
        if any(t not in original.name_of for t in original.circuit.terminals[name])
    )


def added_parts(other: View) -> list[str]:
    """Parts of the other wiring without a role for any terminal."""
    return sorted(
        name
        for name in rolebearing(other)
        if all(t not in other.name_of for t in other.circuit.terminals[name])
    )
