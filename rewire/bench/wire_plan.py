"""What becomes of every wire between two wirings, and the one number that it bears on all paper.

A wire has the number of the second wiring, the plan. One that goes is X1, X2 …; one that stays
although the plan knows only a net there is K1, K2 …. The list of moves, the marked-up view, the
pictures and the lists of wires all read it here.

Which old wire becomes which new one is an assignment problem (H. W. Kuhn, "The Hungarian method
for the assignment problem", Naval Research Logistics Quarterly 2, 1955).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import count
from typing import Literal

import networkx as nx
import numpy as np

from rewire.bench.assignment import assigned
from rewire.bench.turnover import (
    Group,
    Turnover,
    WireOrLead,
    all_wires,
    as_it_lies,
    ends_to_lift,
    is_own_lead,
    links_of,
    put_together,
    taken_apart,
    turnover,
)
from rewire.circuit import LimitReached
from rewire.circuit.circuit import Case
from rewire.circuit.roles import part_of
from rewire.records.spec import CUT, Spec, Wire, Wiring
from rewire.words.quantity import with_unit

END = 10_000_000
"""Cost of one end lifted or landed: what the list is short in, before all else. So large that no
number of wires adds up to one end by what follows."""
_CUT = END // 2
_FAR = 300
_OTHER_COLOUR, _UNSURE_COLOUR = 200, 50
_OTHER_LUG, _OTHER_ID = 20, 1
_MOST_CHOICES = 20_000_000

Fate = Literal["stays", "moves", "comes out", "new"]
Numbers = Mapping[str, Mapping[str, str]]
"""Per wiring: id of a wire → its number."""


Ends = tuple[tuple[str | None, str | None], tuple[str | None, str | None]]


@dataclass(frozen=True, slots=True)
class WireFate:
    """A wire or lead of either wiring, or one that is in both.

    Without ``new`` it comes out, or joins what the second wiring knows only as a net; without
    ``old`` it is new, or is there and the first wiring knows only a net.
    """

    old: WireOrLead | None
    new: WireOrLead | None
    ends: Ends
    """Where its first end was and will be, then its second; None where there is no such end."""
    moved: tuple[int, ...] = ()
    """Numbers of the ends to be lifted or landed."""

    @property
    def was(self) -> Wire | None:
        """None for a new one, and where the first wiring knows only a net or a part's own lead."""
        return self.old.wire if self.old else None

    @property
    def now(self) -> Wire | None:
        """None for one that comes out, and where the second wiring knows only a net or a lead."""
        return self.new.wire if self.new else None

    @property
    def fate(self) -> Fate:
        """In a word."""
        if self.old is None and self.moved:
            return "new"
        if self.new is None and self.ends[0][1] is None:
            return "comes out"
        return "moves" if self.moved else "stays"

    @property
    def stays(self) -> tuple[str, ...]:
        """Places on which it stays, by their names in the second wiring."""
        return tuple(new for n, (_, new) in enumerate(self.ends) if new and n not in self.moved)

    @property
    def lifted(self) -> tuple[str, ...]:
        """Where it is lifted, by the names of the first wiring."""
        return tuple(old for n in self.moved if (old := self.ends[n][0]))

    @property
    def landed(self) -> tuple[str, ...]:
        """Where it is landed; of one that moves, where the lifted ends go, in the same order."""
        return tuple(new for n in self.moved if (new := self.ends[n][1]))


@dataclass(frozen=True, slots=True)
class WirePlan:
    """What becomes of parts, wires and nets between two wirings."""

    spec: Spec
    source: Wiring
    target: Wiring
    """The second wiring, with parts that have no right way round as they lie."""
    turn: Turnover
    links: tuple[WireFate, ...]
    """Every wire, and every lead of a part written with ``between``."""
    stay: tuple[Group, ...]
    """Places of nets that stay joined by wires not known one by one."""
    freed: tuple[tuple[str, Group], ...]
    """Place that comes off its net, and what it was joined to."""
    joins: tuple[tuple[Group, Group], ...]
    """Places that hang together, and those of the same net that they must be joined to."""
    numbers: Mapping[str, str]
    """Id in the first wiring → the number on the label of a wire: ``W8``, ``X1``."""

    @property
    def fates(self) -> tuple[WireFate, ...]:
        """Of the wires alone: old ones in their order, then the new ones in theirs."""
        olds, news = ([w.id for w in all_wires(wiring)] for wiring in (self.source, self.target))
        return tuple(sorted((f for f in self.links if f.was or f.now), key=lambda f: (
            (0, olds.index(f.was.id)) if f.was else (1, news.index(f.now.id) if f.now else 0)
        )))  # fmt: skip

    def named(self, link: WireOrLead, jumper: bool | None = None) -> str:
        """``jumper J1``, ``wire W3``, ``lead R5.1``."""
        if link.wire is None:
            return link.id
        is_jumper = link.jumper if jumper is None else jumper
        return f"{'jumper' if is_jumper else 'wire'} {self.numbers[link.id]}"


