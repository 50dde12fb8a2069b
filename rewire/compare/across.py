"""Added parts across places that the original keeps apart.

By the contract an added part is information and plays no part in what is joined. What it links must
all the same be seen: a fuse from the high voltage to the chassis ties nothing and is a short.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from math import prod

from rewire.circuit.contacts import NO_SECTION, Link
from rewire.circuit.states import States
from rewire.circuit.ties import bonds_at_rest, controls_of, tied
from rewire.compare.facts import Groups, in_order
from rewire.compare.findings import Across, State
from rewire.compare.rest import directly_tied
from rewire.compare.views import Sight, View, Views, pairs_of
from rewire.compare.when import in_states
from rewire.compare.words import group_names, listing
from rewire.spec.model import Wiring

MOST_STATES = 4096
"""Product of the positions of the controls that are looked at together for two places."""


def across(views: Views, other: Wiring, states: States) -> Mapping[str, tuple[Across, ...]]:
    """Per added part the places it links, alone or with others, that the original keeps apart.

    Two anchored nets count if contacts and added parts link them over no third anchored net, in
    states in which contacts alone do not, and the original, made whole by the other wiring's nets,
    does not tie them.
    """
    found: dict[str, list[Across]] = {}
    for one in _found(views, other, states):
        for name in one.parts:
            found.setdefault(name, []).append(one)
    return {name: tuple(links) for name, links in found.items()}


def _found(views: Views, other: Wiring, states: States) -> Iterator[Across]:
    barred = views.down.second
    sight = replace(views.up, first=barred)
    for pair, near in _pairs(barred, sight.anchors.keys()).items():
        whole = sight.merged[pair[0]], sight.merged[pair[1]]
        direct = barred.ways_with_bars.between(pair)
        parts = tuple(sorted(near & {name for link in direct for name in _parts(link)}))
        if whole[0] == whole[1] or not parts:
            continue
        held = _states(sight, pair, whole, direct, states)
        if held != ():
            groups = in_order([sight.anchors[net] for net in pair])
            named = [f"{other.parts[name].kind} {name}" for name in parts]
            yield Across(groups, parts, held, _message(views, groups, named, held))


def _parts(link: Link) -> tuple[str, ...]:
    return link.lugs if link.contact == NO_SECTION else ()


def _message(
    views: Views, groups: Groups, parts: Sequence[str], states: Sequence[State] | None
) -> str:
    names = group_names(groups, views.spec.points)
    where = in_states(states) if states is not None else "in some positions"
    return f"{names} are linked through {listing(parts)} {where}; the original keeps them apart"


def _pairs(barred: View, anchored: Iterable[int]) -> dict[tuple[int, int], set[str]]:
    """Anchored nets that an added part can link over no third, and the added parts there."""
    known = set(anchored)
    beside: dict[int, list[Link]] = {}
    for link in (*barred.links, *barred.bars):
        for place in link.places:
            beside.setdefault(place, []).append(link)
    found: dict[tuple[int, int], set[str]] = {}
    for bar in barred.bars:
        border, parts = _region(bar, beside, known)
        for pair in pairs_of(border):
            found.setdefault(pair, set()).update(parts)
    return found


def _region(
    bar: Link, beside: Mapping[int, Sequence[Link]], anchored: set[int]
) -> tuple[set[int], set[str]]:
    """Anchored nets around a part, reached over nets without anchors; added parts met."""
    seen: set[int] = set(bar.places)
    waiting = [place for place in bar.places if place not in anchored]
    parts = set(bar.lugs)
    while waiting:
        for link in beside.get(waiting.pop(), ()):
            parts.update(_parts(link))
            fresh = [place for place in link.places if place not in seen]
            seen.update(fresh)
            waiting += [place for place in fresh if place not in anchored]
    return seen & anchored, parts


def _states(
    sight: Sight, pair: tuple[int, int], whole: tuple[int, int], direct: Sequence[Link],
    states: States,
) -> tuple[State, ...] | None:  # fmt: skip
    """When two nets are linked over added parts alone and not tied in the original."""
    kept = sight.whole.ways.between(whole) if sight.whole.ways.linked(*whole) else []
    names = controls_of(direct, sight.first.contacts) | controls_of(kept, sight.whole.contacts)
    if prod(len(states.controls[name].positions) for name in names) > MOST_STATES:
        return None
    frame = states.frame(names)
    over = directly_tied(sight, pair, direct, frame) & states.possible(frame)
    closed = [link for link in direct if link.contact != NO_SECTION]
    over &= ~directly_tied(sight, pair, closed, frame)
    over &= ~tied(bonds_at_rest(kept, sight.whole.contacts, frame), *whole, over)
    return tuple(State(tuple(state.items())) for state in frame.states(over))
