"""Where a wiring is known only as nets: which lugs come off, which are joined on.

A net tells no wires. What is known of it: its lugs hang together. So lugs that stay together in
the second wiring are left alone, by whatever wires they hang together; the others come off.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from rewire.bench.moves.links import Link
from rewire.bench.moves.parts import Turnover
from rewire.circuit.nets import Joiner
from rewire.records.spec import Wiring

Group = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Regrouping:
    """The work on nets, and the links whose other side is a net."""

    stay: tuple[Group, ...]
    """Places that stay joined by wires not known one by one."""
    freed: tuple[tuple[str, Group], ...]
    """Place that comes off, what it was joined to."""
    parts: tuple[tuple[Group, ...], ...]
    """Per net of the second wiring, the groups of its places that hang together already."""
    seen: tuple[Link, ...]
    """Links of the second wiring that the first knows as part of a net."""
    merged: tuple[Link, ...]
    """Links of the first wiring that the second knows as part of a net."""


def groups_of(wiring: Wiring) -> list[Group]:
    """Nets of a wiring as written, those that share a place made one."""
    return _parts_of([place for net in wiring.nets for place in net.members],
                     [net.members for net in wiring.nets])  # fmt: skip


def regrouped(
    turn: Turnover, groups: tuple[Sequence[Group], Sequence[Group]],
    links: tuple[Sequence[Link], Sequence[Link]],
) -> Regrouping:  # fmt: skip
    """What to do about nets.

    Args:
        turn: what becomes of the parts.
        groups: nets of the first and of the second wiring.
        links: wires and leads of the first and of the second wiring.
    """
    (before, after), (olds, news) = groups, links
    spare_new, spare_old = _without_twins(turn, olds, news)
    stay: list[Group] = []
    freed: list[tuple[str, Group]] = []
    seen: list[Link] = []
    for group in before:
        rest, known = _left_alone(turn, group, after, spare_new)
        freed += [(p, tuple(q for q in group if q != p)) for p in group if p not in rest]
        seen += known
        if len(rest) > 1:
            stay.append(rest)
    merged: list[Link] = []
    parts: list[tuple[Group, ...]] = []
    for group in after:
        kept = [p for p in group if not turn.comes(p)]
        inner = [tuple(p for p in rest if p in group) for rest in stay]
        found = _forest(kept, inner, [x for x in spare_old if _within(turn, x, set(kept))])
        merged += found
        together = [*(places for places in inner if places), *(link.ends for link in found)]
        parts.append(tuple(_parts_of(group, together)))
    return Regrouping(tuple(stay), tuple(freed), tuple(parts), tuple(seen), tuple(merged))


def _without_twins(
    turn: Turnover, olds: Sequence[Link], news: Sequence[Link]
) -> tuple[list[Link], list[Link]]:
    """New links, then old ones, that have none with the same ends on the other side."""
    kept_old = [frozenset(x.ends) for x in olds if not any(turn.goes(p) for p in x.ends)]
    kept_new = [frozenset(x.ends) for x in news if not any(turn.comes(p) for p in x.ends)]
    return list(_beyond(news, Counter(kept_old))), list(_beyond(olds, Counter(kept_new)))


def _beyond(links: Iterable[Link], twins: Counter[frozenset[str]]) -> Iterator[Link]:
    for link in links:
        if twins[frozenset(link.ends)] > 0:
            twins[frozenset(link.ends)] -= 1
        else:
            yield link


def _left_alone(
    turn: Turnover, group: Group, after: Sequence[Group], news: Sequence[Link]
) -> tuple[Group, list[Link]]:
    """The most places of a net that stay joined, and the new links that are among its joins."""
    kept = [place for place in group if not turn.goes(place)]
    inner = [tuple(p for p in other if p in kept) for other in after]
    inner = [other for other in inner if len(other) > 1]
    known = _forest(kept, inner, [link for link in news if set(link.ends) <= set(kept)])
    parts = _parts_of(kept, [*inner, *(link.ends for link in known)])
    # where all leave, the last one hangs on nothing any more once the others are off
    rest = max(parts, key=len, default=group[-1:])
    return rest, [link for link in known if link.ends[0] in rest]


def _within(turn: Turnover, link: Link, places: set[str]) -> bool:
    return set(link.ends) <= places and not any(turn.goes(place) for place in link.ends)


def _forest(places: Sequence[str], joined: Iterable[Group], links: Sequence[Link]) -> list[Link]:
    """The links that join what is not joined yet, first ones first."""
    number = {place: n for n, place in enumerate(places)}
    joiner = Joiner(len(places))
    for group in joined:
        joiner.join([number[place] for place in group])
    found = []
    for link in links:
        one, other = (joiner.root(number[place]) for place in link.ends)
        if one != other:
            joiner.join((one, other))
            found.append(link)
    return found


def _parts_of(places: Iterable[str], joined: Iterable[Group]) -> list[Group]:
    """Places in groups that hang together; places and groups keep their order."""
    listed = list(dict.fromkeys(places))
    number = {place: n for n, place in enumerate(listed)}
    joiner = Joiner(len(listed))
    for group in joined:
        joiner.join([number[place] for place in group])
    parts: dict[int, list[str]] = {}
    for place in listed:
        parts.setdefault(joiner.root(number[place]), []).append(place)
    return [tuple(part) for part in parts.values()]


def to_join(parts: Sequence[Group]) -> Iterator[tuple[Group, Group]]:
    """Each group of a net, and the largest of them, which it must be joined to.

    Among equals one with a point is taken.
    """
    base = max(parts, key=lambda part: (len(part), any("." not in p for p in part)))
    for part in parts:
        if part is not base:
            yield part, base
