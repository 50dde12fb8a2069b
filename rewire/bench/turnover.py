"""Two wirings as parts: which stay, which come out and go in, what takes whose place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace

from rewire.circuit.circuit import Circuit
from rewire.circuit.roles import part_of
from rewire.compare.roles import roles_between
from rewire.records.part import Part
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


@dataclass(frozen=True, slots=True)
class WireOrLead:
    """A wire, or the lead that solders a part written with ``between`` to a lug or point."""

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

        Any lug of a switch does from any of its forerunner; other terminals by their roles.
        """
        if not self.goes(old) or not self.comes(new):
            return False
        if self.old[part_of(old)].sections:
            return part_of(new) in self.heirs.get(part_of(old), ())
        return self.passes.get(old) == new

    def is_own_lead(self, link: WireOrLead, place: str) -> bool:
        """Whether an end without a colour on a part that comes out may be that part's own lead."""
        return not link.colour and self.goes(place) and self.old[part_of(place)].on_leads

    def ends_to_lift(self, link: WireOrLead) -> tuple[str, ...]:
        """Where a link that comes out has to be lifted; elsewhere it leaves with a part."""
        if link.jumper and self.goes(link.ends[0]):
            return ()
        if link.wire is None:
            return link.ends[1:]
        return tuple(p for p in link.ends if p != CUT and not self.is_own_lead(link, p))

    def old_name(self, place: str) -> str:
        """A place of the first wiring, told apart from its namesake in the second."""
        return f"old {place}" if self.goes(place) and self.comes(place) else place

    def new_name(self, place: str) -> str:
        """A place of the second wiring, told apart from its namesake in the first."""
        return f"new {place}" if self.goes(place) and self.comes(place) else place


def turnover(spec: Spec, source: Wiring, target: Wiring) -> Turnover:
    """Which parts stay: those of one reference of which nothing stated in both wirings differs."""
    old, new = source.parts, target.parts
    out = tuple(n for n in old if n not in new or differing(old[n], new[n]))
    into = tuple(n for n in new if n not in old or n in out)
    passes: dict[str, str] = {}
    seats = roles_between(spec, target).seat
    for anchor, theirs in roles_between(spec, source).seat.items():
        own = seats.get(anchor)
        if own and part_of(theirs) in out and part_of(own) in into:
            passes[theirs] = own
    for name in (one for one in out if one in into):
        one, other = old[name], new[name]
        if one.kind == other.kind and not one.sections:
            common = (lug for lug in one.terminals if lug in other.terminals)
            passes |= {one.terminal(lug): other.terminal(lug) for lug in common}
    heirs: dict[str, dict[str, None]] = {}
    pairs = [(part_of(theirs), part_of(own)) for theirs, own in passes.items()]
    for gone, come in (*pairs, *_switch_pairs(spec, source, target, out, into)):
        heirs.setdefault(gone, {})[come] = None
    return Turnover(
        old=spec.parts_of(source), new=spec.parts_of(target), out=out, into=into,
        heirs={one: tuple(others) for one, others in heirs.items()}, passes=passes,
    )  # fmt: skip


def differing(one: Part, other: Part) -> tuple[str, ...]:
    """What two parts differ in, of what both state; empty if they can be one piece."""
    return tuple(_differences(one, other)) if one.kind == other.kind else ("kind",)


def _differences(one: object, other: object) -> Iterator[str]:
    for name in (f.name for f in fields(one) if f.name not in _BESIDE) if is_dataclass(one) else ():
        a, b = getattr(one, name), getattr(other, name)
        told = name in _TOLD_BY_NONE or (a not in (None, ()) and b not in (None, ()))
        if name == "sections":
            if {(s.lugs, s.groups) for s in a} != {(s.lugs, s.groups) for s in b}:
                yield "contacts"
            elif {(s.lugs, s.timing) for s in a} != {(s.lugs, s.timing) for s in b}:
                yield "timing"
        elif name == "rating" and is_dataclass(a):
            yield from (f"rated {word}" for word in _differences(a, b))
        elif told and a != b:
            yield _WORDS.get(name, name.split("_")[0])


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
    """The second wiring with each part that stays, and may lie either way round, as it lies."""
    there, swapped = roles_between(spec, target).seat, dict[str, str]()
    for anchor, place in roles_between(spec, source).seat.items():
        own, part = there.get(anchor, place), turn.old.get(part_of(place))
        if part is None or own == place or part_of(own) != part.name or turn.goes(place):
            continue
        if part.turns_freely and (part.name in target.parts or part.between is None):
            swapped[own] = place
    if not swapped:
        return target
    wires = []
    for wire in target.wires:
        one, other = (swapped.get(place, place) for place in wire.ends)
        wires.append(replace(wire, ends=(one, other)))
    nets = (
        replace(net, members=tuple(swapped.get(p, p) for p in net.members)) for net in target.nets
    )
    turned = {
        part.name: replace(part, between=part.between[::-1])
        for part in target.parts.values()
        if part.between is not None and part.full_terminals[0] in swapped
    }
    return replace(target, wires=tuple(wires), nets=tuple(nets), parts={**target.parts, **turned})


# Reach


def near_first(circuit: Circuit, place: str) -> Reach:
    """Order for lifting: by part, switches first; on a switch the rear deck first.

    The deck nearest the knob is reached once the others are clear, and wired before they cover it.
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
