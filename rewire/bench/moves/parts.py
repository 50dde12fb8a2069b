"""Which parts stay, which come out and go in, and what takes the place of what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace

from rewire.compare.roles import part_of, turns_freely
from rewire.compare.turned import roles_between
from rewire.records.spec import Capacitor, Diode, Part, Resistor, Section, Spec, Switch, Wiring

_BESIDE = frozenset({
    "name", "place", "between", "replaces", "note", "where", "label", "fit_for", "choose",
    "setting_percent", "layout", "form", "throws", "throw_at", "poles", "idle_lugs",
})  # fmt: skip
"""What may differ although it is the same piece: how it is spoken of, set, placed or drawn."""


@dataclass(frozen=True, slots=True)
class Turnover:
    """What becomes of the parts between two wirings."""

    old: Mapping[str, Part]
    """Every part of the first wiring, those that stay in every wiring included."""
    new: Mapping[str, Part]
    out: tuple[str, ...]
    into: tuple[str, ...]
    heirs: Mapping[str, tuple[str, ...]]
    """Part that comes out → parts that take its place."""
    passes: Mapping[str, str]
    """Terminal that goes → terminal in the same role that comes."""

    def goes(self, place: str) -> bool:
        """Whether a place of the first wiring leaves with its part."""
        return part_of(place) in self.out

    def comes(self, place: str) -> bool:
        """Whether a place of the second wiring comes with its part."""
        return part_of(place) in self.into

    def is_kept(self, old: str, new: str) -> bool:
        """Whether a place of the first wiring and one of the second are one thing."""
        return old == new and not self.goes(old) and not self.comes(new)

    def is_handed(self, old: str, new: str) -> bool:
        """Whether a place that comes takes over from one that goes.

        Any lug of a switch takes over from any of its forerunner, for poles may be used
        otherwise; a part's terminal only from the one in its own role.
        """
        if not self.goes(old) or not self.comes(new):
            return False
        if isinstance(self.old[part_of(old)], Switch):
            return part_of(new) in self.heirs.get(part_of(old), ())
        return self.passes.get(old) == new

    def old_name(self, place: str) -> str:
        """A place of the first wiring, told apart from its namesake in the second."""
        return f"old {place}" if self.goes(place) and self.comes(place) else place

    def new_name(self, place: str) -> str:
        """A place of the second wiring, told apart from its namesake in the first."""
        return f"new {place}" if self.goes(place) and self.comes(place) else place


def turnover(spec: Spec, source: Wiring, target: Wiring) -> Turnover:
    """Compare the parts of two wirings.

    A part stays if its reference is the same in both and nothing that is stated of it in both
    differs.
    """
    old, new = source.parts, target.parts
    out = tuple(n for n in old if n not in new or differing(old[n], new[n]))
    into = tuple(n for n in new if n not in old or n in out)
    passes = dict(_passes(spec, source, target, out, into))
    heirs: dict[str, list[str]] = {}
    for theirs, own in passes.items():
        heirs.setdefault(part_of(theirs), []).append(part_of(own))
    for one, other in _switch_pairs(source, target, out, into):
        heirs.setdefault(one, []).append(other)
    return Turnover(
        old=spec.parts_of(source), new=spec.parts_of(target), out=out, into=into,
        heirs={one: tuple(dict.fromkeys(others)) for one, others in heirs.items()},
        passes=passes,
    )  # fmt: skip


def differing(one: Part, other: Part) -> tuple[str, ...]:
    """What two parts of one reference differ in, in words; empty if they can be the same piece.

    What only one of them states does not count.
    """
    if one.kind != other.kind:
        return ("kind",)
    return tuple(_differences(one, other))


def _differences(one: object, other: object) -> Iterator[str]:
    if not is_dataclass(one):
        return
    for field in fields(one):
        if field.name in _BESIDE:
            continue
        a, b = getattr(one, field.name), getattr(other, field.name)
        if field.name == "sections":
            yield from _contacts(a, b)
        elif is_dataclass(a) and field.name == "rating":
            yield from (f"rated {word}" for word in _differences(a, b))
        elif _both_stated(field.name, a, b) and a != b:
            yield _WORDS.get(field.name, field.name.split("_")[0])


_WORDS = {
    "terminals": "lugs",
    "pieces": "value",
    "full_scale_amps": "full scale",
    "full_scale_volts": "full scale",
}


def _both_stated(name: str, a: object, b: object) -> bool:
    if name in ("pieces", "full_scale_amps", "full_scale_volts", "material", "forward_volts"):
        return True  # None is a statement here: to be fitted, or said in the other unit
    return a not in (None, ()) and b not in (None, ())


def _contacts(one: tuple[Section, ...], other: tuple[Section, ...]) -> Iterator[str]:
    if {_closes(s) for s in one} != {_closes(s) for s in other}:
        yield "contacts"
    elif {(s.lugs, s.timing) for s in one} != {(s.lugs, s.timing) for s in other}:
        yield "timing"


def _closes(section: Section) -> object:
    return section.lugs, section.groups


def _passes(
    spec: Spec, source: Wiring, target: Wiring, out: tuple[str, ...], into: tuple[str, ...]
) -> Iterator[tuple[str, str]]:
    seats = roles_between(spec, target).seat
    for anchor, theirs in roles_between(spec, source).seat.items():
        own = seats.get(anchor)
        if own is not None and part_of(theirs) in out and part_of(own) in into:
            yield theirs, own
    for name in set(out) & set(into):
        one, other = source.parts[name], target.parts[name]
        if one.kind == other.kind and not isinstance(one, Switch):
            yield from (
                (one.terminal(lug), other.terminal(lug))
                for lug in one.terminals
                if lug in other.terminals
            )


def _switch_pairs(
    source: Wiring, target: Wiring, out: tuple[str, ...], into: tuple[str, ...]
) -> Iterator[tuple[str, str]]:
    """Old switch → new one: of one reference, else of one control, most places in common first."""
    olds = [s for n in out if isinstance(s := source.parts[n], Switch)]
    news = [s for n in into if isinstance(s := target.parts[n], Switch)]
    ranked = sorted(
        (one.name != other.name, -_in_common(source, target, one, other), i, j)
        for i, one in enumerate(olds)
        for j, other in enumerate(news)
        if one.name == other.name or one.control == other.control
    )
    used_old: set[int] = set()
    used_new: set[int] = set()
    for _, _, i, j in ranked:
        if i not in used_old and j not in used_new:
            used_old.add(i)
            used_new.add(j)
            yield olds[i].name, news[j].name


def _in_common(source: Wiring, target: Wiring, one: Switch, other: Switch) -> int:
    return len(_beyond(source, one.name) & _beyond(target, other.name))


def _beyond(wiring: Wiring, part: str) -> set[str]:
    """Places at the other ends of a part's wires and in its nets."""
    joined = [*(wire.ends for wire in wiring.wires), *(net.members for net in wiring.nets)]
    mine = [group for group in joined if any(part_of(place) == part for place in group)]
    return {place for group in mine for place in group if part_of(place) != part}


