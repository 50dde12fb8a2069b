"""What becomes of every wire between two wirings, and the one number that it bears on all paper.

A wire has the number of the second wiring, the plan. One that goes is X1, X2 …; one that stays
although the plan knows only a net there is K1, K2 …. The list of moves, the marked-up view, the
pictures and the lists of wires all read it here.

Where a wiring is known only as nets, what is known is that the lugs of a net hang together: those
that stay together in the second wiring are left alone, by whatever wires they hang together; the
others come off.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import count
from typing import Literal

import networkx as nx

from rewire.bench.turnover import (
    Turnover,
    WireOrLead,
    all_wires,
    as_it_lies,
    links_of,
    lug_of,
    matched,
    turnover,
)
from rewire.circuit import LimitReached
from rewire.circuit.circuit import Case
from rewire.records.spec import CUT, Spec, Wire, Wiring
from rewire.words.quantity import with_unit

Fate = Literal["stays", "moves", "comes out", "new"]
Group = tuple[str, ...]
"""Places that are connected."""
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
    """Places of nets that stay connected by wires not known one by one."""
    freed: tuple[tuple[str, Group], ...]
    """Place that comes off its net, and what it was connected to."""
    joins: tuple[tuple[Group, Group], ...]
    """Places that are connected, and those of the same net that they must be connected to."""
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

    Raises ``KeyError`` for no wiring's name, ``LimitReached`` for thousands of wires on a net.
    """
    wanted = spec.wirings[target]
    own = {wire.id: wire.id for wire in all_wires(wanted)}
    numbers = _numbers(Case(spec, wanted)).get(source, own)
    return replace(_between(Case(spec, spec.wirings[source]), Case(spec, wanted)), numbers=numbers)


@lru_cache(maxsize=64)
def _between(first: Case, second: Case) -> WirePlan:
    """The plan without the numbers."""
    spec, source = first.spec, first.wiring
    turn = turnover(spec, source, second.wiring)
    target = as_it_lies(spec, source, second.wiring, turn)
    olds, news = links_of(source), links_of(target)
    stay, freed, seen = _taken_apart(turn, (source, target), olds, news)
    nets, merged = _put_together(turn, target, olds, news, stay)
    pairs = list(matched(
        turn, [x for x in olds if x not in merged], [x for x in news if x not in seen]
    ))  # fmt: skip
    used = {*(old.id for old, *_ in pairs), *(x.id for x in merged)}
    made = {*(new.id for _, new, *_ in pairs), *(x.id for x in seen)}
    left = [x for x in olds if x.id not in used]
    reused = {x.id: one for x in left if (one := _reuse(turn, x, nets))}
    # nobody lands a wire that ends in the air
    into = [x for x in news if x.id not in made and CUT not in x.ends]
    return WirePlan(
        spec=spec, source=source, target=target, turn=turn,
        links=(
            *(WireFate(None, x, ((None, x.ends[0]), (None, x.ends[1])), (0, 1)) for x in into),
            *(WireFate(*pair) for pair in pairs),
            *(WireFate(x, None, _as_they_are(x)) for x in merged),
            *(WireFate(None, x, _as_they_are(x)) for x in seen),
            *(_out(turn, x) for x in left if x.id not in reused),
            *reused.values(),
        ),
        stay=tuple(stay), freed=tuple(freed),
        joins=tuple(join for net in nets for join in _to_join(net)), numbers={},
    )  # fmt: skip


def _as_they_are(link: WireOrLead) -> Ends:
    one, other = link.ends
    return (one, one), (other, other)


def _out(turn: Turnover, link: WireOrLead) -> WireFate:
    off = turn.ends_to_lift(link)
    moved = tuple(n for n, place in enumerate(link.ends) if place in off)
    return WireFate(link, None, ((link.ends[0], None), (link.ends[1], None)), moved)


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


def _together(
    places: Iterable[str], joined: Iterable[Group], links: Iterable[WireOrLead] = ()
) -> tuple[list[Group], list[WireOrLead]]:
    """Places in groups that are connected; and the links that join what was apart until then."""
    listed = dict.fromkeys(places)
    sets = nx.utils.UnionFind(listed)
    for group in joined:
        sets.union(*group)
    used = []
    for link in links:
        if sets[link.ends[0]] != sets[link.ends[1]]:
            sets.union(*link.ends)
            used.append(link)
    found: dict[str, list[str]] = {}
    for place in listed:
        found.setdefault(sets[place], []).append(place)
    return [tuple(group) for group in found.values()], used


def _nets_of(wiring: Wiring) -> list[Group]:
    """Nets of a wiring as written, those that share a place made one."""
    members = [net.members for net in wiring.nets]
    return _together((place for group in members for place in group), members)[0]


def _taken_apart(
    turn: Turnover, wirings: tuple[Wiring, Wiring],
    olds: Sequence[WireOrLead], news: Sequence[WireOrLead],
) -> tuple[list[Group], list[tuple[str, Group]], list[WireOrLead]]:  # fmt: skip
    """Of the nets of the first wiring: what stays connected, what comes off, new links in it."""
    before, after = map(_nets_of, wirings)
    spare = _beyond(news, [x for x in olds if not any(map(turn.goes, x.ends))])
    stay: list[Group] = []
    freed: list[tuple[str, Group]] = []
    seen: list[WireOrLead] = []
    for group in before:
        kept = [place for place in group if not turn.goes(place)]
        inner = [both for other in after if len(both := _common(other, kept)) > 1]
        within = [link for link in spare if set(link.ends) <= set(kept)]
        pieces, known = _together(kept, inner, within)
        # where all leave, the last one hangs on nothing any more once the others are off
        rest = max(pieces, key=len, default=group[-1:])
        freed += [(p, tuple(q for q in group if q != p)) for p in group if p not in rest]
        seen += [link for link in known if link.ends[0] in rest]
        stay += [rest] if len(rest) > 1 else []
    return stay, freed, seen


