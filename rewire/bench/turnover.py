"""Two wirings as things: which parts stay, what takes whose place, which nets stay joined.

Where a wiring is known only as nets, what is known is that the lugs of a net hang together: those
that stay together in the second wiring are left alone, by whatever wires they hang together; the
others come off.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace

import networkx as nx

from rewire.circuit.circuit import Circuit
from rewire.circuit.roles import part_of
from rewire.compare.roles import roles_between
from rewire.records.part import Part, Section
from rewire.records.spec import CUT, Spec, Wire, Wiring
from rewire.records.switches import Switch

_BESIDE = frozenset({
    "name", "place", "between", "replaces", "note", "where", "label", "fit_for", "choose",
    "setting_percent", "layout", "form", "throws", "throw_at", "poles", "idle_lugs",
})  # fmt: skip
"""What may differ although it is the same piece: how it is spoken of, set, placed or drawn."""
_TOLD_BY_NONE = ("pieces", "full_scale_amps", "full_scale_volts", "material", "forward_volts")
"""None is a statement here: to be fitted, or given in the other unit."""
_WORDS = {
    "terminals": "lugs", "pieces": "value",
    "full_scale_amps": "full scale", "full_scale_volts": "full scale",
}  # fmt: skip
Reach = tuple[int, str, int, int]
Group = tuple[str, ...]
"""Places that hang together."""


@dataclass(frozen=True, slots=True)
class Turnover:
    """Parts of two wirings: which stay, which come out and go in, what takes whose place."""

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
        if self.old[part_of(old)].sections:
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
    pairs = [(part_of(theirs), part_of(own)) for theirs, own in passes.items()]
    heirs: dict[str, dict[str, None]] = {}
    for one, other in (*pairs, *_switch_pairs(spec, source, target, out, into)):
        heirs.setdefault(one, {})[other] = None
    return Turnover(
        old=spec.parts_of(source), new=spec.parts_of(target), out=out, into=into,
        heirs={one: tuple(others) for one, others in heirs.items()}, passes=passes,
    )  # fmt: skip


def differing(one: Part, other: Part) -> tuple[str, ...]:
    """What two parts of one reference differ in, in words; empty if they can be the same piece.

    What only one of them states does not count.
    """
    return tuple(_differences(one, other)) if one.kind == other.kind else ("kind",)


def _differences(one: object, other: object) -> Iterator[str]:
    if not is_dataclass(one):
        return
    for name in (field.name for field in fields(one) if field.name not in _BESIDE):
        a, b = getattr(one, name), getattr(other, name)
        told = name in _TOLD_BY_NONE or (a not in (None, ()) and b not in (None, ()))
        if name == "sections":
            yield from _contacts(a, b)
        elif name == "rating" and is_dataclass(a):
            yield from (f"rated {word}" for word in _differences(a, b))
        elif told and a != b:
            yield _WORDS.get(name, name.split("_")[0])


def _contacts(one: tuple[Section, ...], other: tuple[Section, ...]) -> Iterator[str]:
    if {(s.lugs, s.groups) for s in one} != {(s.lugs, s.groups) for s in other}:
        yield "contacts"
    elif {(s.lugs, s.timing) for s in one} != {(s.lugs, s.timing) for s in other}:
        yield "timing"


def _passes(
    spec: Spec, source: Wiring, target: Wiring, out: tuple[str, ...], into: tuple[str, ...]
) -> Iterator[tuple[str, str]]:
    seats = roles_between(spec, target).seat
    for anchor, theirs in roles_between(spec, source).seat.items():
        own = seats.get(anchor)
        if own is not None and part_of(theirs) in out and part_of(own) in into:
            yield theirs, own
    for name in (one for one in out if one in into):
        one, other = source.parts[name], target.parts[name]
        if one.kind == other.kind and not one.sections:
            common = (lug for lug in one.terminals if lug in other.terminals)
            yield from ((one.terminal(lug), other.terminal(lug)) for lug in common)


def _switch_pairs(
    spec: Spec, source: Wiring, target: Wiring, out: tuple[str, ...], into: tuple[str, ...]
) -> Iterator[tuple[str, str]]:
    """Old switch → new one: of one reference, else of one control, most places in common first."""
    olds = [s for name, s in spec.all_of(Switch, source).items() if name in out]
    news = [s for name, s in spec.all_of(Switch, target).items() if name in into]
    ranked = sorted(
        (one.name != other.name, -len(_near(source, one.name) & _near(target, other.name)), i, j)
        for i, one in enumerate(olds)
        for j, other in enumerate(news)
        if one.name == other.name or one.control == other.control
    )
    used: set[tuple[str, int]] = set()
    for _, _, i, j in ranked:
        if not used & {("old", i), ("new", j)}:
            used |= {("old", i), ("new", j)}
            yield olds[i].name, news[j].name


def _near(wiring: Wiring, part: str) -> set[str]:
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
            if part.between is not None and part.full_terminals[0] in swapped
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
        if part.turns_freely and (part.name in target.parts or part.between is None):
            yield own, place


# Wires and leads


@dataclass(frozen=True, slots=True)
class WireOrLead:
    """A wire, or the lead by which a part written with ``between`` hangs on a place."""

    id: str
    ends: tuple[str, str]
    """Of a lead: the part's terminal, then the place."""
    wire: Wire | None = None

    @property
    def colour(self) -> str | None:
        """Letters of IEC 60757, where they are known."""
        return self.wire.colour if self.wire else None

    @property
    def jumper(self) -> bool:
        """Whether both ends are on one part."""
        return self.wire is not None and self.wire.jumper


def all_wires(wiring: Wiring) -> tuple[Wire, ...]:
    """The wires, those that are cut off too."""
    return (*wiring.wires, *wiring.cut_wires)