def wire_plan(spec: Spec, source: str, target: str) -> WirePlan:
    """What becomes of every part, wire and net of one wiring in another, worked out once.

    Raises:
        KeyError: a name that is no wiring of the spec.
        LimitReached: thousands of wires that all hang on one place.
    """
    wanted = spec.wirings[target]
    own = {wire.id: wire.id for wire in all_wires(wanted)}
    numbers = _numbers(Case(spec, wanted)).get(source, own)
    return replace(_between(spec, source, target), numbers=numbers)


def _between(spec: Spec, source: str, target: str) -> WirePlan:
    """The plan without the numbers."""
    return _worked_out(Case(spec, spec.wirings[source]), Case(spec, spec.wirings[target]))


@lru_cache(maxsize=64)
def _worked_out(first: Case, second: Case) -> WirePlan:
    spec, source = first.spec, first.wiring
    turn = turnover(spec, source, second.wiring)
    target = as_it_lies(spec, source, second.wiring, turn)
    olds, news = links_of(source), links_of(target)
    stay, freed, seen = taken_apart(turn, source, target, olds, news)
    groups, merged = put_together(turn, target, olds, news, stay)
    pairs = _matched(turn, [x for x in olds if x not in merged], [x for x in news if x not in seen])
    used = {pair.old.id for pair in pairs if pair.old} | {x.id for x in merged}
    made = {pair.new.id for pair in pairs if pair.new} | {x.id for x in seen}
    left = [x for x in olds if x.id not in used]
    reused = [one for x in left if (one := _reuse(turn, x, groups))]
    serving = {one.old.id for one in reused if one.old}
    # nobody lands a wire that ends in the air
    into = [x for x in news if x.id not in made and CUT not in x.ends]
    return WirePlan(
        spec=spec, source=source, target=target, turn=turn,
        links=(
            *(WireFate(None, x, ((None, x.ends[0]), (None, x.ends[1])), (0, 1)) for x in into),
            *pairs,
            *(WireFate(x, None, _as_they_are(x)) for x in merged),
            *(WireFate(None, x, _as_they_are(x)) for x in seen),
            *(_out(turn, x) for x in left if x.id not in serving),
            *reused,
        ),
        stay=tuple(stay), freed=tuple(freed),
        joins=tuple(join for net in groups for join in _to_join(net)), numbers={},
    )  # fmt: skip


def _as_they_are(link: WireOrLead) -> Ends:
    one, other = link.ends
    return (one, one), (other, other)


def _out(turn: Turnover, link: WireOrLead) -> WireFate:
    off = ends_to_lift(turn, link)
    moved = tuple(n for n, place in enumerate(link.ends) if place in off)
    return WireFate(link, None, ((link.ends[0], None), (link.ends[1], None)), moved)


# Which old wire becomes which new one


def _matched(
    turn: Turnover, olds: Sequence[WireOrLead], news: Sequence[WireOrLead]
) -> list[WireFate]:
    """Pair old links with new ones so that lifting, landing and cutting cost least.

    Links that have no place in common, directly or over other links, are solved apart.
    """
    choices = {(i, j): (saves, fate) for i, j, saves, fate in _choices(turn, olds, news)}
    graph: nx.Graph[tuple[str, str]] = nx.Graph()
    graph.add_edges_from((("old", one), ("new", other)) for one, other in choices)
    taken: list[WireFate] = []
    for piece in nx.connected_components(graph):
        own = [(i, j) for i, j in choices if ("old", i) in piece]
        rows = list(dict.fromkeys(i for i, _ in own))
        columns = list(dict.fromkeys(j for _, j in own))
        _limit(len(rows) * len(columns))
        saved = np.zeros((len(rows), len(columns)))
        for i, j in own:
            saved[rows.index(i), columns.index(j)] = choices[i, j][0]
        cells = ((rows[row], columns[column]) for row, column in assigned(saved))
        taken += [choices[cell][1] for cell in cells if cell in choices]
    return taken