def _put_together(
    turn: Turnover, target: Wiring, olds: Sequence[WireOrLead], news: Sequence[WireOrLead],
    stay: Sequence[Group],
) -> tuple[list[list[Group]], list[WireOrLead]]:  # fmt: skip
    """Per net of the second wiring what is connected already; the old links in these nets."""
    spare = _beyond(olds, [x for x in news if not any(map(turn.comes, x.ends))])
    merged: list[WireOrLead] = []
    nets: list[list[Group]] = []
    for group in _nets_of(target):
        kept = {place for place in group if not turn.comes(place)}
        inner = [both for rest in stay if (both := _common(rest, group))]
        within = [x for x in spare if set(x.ends) <= kept and not any(map(turn.goes, x.ends))]
        pieces, found = _together(group, inner, within)
        merged += found
        nets.append(pieces)
    return nets, merged


def _common(one: Group, other: Sequence[str]) -> Group:
    return tuple(place for place in one if place in other)


def _beyond(links: Iterable[WireOrLead], others: Iterable[WireOrLead]) -> list[WireOrLead]:
    """Links that have none with the same ends among the others."""
    twins = Counter(frozenset(link.ends) for link in others)
    found = []
    for link in links:
        twins[frozenset(link.ends)] -= 1
        if twins[frozenset(link.ends)] < 0:
            found.append(link)
    return found


def _reuse(turn: Turnover, link: WireOrLead, nets: list[list[Group]]) -> WireFate | None:
    """The best join of a net that a wire can make with one end moved; the net is then connected."""
    best: tuple[int, list[Group], int, int, int, str] | None = None
    for number, place in enumerate(link.ends if link.wire else ()):
        stays = link.ends[1 - number]
        if turn.goes(stays) or turn.is_own_lead(link, place):
            continue
        for net in nets:
            one = next((n for n, group in enumerate(net) if stays in group), None)
            for other, group in enumerate(net if one is not None else ()):
                for to in group if other != one else ():
                    rank = 2 if not turn.is_handed(place, to) else int(lug_of(place) != lug_of(to))
                    if one is not None and (best is None or rank < best[0]):
                        best = rank, net, one, other, number, to
    if best is None:
        return None
    _, net, one, other, number, to = best
    net[one] += net[other]
    del net[other]
    stays = link.ends[1 - number]
    moved, kept = (link.ends[number], to), (stays, stays)
    return WireFate(link, None, (kept, moved) if number else (moved, kept), (number,))


def _to_join(net: Sequence[Group]) -> Iterator[tuple[Group, Group]]:
    """Each group of a net, and the largest, which it must be connected to; a point wins a draw."""
    base = max(net, key=lambda group: (len(group), any("." not in p for p in group)))
    return ((group, base) for group in net if group is not base)


# Numbers


def renumbered(spec: Spec, plan: str | None = None) -> Spec:
    """The spec with all wires numbered as in a plan, by default its first, or as they go."""
    plans = [w.name for w in spec.others if w.role == "plan"]
    first = plan or next(iter(plans), None)
    if first is None:
        return spec
    try:
        numbers = _numbers(Case(spec, spec.wirings[first]))
    except LimitReached:  # too large to say what becomes of a wire: each wiring keeps its numbers
        return spec

    def with_numbers(wires: Iterable[Wire], own: Mapping[str, str]) -> tuple[Wire, ...]:
        return tuple(replace(
            wire, id=own.get(wire.id, wire.id),
            twisted_with=wire.twisted_with and own.get(wire.twisted_with, wire.twisted_with),
        ) for wire in wires)  # fmt: skip

    wirings = dict(spec.wirings)
    for name, wiring in spec.wirings.items():
        own = numbers.get(name, {})
        if name not in plans:
            wires, cut = (with_numbers(wires, own) for wires in (wiring.wires, wiring.cut_wires))
            wirings[name] = replace(wiring, wires=wires, cut_wires=cut)
    return replace(spec, wirings=wirings)


@lru_cache(maxsize=16)
def _numbers(case: Case) -> Mapping[str, Mapping[str, str]]:
    """Per wiring the numbers of its wires, by id, on the way to one plan; what was found first.

    A wire that two wirings on the bench's side both have, and that goes, has one number in both.
    """
    spec, target = case.spec, case.wiring
    plan = {wire.id for wire in all_wires(target)}
    order = {"found": 0, None: 1}
    others = (wiring for wiring in spec.wirings.values() if wiring is not target)
    found: dict[str, dict[str, str]] = {}
    for source in sorted(others, key=lambda wiring: order.get(wiring.role, 2)):
        here = Case(spec, source)
        fates = [(f.was.id, f) for f in _between(here, case).fates if f.was]
        own = {was: f.now.id for was, f in fates if f.now}
        for earlier, numbers in found.items():
            for f in _between(here, Case(spec, spec.wirings[earlier])).fates:
                if f.was and f.now and f.was.id not in own and numbers[f.now.id] not in plan:
                    own[f.was.id] = numbers[f.now.id]
        taken = {*plan, *(n for numbers in found.values() for n in numbers.values())}
        spare = {letter: _spare(letter, taken) for letter in "XK"}
        letters = {was: "X" if f.fate == "comes out" else "K" for was, f in fates}
        for wire in all_wires(source):
            if wire.id not in own:
                own[wire.id] = next(spare[letters[wire.id]])
        found[source.name] = own
    return found


def _spare(letter: str, taken: set[str]) -> Iterator[str]:
    return (name for name in (f"{letter}{n}" for n in count(1)) if name not in taken)