def as_it_lies(spec: Spec, source: Wiring, target: Wiring, turn: Turnover) -> Wiring:
    """The second wiring with each part that stays and has no right way round taken as it lies.

    A resistor that the second wiring has the other way round need not be turned.
    """
    swapped = dict(_swapped(spec, source, target, turn))
    if not swapped:
        return target

    def lies(place: str) -> str:
        return swapped.get(place, place)

    return replace(
        target,
        wires=tuple(
            replace(wire, ends=(lies(wire.ends[0]), lies(wire.ends[1]))) for wire in target.wires
        ),
        nets=tuple(replace(net, members=tuple(map(lies, net.members))) for net in target.nets),
        parts={
            name: replace(part, between=part.between[::-1])
            if part.between is not None and part.terminal(part.terminals[0]) in swapped
            else part
            for name, part in target.parts.items()
        },
    )


def _swapped(
    spec: Spec, source: Wiring, target: Wiring, turn: Turnover
) -> Iterator[tuple[str, str]]:
    """Terminals of parts that stay and whose two ends have changed their roles."""
    here, there = (roles_between(spec, wiring).seat for wiring in (source, target))
    for anchor, place in here.items():
        own, part = there.get(anchor, place), turn.old.get(part_of(place))
        if part is None or own == place or part_of(own) != part.name or turn.goes(place):
            continue
        if turns_freely(part) and (part.name in target.parts or part.between is None):
            yield own, place


def hangs_on_its_leads(part: Part) -> bool:
    """Whether a part has wire leads, so that it leaves with what is soldered to them."""
    return isinstance(part, Resistor | Capacitor | Diode)
