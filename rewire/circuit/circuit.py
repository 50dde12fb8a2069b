"""A wiring as a circuit: nets, contacts, lugs; each worked out once, when first asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

from rewire.circuit.contacts import Contact, Link, contacts_of, links_of
from rewire.circuit.nets import Nets, bare_lugs, joints_of, nets_of
from rewire.circuit.traces import Joint, joints_of_wiring
from rewire.records.lug_positions import Positions, lug_positions
from rewire.records.spec import Part, Spec, Switch, Wiring


@dataclass(frozen=True, slots=True)
class Case:
    """A wiring of a spec; the same records are the same case."""

    spec: Spec
    wiring: Wiring

    def __hash__(self) -> int:
        return hash((id(self.spec), id(self.wiring)))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Case) and self.spec is other.spec and self.wiring is other.wiring


def circuit_of(spec: Spec, wiring: Wiring) -> Circuit:
    """The circuit of a wiring. The same records give the same circuit; nothing is built twice."""
    return _circuit_of(Case(spec, wiring))


@lru_cache(maxsize=64)
def _circuit_of(case: Case) -> Circuit:
    return Circuit(case.spec, case.wiring)


@dataclass(frozen=True, eq=False)
class Circuit:
    """One wiring, seen as a circuit."""

    spec: Spec
    wiring: Wiring

    @cached_property
    def parts(self) -> Mapping[str, Part]:
        """Every part by its name, the ones that stay in all wirings first."""
        return self.spec.parts_of(self.wiring)

    @cached_property
    def switches(self) -> tuple[Switch, ...]:
        """The switches, in the order of ``parts``."""
        return tuple(part for part in self.parts.values() if isinstance(part, Switch))

    @cached_property
    def soldered(self) -> tuple[tuple[str, ...], ...]:
        """Terminals that a wire, a net list or a lead joins, one group for each of these."""
        return tuple(joints_of(self.spec, self.wiring))

    @cached_property
    def nets(self) -> Nets:
        """What is joined wherever the switches stand."""
        return nets_of(self.spec, self.wiring)

    @cached_property
    def bare(self) -> frozenset[str]:
        """Lugs of switches and tags of strips with nothing soldered to them."""
        return bare_lugs(self.spec, self.wiring)

    @cached_property
    def contacts(self) -> tuple[Contact, ...]:
        """Every section of every switch on its nets, in order of the switches' names."""
        return contacts_of(self.spec, self.wiring, self.nets)

    @cached_property
    def links(self) -> tuple[Link, ...]:
        """Nets that one section closes on each other, with the positions in which it does."""
        return tuple(links_of(self.contacts))

    @cached_property
    def joints(self) -> tuple[Joint, ...]:
        """All that joins terminals: wires, net lists, leads, contacts, parts that pass DC."""
        return tuple(joints_of_wiring(self.spec, self.wiring))

    @cached_property
    def positions(self) -> Mapping[str, Positions]:
        """Per switch where its lugs sit, seen from behind."""
        return {switch.name: lug_positions(switch) for switch in self.switches}
