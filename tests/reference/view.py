"""Roles and anchors: two wirings seen through one set of names.

A *view* is a wiring whose anchored terminals bear the names of the original.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from typing import Any

from tests.reference.circuit import Circuit, Contacts, components, kind_of, lugs_of, read_circuit

Groups = frozenset[frozenset[str]]
"""Anchors, two groups or more: what a fact speaks of."""

ROLELESS = ("switch", "strip")


class View:
    """A wiring and the anchor that each of its anchored terminals is.

    Attributes:
        circuit: The wiring.
        name_of: Terminal or point → anchor, by its name in the original.
        roles: The same as it is written, before any part is turned.
        nets: Per net number the anchors on it.
        passing: What parts that pass DC link, as groups of nets.
        known: Answers already worked out, by question.
    """

    def __init__(
        self, circuit: Circuit, name_of: dict[str, str], roles: dict[str, str] | None = None
    ) -> None:
        self.circuit = circuit
        self.name_of = name_of
        self.roles = name_of if roles is None else roles
        self.nets = [
            frozenset(name_of[terminal] for terminal in net if terminal in name_of)
            for net in circuit.nets
        ]
        self.passing = circuit.dc_links(circuit.parts)
        self.known: dict[Hashable, Any] = {}

    def net(self, number: int) -> frozenset[str]:
        """The anchors on one net."""
        return self.nets[number]

    def anchored(self) -> list[int]:
        """Nets with an anchor."""
        return [number for number, anchors in enumerate(self.nets) if anchors]

    def anchored_nets(self) -> list[frozenset[str]]:
        """Those nets, as their anchors."""
        return [anchors for anchors in self.nets if anchors]

    def tied(self, closed: Contacts) -> list[frozenset[str]]:
        """Anchors gathered by nets and closed contacts: To or Tw."""
        return self.gathered(closed, frozenset())

    def gathered(self, closed: Contacts, more: frozenset[frozenset[int]]) -> list[frozenset[str]]:
        """Anchors gathered by nets, closed contacts and further groups of nets."""
        question = "gathered", closed, more
        if question not in self.known:
            groups = (
                frozenset().union(*(self.nets[number] for number in numbers))
                for numbers in self.circuit.joined(closed, more)
            )
            self.known[question] = [group for group in groups if group]
        answer: list[frozenset[str]] = self.known[question]
        return answer

    def made_whole(self, closed: Contacts, by: View) -> list[frozenset[str]]:
        """Ties with the anchors of each net of the other wiring in one group: Ho or Hw."""
        question = "whole", closed, frozenset(by.anchored_nets())
        if question not in self.known:
            groups = self.tied(closed) + by.anchored_nets()
            self.known[question] = components(self.name_of.values(), groups)
        answer: list[frozenset[str]] = self.known[question]
        return answer

    def with_paths(self, closed: Contacts, extra: Iterable[Groups]) -> list[frozenset[str]]:
        """Anchors gathered by ties and parts that pass DC, the anchors of each extra tied."""
        ties = frozenset(self.nets_of(frozenset().union(*groups)) for groups in extra)
        return self.gathered(closed, ties | self.passing)

    def nets_of(self, anchors: frozenset[str]) -> frozenset[int]:
        """The nets on which some anchors lie."""
        return frozenset(number for number, here in enumerate(self.nets) if here & anchors)


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
    names = {t: swap.get(name, name) for t, name in other.name_of.items()}
    return View(other.circuit, names, other.roles)


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
