"""The fate of every wire between two wirings, and the one number that it bears on all paper.

A wire has the number of the second wiring, the plan. One that goes is X1, X2 …; one that stays
although the plan knows only a net there is K1, K2 …. The list of moves, the marked-up view, the
pictures and the lists of wires all read it here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import count
from typing import Literal

from rewire.bench.moves.links import Link, Pair
from rewire.bench.moves.reuse import Reuse, reuse_between
from rewire.circuit import LimitReached
from rewire.circuit.circuit import Case
from rewire.records.spec import Spec, Wire, Wiring

Fate = Literal["stays", "moves", "comes out", "new"]
Numbers = Mapping[str, Mapping[str, str]]
"""Per wiring: id of a wire → its number."""


@dataclass(frozen=True, slots=True)
class WireFate:
    """One wire of either wiring, or one that is in both."""

    fate: Fate
    was: Wire | None
    """None for a new one, and where the first wiring knows only a net or a part's own lead."""
    now: Wire | None
    """None for one that comes out, and where the second wiring knows only a net or a lead."""
    stays: tuple[str, ...] = ()
    """Places on which it stays, by their names in the second wiring."""
    lifted: tuple[str, ...] = ()
    landed: tuple[str, ...] = ()
    """Where the lifted ends go, in the same order."""


@dataclass(frozen=True, slots=True)
class WirePlan:
    """What becomes of all wires, and the numbers of those that are there when the work begins."""

    fates: tuple[WireFate, ...]
    numbers: Mapping[str, str]
    """Id in the first wiring → number."""

    def on(self, wire: str) -> str:
        """What the label of a wire of the first wiring says: ``W8``, ``X1``."""
        return self.numbers[wire]

    def named(self, link: Link, jumper: bool | None = None) -> str:
        """``jumper J1``, ``wire W3``, ``lead R5.1``."""
        if link.wire is None:
            return link.id
        return f"{'jumper' if (link.jumper if jumper is None else jumper) else 'wire'} " \
               f"{self.on(link.id)}"  # fmt: skip


def wire_plan(spec: Spec, source: str, target: str) -> WirePlan:
    """What becomes of every wire.

    Raises:
        KeyError: a name that is no wiring of the spec.
        LimitReached: thousands of wires that all hang on one place.
    """
    wanted = spec.wirings[target]
    own = {wire.id: wire.id for wire in _all(wanted)}
    numbers = _numbers(Case(spec, wanted)).get(source, own)
    return WirePlan(_fates(spec, source, target), numbers)


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


def _all(wiring: Wiring) -> tuple[Wire, ...]:
    return (*wiring.wires, *wiring.cut_wires)


@lru_cache(maxsize=16)
def _numbers(case: Case) -> Numbers:
    """Numbers of the wires of every wiring on the way to one plan.

    A wire that two wirings on the bench's side both have, and that goes, has one number in both.
    """
    spec, target = case.spec, case.wiring
    plan = {wire.id: wire.id for wire in _all(target)}
    found: dict[str, dict[str, str]] = {}
    for source in _sources(spec, target):
        own, letters = _numbers_of_the_plan(_fates(spec, source.name, target.name))
        for earlier, numbers in found.items():
            _taken_over(own, _fates(spec, source.name, earlier), numbers, plan)
        taken = {*plan, *(n for numbers in found.values() for n in numbers.values())}
        spare = {letter: _spare(letter, taken) for letter in "XK"}
        for wire in _all(source):
            if wire.id not in own:
                own[wire.id] = next(spare[letters[wire.id]])
        found[source.name] = own
    return found


def _sources(spec: Spec, target: Wiring) -> Iterator[Wiring]:
    """What was found first: its wires are the ones in hand."""
    order = {"found": 0, None: 1}
    others = (wiring for wiring in spec.wirings.values() if wiring is not target)
    yield from sorted(others, key=lambda wiring: order.get(wiring.role, 2))


def _numbers_of_the_plan(fates: Iterable[WireFate]) -> tuple[dict[str, str], dict[str, str]]:
    """Id → number in the plan; id → letter, of the others."""
    own, letters = {}, {}
    for one in fates:
        if one.was is not None and one.now is not None:
            own[one.was.id] = one.now.id
        elif one.was is not None:
            letters[one.was.id] = "X" if one.fate == "comes out" else "K"
    return own, letters


def _taken_over(
    own: dict[str, str], fates: Iterable[WireFate], earlier: Mapping[str, str],
    plan: Mapping[str, str],
) -> None:  # fmt: skip
    for one in fates:
        if one.was is None or one.now is None or one.was.id in own:
            continue
        number = earlier[one.now.id]
        if number not in plan:
            own[one.was.id] = number


def _spare(letter: str, taken: set[str]) -> Iterator[str]:
    return (name for name in (f"{letter}{n}" for n in count(1)) if name not in taken)


def _fates(spec: Spec, source: str, target: str) -> tuple[WireFate, ...]:
    """Old wires in their order, then the new ones in theirs."""
    reuse = reuse_between(spec, spec.wirings[source], spec.wirings[target])
    found = list(_told(reuse))
    rank = {wire.id: n for n, wire in enumerate(_all(spec.wirings[source]))}
    last = {wire.id: n for n, wire in enumerate(_all(spec.wirings[target]))}
    return tuple(sorted(found, key=lambda f: (
        (0, rank[f.was.id]) if f.was else (1, last[f.now.id] if f.now else 0)
    )))  # fmt: skip


def _told(reuse: Reuse) -> Iterator[WireFate]:
    for pair in reuse.links.pairs:
        if pair.old.wire or pair.new.wire:
            yield _of_pair(reuse, pair)
    for link in reuse.nets.merged:
        if link.wire:
            yield WireFate("stays", link.wire, None, stays=link.ends)
    for link in reuse.nets.seen:
        if link.wire:
            yield WireFate("stays", None, link.wire, stays=link.ends)
    for one in reuse.adopted:
        stays, lifted = one.link.ends[1 - one.number], one.link.ends[one.number]
        yield WireFate("moves", one.link.wire, None, (stays,), (lifted,), (one.to,))
    yield from (WireFate("comes out", link.wire, None) for link in reuse.links.out if link.wire)
    yield from (WireFate("new", None, link.wire) for link in reuse.links.into if link.wire)


def _of_pair(reuse: Reuse, pair: Pair) -> WireFate:
    kept = [reuse.turn.is_kept(*end) for end in pair.ends]
    moved = [end for end, stays in zip(pair.ends, kept, strict=True) if not stays]
    return WireFate(
        fate="stays" if all(kept) else "moves", was=pair.old.wire, now=pair.new.wire,
        stays=tuple(new for (_, new), stays in zip(pair.ends, kept, strict=True) if stays),
        lifted=tuple(old for old, _ in moved), landed=tuple(new for _, new in moved),
    )  # fmt: skip