def _choices(
    turn: Turnover, olds: Sequence[WireOrLead], news: Sequence[WireOrLead]
) -> Iterator[tuple[str, str, int, WireFate]]:
    """Links that can serve for others: both ids, what that saves, what is moved."""
    on: dict[str, set[int]] = {}
    for number, link in enumerate(news):
        for place in link.ends:
            on.setdefault(part_of(place) if turn.comes(place) else place, set()).add(number)
    on.pop(CUT, None)
    looked = 0
    for link in olds:
        near: set[int] = set()
        for place in link.ends:
            keys = turn.heirs.get(part_of(place), ()) if turn.goes(place) else (place,)
            near.update(number for key in keys for number in on.get(key, ()))
        looked += len(near)
        _limit(looked)
        for number in sorted(near):
            saves, pair = _becoming(turn, link, news[number])
            if pair and saves > 0:
                yield link.id, news[number].id, saves, pair


def _limit(found: int) -> None:
    if found > _MOST_CHOICES:
        raise LimitReached(
            f"{found} pairs of wires to choose from on places that hang together; "
            f"the limit is {_MOST_CHOICES}"
        )


def _becoming(turn: Turnover, old: WireOrLead, new: WireOrLead) -> tuple[int, WireFate | None]:
    """The cheaper way to make one link of another, and what it saves; none if it cannot serve."""
    best: tuple[int, WireFate | None] = 0, None
    if not _suits(old.wire, new.wire) or any(is_own_lead(turn, old, p) for p in old.ends):
        return best
    whole = END * len(ends_to_lift(turn, old)) + (END if new.wire is None else 2 * END + _CUT)
    for one, other in (new.ends, new.ends[::-1]):
        ends = (old.ends[0], one), (old.ends[1], other)
        moved = tuple(n for n, end in enumerate(ends) if not turn.is_kept(*end))
        if _serves(turn, old, new, ends, moved):
            saves = whole - sum(_end_cost(turn, *end) for end in ends) - _unlike(old, new)
            if best[1] is None or saves > best[0]:
                best = saves, WireFate(old, new, ends, moved)
    return best


def _serves(
    turn: Turnover, old: WireOrLead, new: WireOrLead,
    ends: Sequence[tuple[str, str]], moved: Sequence[int],
) -> bool:  # fmt: skip
    """Whether an end stays on something, or both are handed on; a lead cannot leave its part."""
    on_something = any(was != CUT for n, (was, _) in enumerate(ends) if n not in moved)
    if not on_something and not all(turn.is_handed(*end) for end in ends):
        return False
    if moved and not _long_enough(old.wire, new.wire):
        return False
    lead_ends = [link.ends[0] if link.wire is None else None for link in (old, new)]
    return not any(own == at for n in moved for own, at in zip(lead_ends, ends[n], strict=True))


def _end_cost(turn: Turnover, old: str, new: str) -> int:
    if turn.is_kept(old, new):
        return 0
    if CUT in (old, new):
        return END + _FAR
    if not turn.is_handed(old, new):
        return 2 * END + _FAR
    return 2 * END + (0 if _lug(old) == _lug(new) else _OTHER_LUG)


def _lug(place: str) -> str:
    return place.split(".")[-1]


def _unlike(old: WireOrLead, new: WireOrLead) -> int:
    cost = 0 if old.id == new.id else _OTHER_ID
    if old.colour == new.colour:
        return cost
    return cost + (_OTHER_COLOUR if old.colour and new.colour else _UNSURE_COLOUR)


def _suits(old: Wire | None, new: Wire | None) -> bool:
    """Whether an old wire is good enough: what it is known to lack, it cannot be asked for."""
    if old is None or new is None:
        return True
    if new.screened and not old.screened:
        return False
    if old.gauge and new.gauge and old.gauge != new.gauge:
        return False
    volts = old.insulation_volts, new.insulation_volts
    return volts[0] is None or volts[1] is None or volts[0] >= volts[1]


def _long_enough(old: Wire | None, new: Wire | None) -> bool:
    lengths = [w.length_metres if w else None for w in (old, new)]
    return lengths[0] is None or lengths[1] is None or lengths[0] >= lengths[1]


def doubts(old: WireOrLead, new: WireOrLead) -> Iterator[str]:
    """What the plan says of a wire that is not known, or not so, of the old one that serves."""
    if new.colour and old.colour and new.colour != old.colour:
        yield f"the plan says {new.colour}, this one is {old.colour}"
    elif new.colour and not old.colour and old.wire:
        yield f"the plan says {new.colour}; the colour of this one is not known"
    if not old.wire or not new.wire:
        return
    if CUT in old.ends and CUT not in new.ends:
        yield "it was cut off: check that it reaches and is sound, else fit a new wire"
    if new.wire.insulation_volts is not None and old.wire.insulation_volts is None:
        volts = with_unit(new.wire.insulation_volts, "V")
        yield f"its insulation must be good for {volts}, else a new wire"
    if new.wire.gauge and not old.wire.gauge:
        yield f"check that it is {new.wire.gauge}, else fit a new wire"
    if new.wire.twisted_with:
        yield f"twisted with {new.wire.twisted_with}"


