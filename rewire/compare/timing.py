"""How sections of unknown timing are read: to the disadvantage of the other wiring."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rewire.circuit.circuit import Contact
from rewire.records.spec import Spec, Switch, Wiring


@dataclass(frozen=True, slots=True)
class Assumption:
    """One reading of the timings that are not known.

    A switch that is the same in both wirings (``alike``) is taken alike in
    both. Any other is read against the other wiring: where a break would be
    found, the original as shorting and the other as non-shorting; where a
    bridge would, the reverse.
    """

    alike: frozenset[str]
    alike_shorting: bool

    def breaks(self, contact: Contact, original: bool) -> bool:
        """Whether a contact is taken as shorting when gaps and interruptions are sought."""
        return self._shorting(contact, unknown=original)

    def bridges(self, contact: Contact, original: bool) -> bool:
        """Whether a contact is taken as shorting when bridges and strays are sought."""
        return self._shorting(contact, unknown=not original)

    def _shorting(self, contact: Contact, unknown: bool) -> bool:
        timing = contact.section.timing
        if timing != "unknown":
            return timing == "shorting"
        return self.alike_shorting if contact.switch in self.alike else unknown

    def likeness(self, contact: Contact, original: bool) -> object:
        """What two contacts must have in common to be timed alike whatever is asked."""
        timing = contact.section.timing
        if timing != "unknown" or contact.switch in self.alike:
            return timing
        return timing, original


def assumptions(spec: Spec, other: Wiring) -> Iterator[Assumption]:
    """The readings to try; what any of them finds counts."""
    alike = frozenset(_alike(spec, other))
    yield Assumption(alike, alike_shorting=True)
    parts = spec.parts_of(other)
    if any(_has_unknown(parts[name]) for name in alike):
        yield Assumption(alike, alike_shorting=False)


def _alike(spec: Spec, other: Wiring) -> Iterator[str]:
    here, there = spec.parts_of(spec.original), spec.parts_of(other)
    for name, switch in here.items():
        twin = there.get(name)
        if not isinstance(switch, Switch) or not isinstance(twin, Switch):
            continue
        if _character(switch) == _character(twin):
            yield name


def _character(switch: Switch) -> object:
    """All of a switch that its ties and timing depend on."""
    sections = frozenset(
        (frozenset(s.lugs), tuple(_as_sets(groups) for groups in s.groups), s.timing)
        for s in switch.sections
    )
    return switch.control, frozenset(switch.terminals), sections


def _as_sets(groups: tuple[tuple[str, ...], ...]) -> frozenset[frozenset[str]]:
    return frozenset(frozenset(group) for group in groups)


def _has_unknown(part: object) -> bool:
    return isinstance(part, Switch) and any(s.timing == "unknown" for s in part.sections)


def timing_aside(contact: Contact, first: bool) -> object:  # noqa: ARG001
    """At rest the timing of a contact plays no part."""
    return None
