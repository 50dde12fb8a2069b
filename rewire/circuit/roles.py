"""Which part of a wiring does the work of which part of the original, as the spec says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from rewire.records.part import Part
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch


@dataclass(frozen=True, slots=True)
class Roles:
    """Which part replaces which, and what nothing replaces."""

    seat: Mapping[str, str]
    """Anchor → terminal or point of the other wiring."""
    missing: tuple[str, ...]
    """Original parts with a terminal that nothing replaces."""
    added: tuple[str, ...]
    """Parts of the other wiring that replace nothing."""
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
        seats = (self.seat.get(terminal) for terminal in part.full_terminals)
        return tuple(dict.fromkeys(part_of(seat) for seat in seats if seat))

    def forerunners(self, part: str) -> tuple[str, ...]:
        """Original parts that a part of the other wiring stands for, or for some terminals of."""
        return tuple(
            dict.fromkeys(
                part_of(theirs) for theirs, own in self.seat.items() if part_of(own) == part
            )
        )

    def exchanged(self, part: Part) -> Roles:
        """The same with the two terminals of an original part exchanged."""
        one, two = part.full_terminals
        seat = {**self.seat, one: self.seat[two], two: self.seat[one]}
        return replace(self, seat=seat, turned=(*self.turned, part.name))


def part_of(place: str) -> str:
    """The part a terminal is on; a point or a part stands for itself."""
    return place.split(".", 1)[0]


def claims(part: Part, original: Wiring) -> dict[str, str]:
    """Terminals of the original that a part replaces → its own terminals."""
    if part.replaces is not None:
        return {theirs: part.terminal(own) for own, theirs in part.replaces.items()}
    same = original.parts.get(part.name)
    if same is None or same.kind != part.kind:
        return {}
    return dict(zip(same.full_terminals, map(part.terminal, same.terminals), strict=True))


def roles_as_written(spec: Spec, wiring: Wiring) -> Roles:
    """Roles of a wiring's parts against the original, no part turned."""
    seat = {point: point for point in spec.points}
    for part in spec.parts.values():
        if part.has_role:
            seat.update((terminal, terminal) for terminal in part.full_terminals)
    added: list[str] = []
    for part in (part for part in wiring.parts.values() if part.has_role):
        claimed = claims(part, spec.original)
        seat.update(claimed)
        if not claimed:
            added.append(part.name)
    missing = (
        part.name
        for part in spec.original.parts.values()
        if part.has_role and not seat.keys() >= set(part.full_terminals)
    )
    return Roles(seat=seat, missing=tuple(sorted(missing)), added=tuple(sorted(added)))


def forerunners(spec: Spec, wiring: Wiring, part: Part) -> tuple[Part, ...]:
    """Parts of the original itself whose place a part takes, the one of the same name first.

    A switch takes the place of those that its control moved and that are gone.
    """
    gone = spec.original.parts
    if wiring is spec.original:
        return ()
    switches = spec.all_of(Switch, spec.original)
    mine = spec.all_of(Switch, wiring).get(part.name)
    if mine is None:
        names = roles_as_written(spec, wiring).forerunners(part.name)
        return tuple(gone[name] for name in names if name in gone)
    same = [part.name] if part.name in gone and part.name in switches else []
    left = (n for n, old in switches.items() if old.control == mine.control and n in gone)
    return tuple(gone[n] for n in (*same, *(n for n in left if n not in wiring.parts)))
