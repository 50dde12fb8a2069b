"""Roles: which part of the other wiring does the work of which original part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from rewire.records.spec import (
    Capacitor,
    Choke,
    Fuse,
    Lamp,
    Part,
    Resistor,
    Spec,
    Strip,
    Switch,
    Wiring,
)


@dataclass(frozen=True, slots=True)
class Roles:
    """Who stands for whom, and what nobody stands for."""

    seat: Mapping[str, str]
    """Anchor, by its name in the original → terminal or point of the other wiring."""
    missing: tuple[str, ...]
    """Original parts with a terminal that nothing stands for."""
    added: tuple[str, ...]
    """Parts of the other wiring that stand for nothing."""
    turned: tuple[str, ...] = ()
    """Original parts whose two terminals are taken exchanged."""

    def place(self, named: str) -> str | None:
        """Where a place of a reading or rule is in the other wiring; None if nothing stands for it.

        A lug, or a terminal of a part that stands for nothing, is where its name says.
        """
        if named in self.seat or part_of(named) not in self.missing:
            return self.seat.get(named, named)
        return None

    def takers(self, part: Part) -> tuple[str, ...]:
        """Parts of the other wiring that take the place of an original one, or of its terminals."""
        seats = (self.seat.get(part.terminal(lug)) for lug in part.terminals)
        return tuple(dict.fromkeys(part_of(seat) for seat in seats if seat))

    def forerunners(self, part: str) -> tuple[str, ...]:
        """Original parts that a part of the other wiring stands for, or for some terminals of."""
        return tuple(dict.fromkeys(
            part_of(theirs) for theirs, own in self.seat.items() if part_of(own) == part
        ))  # fmt: skip

    def exchanged(self, part: Part) -> Roles:
        """The same with the two terminals of an original part exchanged."""
        one, two = (part.terminal(lug) for lug in part.terminals)
        seat = {**self.seat, one: self.seat[two], two: self.seat[one]}
        return replace(self, seat=seat, turned=(*self.turned, part.name))


def part_of(place: str) -> str:
    """The part a terminal is on; a point or a part stands for itself."""
    return place.split(".", 1)[0]


def has_role(part: Part) -> bool:
    """Switches and strips have no role and need none."""
    return not isinstance(part, Switch | Strip)


def turns_freely(part: Part) -> bool:
    """Whether the two ends of a part may be exchanged without any difference."""
    if isinstance(part, Capacitor):
        return not part.polarised
    return isinstance(part, Resistor | Choke | Lamp | Fuse)


def claims(part: Part, original: Wiring) -> dict[str, str]:
    """Terminals of the original that a part stands for → its own terminals."""
    if part.replaces is not None:
        return {theirs: part.terminal(own) for own, theirs in part.replaces.items()}
    same = original.parts.get(part.name)
    if same is None or same.kind != part.kind:
        return {}
    return {same.terminal(lug): part.terminal(lug) for lug in same.terminals}


def roles_of(spec: Spec, wiring: Wiring) -> Roles:
    """Roles of a wiring's parts against the original."""
    seat = {point: point for point in spec.points}
    for part in filter(has_role, spec.parts.values()):
        seat.update((part.terminal(lug), part.terminal(lug)) for lug in part.terminals)
    added: list[str] = []
    for part in filter(has_role, wiring.parts.values()):
        claimed = claims(part, spec.original)
        seat.update(claimed)
        if not claimed:
            added.append(part.name)
    return Roles(seat=seat, missing=_missing(spec.original, seat), added=tuple(sorted(added)))


def _missing(original: Wiring, seat: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(
        sorted(
            part.name
            for part in filter(has_role, original.parts.values())
            if any(part.terminal(lug) not in seat for lug in part.terminals)
        )
    )