# Nets


def _reuse(turn: Turnover, link: WireOrLead, nets: list[list[Group]]) -> WireFate | None:
    """The best join of a net that a wire can make with one end moved; the net is then joined."""
    offers = list(_offers(turn, link, nets))
    if not offers:
        return None
    _, net, (one, other), number, to = min(offers, key=lambda offer: offer[0])
    net[one] += net[other]
    del net[other]
    stays = link.ends[1 - number]
    moved, kept = (link.ends[number], to), (stays, stays)
    return WireFate(link, None, (kept, moved) if number else (moved, kept), (number,))


def _offers(
    turn: Turnover, link: WireOrLead, nets: Sequence[list[Group]]
) -> Iterator[tuple[int, list[Group], tuple[int, int], int, str]]:
    """Rank (0 is best), net, the two groups joined by it; which end moves, and where it goes."""
    for number, place in enumerate(link.ends if link.wire else ()):
        stays = link.ends[1 - number]
        if turn.goes(stays) or is_own_lead(turn, link, place):
            continue
        for net in nets:
            one = next((n for n, group in enumerate(net) if stays in group), None)
            for other, group in enumerate(net):
                if one is not None and other != one:
                    for to in group:
                        yield _rank(turn, place, to), net, (one, other), number, to


def _rank(turn: Turnover, old: str, new: str) -> int:
    """Best is the like lug of the part that takes over, then any of its lugs."""
    if not turn.is_handed(old, new):
        return 2
    return 0 if _lug(old) == _lug(new) else 1


def _to_join(net: Sequence[Group]) -> Iterator[tuple[Group, Group]]:
    """Each group of a net, and the largest, which it must be joined to; a point wins a draw."""
    base = max(net, key=lambda group: (len(group), any("." not in p for p in group)))
    return ((group, base) for group in net if group is not base)


# Numbers


def renumbered(spec: Spec, plan: str | None = None) -> Spec:
    """The spec with the wires of all that is no plan numbered as in the plan, or as they go.

    Args:
        spec: the checked model.
        plan: name of the wiring whose numbers count; None for the first plan of the spec.
    """
    plans = [w.name for w in spec.others if w.role == "plan"]
    first = plan or next(iter(plans), None)
    if first is None:
        return spec
    try:
        numbers = _numbers(Case(spec, spec.wirings[first]))
    except LimitReached:  # too large to say what becomes of a wire: each wiring keeps its numbers
        return spec
    wirings = {
        name: wiring if name in plans else _with_numbers(wiring, numbers.get(name, {}))
        for name, wiring in spec.wirings.items()
    }
    return replace(spec, wirings=wirings)


def _with_numbers(wiring: Wiring, numbers: Mapping[str, str]) -> Wiring:
    def numbered(wire: Wire) -> Wire:
        twin = wire.twisted_with
        return replace(
            wire, id=numbers.get(wire.id, wire.id),
            twisted_with=numbers.get(twin, twin) if twin else None,
        )  # fmt: skip

    return replace(
        wiring, wires=tuple(map(numbered, wiring.wires)),
        cut_wires=tuple(map(numbered, wiring.cut_wires)),
    )  # fmt: skip


@lru_cache(maxsize=16)
def _numbers(case: Case) -> Numbers:
    """Numbers of the wires of every wiring on the way to one plan, what was found first.

    A wire that two wirings on the bench's side both have, and that goes, has one number in both.
    """
    spec, target = case.spec, case.wiring
    plan = {wire.id for wire in all_wires(target)}
    order = {"found": 0, None: 1}
    others = (wiring for wiring in spec.wirings.values() if wiring is not target)
    found: dict[str, dict[str, str]] = {}
    for source in sorted(others, key=lambda wiring: order.get(wiring.role, 2)):
        fates = [f for f in _between(spec, source.name, target.name).fates if f.was]
        own = {f.was.id: f.now.id for f in fates if f.was and f.now}
        letters = {f.was.id: "X" if f.fate == "comes out" else "K" for f in fates if f.was}
        for earlier, numbers in found.items():
            for f in _between(spec, source.name, earlier).fates:
                if f.was and f.now and f.was.id not in own and numbers[f.now.id] not in plan:
                    own[f.was.id] = numbers[f.now.id]
        taken = {*plan, *(n for numbers in found.values() for n in numbers.values())}
        spare = {letter: _spare(letter, taken) for letter in "XK"}
        for wire in all_wires(source):
            if wire.id not in own:
                own[wire.id] = next(spare[letters[wire.id]])
        found[source.name] = own
    return found


def _spare(letter: str, taken: set[str]) -> Iterator[str]:
    return (name for name in (f"{letter}{n}" for n in count(1)) if name not in taken)
