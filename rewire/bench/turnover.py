"""Two wirings: which parts stay, what takes whose place, which old wire becomes which new one.

Wires are an assignment problem: lifting, landing and cutting must cost least (H. W. Kuhn, "The
Hungarian method for the assignment problem", Naval Research Logistics Quarterly 2, 1955), solved
by shortest augmenting paths (D. F. Crouse, "On implementing 2D rectangular assignment algorithms",
IEEE Transactions on Aerospace and Electronic Systems 52, 2016). networkx takes 20 s for 200 wires
on one net where this takes a fraction of one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace

import networkx as nx
import numpy as np
import numpy.typing as npt

from rewire.circuit import LimitReached
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
Worth = npt.NDArray[np.float64]
Ends = tuple[tuple[str, str], tuple[str, str]]
"""Where the first end of a wire was and will be, then the second."""
Became = tuple["WireOrLead", "WireOrLead", Ends, tuple[int, ...]]
"""Old link, new link, ends, and the numbers of the ends that are lifted and landed."""
_END = 10_000_000
"""Cost of one end lifted or landed: what the list is short in, before all else. So large that no
number of wires adds up to one end by what follows."""
_CUT = _END // 2
_FAR = 300
_OTHER_COLOUR, _UNSURE_COLOUR = 200, 50
_OTHER_LUG, _OTHER_ID = 20, 1
_MOST_CHOICES = 20_000_000
_NOBODY = -1


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


# Which old wire becomes which new one


def matched(
    turn: Turnover, olds: Sequence[WireOrLead], news: Sequence[WireOrLead]
) -> Iterator[Became]:
    """Old links that become new ones; those on no place in common are solved apart.

    Raises ``LimitReached`` for thousands of wires on one lug or net.
    """
    choices = {(one[0].id, one[1].id): (saves, one) for saves, one in _choices(turn, olds, news)}
    graph: nx.Graph[tuple[str, str]] = nx.Graph()
    graph.add_edges_from((("old", one), ("new", other)) for one, other in choices)
    for piece in nx.connected_components(graph):
        own = [(i, j) for i, j in choices if ("old", i) in piece]
        rows = list(dict.fromkeys(i for i, _ in own))
        columns = list(dict.fromkeys(j for _, j in own))
        _limit(len(rows) * len(columns))
        saved = np.zeros((len(rows), len(columns)))
        for i, j in own:
            saved[rows.index(i), columns.index(j)] = choices[i, j][0]
        cells = ((rows[row], columns[column]) for row, column in assigned(saved))
        yield from (choices[cell][1] for cell in cells if cell in choices)


def _choices(
    turn: Turnover, olds: Sequence[WireOrLead], news: Sequence[WireOrLead]
) -> Iterator[tuple[int, Became]]:
    """Links that can serve for others, and what that saves."""
    on: dict[str, set[int]] = {}
    for number, link in enumerate(news):
        for place in (place for place in link.ends if place != CUT):
            on.setdefault(part_of(place) if turn.comes(place) else place, set()).add(number)
    looked = 0
    for link in olds:
        near: set[int] = set()
        for place in link.ends:
            keys = turn.heirs.get(part_of(place), ()) if turn.goes(place) else (place,)
            near.update(number for key in keys for number in on.get(key, ()))
        looked += len(near)
        _limit(looked)
        for number in sorted(near):
            best = max(_ways(turn, link, news[number]), key=lambda way: way[0], default=None)
            if best and best[0] > 0:
                yield best


def _limit(found: int) -> None:
    if found > _MOST_CHOICES:
        raise LimitReached(
            f"{found} pairs of wires to choose from on lugs that are connected; "
            f"the limit is {_MOST_CHOICES}"
        )


def _ways(turn: Turnover, old: WireOrLead, new: WireOrLead) -> Iterator[tuple[int, Became]]:
    """Both ways to make one link of another, and what that saves; none if it cannot serve."""
    if not _suits(old.wire, new.wire) or any(turn.is_own_lead(old, place) for place in old.ends):
        return
    whole = _END * len(turn.ends_to_lift(old)) + (_END if new.wire is None else 2 * _END + _CUT)
    unlike = 0 if old.id == new.id else _OTHER_ID
    if old.colour != new.colour:
        unlike += _OTHER_COLOUR if old.colour and new.colour else _UNSURE_COLOUR
    for one, other in (new.ends, new.ends[::-1]):
        ends = (old.ends[0], one), (old.ends[1], other)
        moved = tuple(n for n, end in enumerate(ends) if not turn.is_kept(*end))
        if _serves(turn, (old, new, ends, moved)):
            cost = sum(_end_cost(turn, *ends[n]) for n in moved)
            yield whole - cost - unlike, (old, new, ends, moved)


def _serves(turn: Turnover, way: Became) -> bool:
    """Whether an end stays on something, or both are handed on; a lead cannot leave its part."""
    old, new, ends, moved = way
    stays = any(was != CUT for n, (was, _) in enumerate(ends) if n not in moved)
    if not stays and not all(turn.is_handed(*end) for end in ends):
        return False
    metres = [link.wire.length_metres if link.wire else None for link in (old, new)]
    if moved and metres[0] is not None and metres[1] is not None and metres[0] < metres[1]:
        return False
    own = [link.ends[0] if link.wire is None else None for link in (old, new)]
    return not any(lead == at for n in moved for lead, at in zip(own, ends[n], strict=True))


def _end_cost(turn: Turnover, old: str, new: str) -> int:
    if CUT in (old, new):
        return _END + _FAR
    if not turn.is_handed(old, new):
        return 2 * _END + _FAR
    return 2 * _END + (0 if lug_of(old) == lug_of(new) else _OTHER_LUG)


def lug_of(place: str) -> str:
    """``A1`` of ``S1.A1``."""
    return place.split(".")[-1]


def _suits(old: Wire | None, new: Wire | None) -> bool:
    """Whether an old wire is good enough: what it is known to lack, it cannot be asked for."""
    if old is None or new is None:
        return True
    if (new.screened and not old.screened) or (old.gauge and new.gauge and old.gauge != new.gauge):
        return False
    has, needs = old.insulation_volts, new.insulation_volts
    return has is None or needs is None or has >= needs


def assigned(worth: Worth) -> list[tuple[int, int]]:
    """Row and column of each pair, by row, so that all are worth most; whole numbers stay exact."""
    if worth.shape[0] > worth.shape[1]:
        return sorted((row, column) for column, row in assigned(worth.T))
    costs = worth.max(initial=0.0) - worth
    prices = np.zeros(worth.shape[0]), np.zeros(worth.shape[1])
    taken_by = np.full(worth.shape[1], _NOBODY)
    for row in range(worth.shape[0]):
        _give_column(row, costs, prices, taken_by)
    return sorted((int(row), column) for column, row in enumerate(taken_by) if row != _NOBODY)


def _give_column(
    new: int, costs: Worth, prices: tuple[Worth, Worth], taken_by: npt.NDArray[np.intp]
) -> None:
    """Give one more row a column, by the cheapest chain of rows that change theirs."""
    row_price, column_price = prices
    reached_from, costs_to = np.full(len(taken_by), _NOBODY), np.full(len(taken_by), np.inf)
    is_open = np.ones(len(taken_by), dtype=np.bool_)
    row, column, spent = new, _NOBODY, 0.0
    while row != _NOBODY:
        through = spent + costs[row] - row_price[row] - column_price
        better = is_open & (through < costs_to)
        reached_from[better], costs_to[better] = row, through[better]
        spent = costs_to[is_open].min()
        nearest = np.flatnonzero(is_open & (costs_to == spent))
        column = int(nearest[np.argmin(taken_by[nearest] != _NOBODY)])
        is_open[column] = False
        row = int(taken_by[column])
    passed = ~is_open & (taken_by != _NOBODY)
    row_price[new] += spent
    row_price[taken_by[passed]] += spent - costs_to[passed]
    column_price[~is_open] -= spent - costs_to[~is_open]
    while row != new:  # along the chain back, each row takes the next column
        row = int(reached_from[column])
        before = np.flatnonzero(taken_by == row)
        taken_by[column] = row
        column = int(before[0]) if len(before) else column
