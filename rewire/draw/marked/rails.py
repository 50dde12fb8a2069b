"""Rails: the nets of both wirings as one set, each kept, gone or new.

Points are never moved by a swap, so they settle which nets are the same one. A
net without a point is matched by the part terminals it has in both wirings.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from rewire.circuit.circuit import Nets, circuit_of
from rewire.compare.turned import roles_between
from rewire.records.spec import Spec, Wiring

Fate = Literal["kept", "removed", "new"]
Pair = tuple[int | None, int | None]
"""Number of the net in the original and in the other wiring."""


@dataclass(frozen=True, slots=True)
class Rail:
    """A net of the picture; ``was`` and ``now`` are its places in either wiring."""

    number: int
    fate: Fate
    points: tuple[str, ...]
    was: tuple[str, ...]
    now: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tie:
    """Two rails that are one net in one of the wirings only."""

    rails: tuple[int, int]
    fate: Fate


@dataclass(frozen=True, slots=True)
class Rails:
    """All rails, and which one a terminal is on in the original and in the other wiring."""

    rails: tuple[Rail, ...]
    was_on: Mapping[str, int]
    now_on: Mapping[str, int]
    ties: tuple[Tie, ...]


def rails_of(spec: Spec, wiring: Wiring) -> Rails:
    """The rails of a wiring marked against the original.

    A terminal that is on no rail is joined to nothing in that wiring.
    """
    old, new = circuit_of(spec, spec.original).nets, circuit_of(spec, wiring).nets
    seat = roles_between(spec, wiring).seat
    pairs = _pairs(spec, old, new, seat)
    number = {pair: n for n, pair in enumerate(pairs)}
    rails = tuple(_rail(spec, n, pair, old, new) for n, pair in enumerate(pairs))
    was_on = dict(_places(old, pairs, 0))
    now_on = dict(_places(new, pairs, 1))
    for anchor, place in seat.items():
        shared = number.get((old.of[anchor], new.of[place]))
        if shared is not None:
            was_on[anchor] = now_on[place] = shared
    return Rails(rails, was_on, now_on, tuple(_ties(pairs)))


def _pairs(spec: Spec, old: Nets, new: Nets, seat: Mapping[str, str]) -> list[Pair]:
    """Nets that go together: by points, then by the most terminals in common, then alone."""
    pairs: dict[Pair, None] = {(old.of[p], new.of[p]): None for p in spec.points}
    taken_old = {pair[0] for pair in pairs}
    taken_new = {pair[1] for pair in pairs}
    for before, after in _by_likeness(old, new, seat):
        if before not in taken_old and after not in taken_new:
            pairs[(before, after)] = None
            taken_old.add(before)
            taken_new.add(after)
    pairs.update(((n, None), None) for n in _joined(old) if n not in taken_old)
    pairs.update(((None, n), None) for n in _joined(new) if n not in taken_new)
    return list(pairs)


def _joined(nets: Nets) -> list[int]:
    return [number for number, members in enumerate(nets.members) if len(members) > 1]


def _by_likeness(old: Nets, new: Nets, seat: Mapping[str, str]) -> Iterator[tuple[int, int]]:
    """Pairs of joined nets, those with most in common first; lugs of one name count a little."""
    common: dict[tuple[int, int], float] = {}
    for anchor, place in seat.items():
        pair = old.of[anchor], new.of[place]
        common[pair] = common.get(pair, 0.0) + 1.0
    for lug in sorted(old.of.keys() & new.of.keys() - seat.keys()):
        pair = old.of[lug], new.of[lug]
        if pair in common:
            common[pair] += 0.01
    joined_old, joined_new = set(_joined(old)), set(_joined(new))
    for pair in sorted(common, key=lambda p: (-common[p], old.members[p[0]], p)):
        if pair[0] in joined_old and pair[1] in joined_new:
            yield pair


def _rail(spec: Spec, number: int, pair: Pair, old: Nets, new: Nets) -> Rail:
    was = old.members[pair[0]] if pair[0] is not None else ()
    now = new.members[pair[1]] if pair[1] is not None else ()
    fate: Fate = "kept" if was and now else "removed" if was else "new"
    points = tuple(sorted(set(was) & set(now) & spec.points.keys()))
    return Rail(number, fate, points, was, now)


def _places(nets: Nets, pairs: list[Pair], side: int) -> Iterator[tuple[str, int]]:
    """Terminal → rail: where a net has more than one rail, the first."""
    first: dict[int, int] = {}
    for number, pair in enumerate(pairs):
        net = pair[side]
        if net is not None:
            first.setdefault(net, number)
    for net, rail in first.items():
        for place in nets.members[net]:
            yield place, rail


def _ties(pairs: list[Pair]) -> Iterator[Tie]:
    """Rails in a row that are one net in the original only, or in the other wiring only."""
    fates: tuple[Fate, Fate] = ("removed", "new")
    for side, fate in enumerate(fates):
        last: dict[int, int] = {}
        for number, pair in enumerate(pairs):
            net = pair[side]
            if net is None:
                continue
            if net in last:
                yield Tie((last[net], number), fate)
            last[net] = number