def links_of(wiring: Wiring) -> list[WireOrLead]:
    """All wires, those that are cut off too, then the leads of the wiring's own parts."""
    leads = (
        WireOrLead(f"lead {own}", (own, place))
        for part in wiring.parts.values()
        for own, place in zip(part.full_terminals, part.between or (), strict=False)
    )
    return [*(WireOrLead(w.id, w.ends, w) for w in all_wires(wiring)), *leads]


def ends_to_lift(turn: Turnover, link: WireOrLead) -> Group:
    """Where a link that comes out has to be lifted; elsewhere it leaves with a part."""
    if link.jumper and turn.goes(link.ends[0]):
        return ()
    if link.wire is None:
        return link.ends[1:]
    return tuple(p for p in link.ends if p != CUT and not is_own_lead(turn, link, p))


def is_own_lead(turn: Turnover, link: WireOrLead, place: str) -> bool:
    """Whether the end of a link on a part that comes out may be that part's own lead.

    A wire without a colour on a part with wire leads most often is that lead.
    """
    return not link.colour and turn.goes(place) and turn.old[part_of(place)].on_leads


# Nets


def _groups_of(wiring: Wiring) -> list[Group]:
    """Nets of a wiring as written, those that share a place made one."""
    members = [net.members for net in wiring.nets]
    return _together([place for group in members for place in group], members)


def _together(places: Iterable[str], joined: Iterable[Group]) -> list[Group]:
    """Places in groups that hang together; places and groups keep their order."""
    listed = dict.fromkeys(places)
    sets = nx.utils.UnionFind(listed)
    for group in joined:
        sets.union(*group)
    found: dict[str, list[str]] = {}
    for place in listed:
        found.setdefault(sets[place], []).append(place)
    return [tuple(group) for group in found.values()]


def _joining(
    places: Sequence[str], joined: Iterable[Group], links: Iterable[WireOrLead]
) -> list[WireOrLead]:
    """The links that join what is not joined yet, first ones first."""
    sets = nx.utils.UnionFind(places)
    for group in joined:
        sets.union(*group)
    found = []
    for link in links:
        if sets[link.ends[0]] != sets[link.ends[1]]:
            sets.union(*link.ends)
            found.append(link)
    return found


def taken_apart(
    turn: Turnover,
    source: Wiring,
    target: Wiring,
    olds: Sequence[WireOrLead],
    news: Sequence[WireOrLead],
) -> tuple[list[Group], list[tuple[str, Group]], list[WireOrLead]]:
    """Of the nets of the first wiring: what stays joined, what comes off, the new links in it."""
    after = _groups_of(target)
    spare = list(_beyond(news, [x for x in olds if not any(map(turn.goes, x.ends))]))
    stay: list[Group] = []
    freed: list[tuple[str, Group]] = []
    seen: list[WireOrLead] = []
    for group in _groups_of(source):
        kept = [place for place in group if not turn.goes(place)]
        inner = [both for other in after if len(both := _common(other, kept)) > 1]
        known = _joining(kept, inner, [x for x in spare if set(x.ends) <= set(kept)])
        pieces = _together(kept, [*inner, *(link.ends for link in known)])
        # where all leave, the last one hangs on nothing any more once the others are off
        rest = max(pieces, key=len, default=group[-1:])
        freed += [(p, tuple(q for q in group if q != p)) for p in group if p not in rest]
        seen += [link for link in known if link.ends[0] in rest]
        stay += [rest] if len(rest) > 1 else []
    return stay, freed, seen


def put_together(
    turn: Turnover, target: Wiring, olds: Sequence[WireOrLead], news: Sequence[WireOrLead],
    stay: Sequence[Group],
) -> tuple[list[list[Group]], list[WireOrLead]]:  # fmt: skip
    """Per net of the second wiring what hangs together already; the old links in these nets."""
    spare = list(_beyond(olds, [x for x in news if not any(map(turn.comes, x.ends))]))
    spare = [x for x in spare if not any(map(turn.goes, x.ends))]
    merged: list[WireOrLead] = []
    nets: list[list[Group]] = []
    for group in _groups_of(target):
        kept = [place for place in group if not turn.comes(place)]
        inner = [both for rest in stay if (both := _common(rest, group))]
        found = _joining(kept, inner, [x for x in spare if set(x.ends) <= set(kept)])
        merged += found
        nets.append(_together(group, [*inner, *(link.ends for link in found)]))
    return nets, merged


def _common(one: Group, other: Sequence[str]) -> Group:
    return tuple(place for place in one if place in other)


def _beyond(links: Iterable[WireOrLead], others: Iterable[WireOrLead]) -> Iterator[WireOrLead]:
    """Links that have none with the same ends among the others."""
    twins = Counter(frozenset(link.ends) for link in others)
    for link in links:
        if twins[frozenset(link.ends)] > 0:
            twins[frozenset(link.ends)] -= 1
        else:
            yield link


# Reach


def near_first(circuit: Circuit, place: str) -> Reach:
    """Order for lifting: by part, switches first; on a switch the rear deck first.

    From behind, the deck nearest the knob is the far one: it is reached once the others are
    clear, and wired before the others cover it.
    """
    part = circuit.parts.get(part_of(place))
    if part is None:
        return (3, place, 0, 0)
    lug = place.split(".", 1)[1]
    depth = circuit.positions[part.name].depth[lug] if part.name in circuit.positions else 0
    return (part.order_at_bench, part.name, depth, part.terminals.index(lug))


def far_first(circuit: Circuit, place: str) -> Reach:
    """Order for landing: the deck nearest the knob first."""
    rank, name, depth, lug = near_first(circuit, place)
    return (rank, name, -depth, lug)
