"""Facts at rest: what is dropped, inserted and joined in one state, and what was turned."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence

from tests.reference.circuit import YES, Circuit, Contacts, components, kind_of
from tests.reference.view import Groups, View, turnable, turned

State = Mapping[str, str]
Found = tuple[str, Groups]
"""Kind and groups."""


def closed_in(circuit: Circuit, state: State) -> Contacts:
    """Every group of contacts closed in a state."""
    return frozenset().union(*(s.closed[state[s.control]] for s in circuit.sections))


def reached(view: View, closed: Contacts, start: int) -> set[int]:
    """Nets that contacts link to a net, over nets without anchors alone."""
    neighbours: dict[int, set[int]] = {}
    for group in closed:
        numbers = set(view.circuit.numbers(group))
        for number in numbers:
            neighbours.setdefault(number, set()).update(numbers - {number})
    seen, waiting = {start}, [start]
    while waiting:
        here = waiting.pop()
        if here != start and view.net(here):
            continue
        waiting.extend(neighbours.get(here, set()) - seen)
        seen |= neighbours.get(here, set())
    return seen


def directly_tied(view: View, closed: Contacts) -> list[tuple[int, int]]:
    """Pairs of anchored nets that contacts link over no third anchored net."""
    anchored = view.anchored()
    near = {net: reached(view, closed, net) for net in anchored}
    return [(a, b) for a in anchored for b in anchored if a < b and b in near[a]]


def together(groups: Iterable[frozenset[str]], *members: frozenset[str]) -> bool:
    """Whether one group holds the first anchor of every one of ``members``."""
    wanted = {min(member) for member in members}
    return any(wanted <= group for group in groups)


def fragment_facts(
    net: frozenset[str], tied: Sequence[frozenset[str]], linked: Sequence[frozenset[str]]
) -> Iterable[tuple[bool, Groups]]:
    """Step 1 for one net: (linked by parts?, groups)."""
    fragments = [net & group for group in tied if net & group]
    clusters = [[f for f in fragments if f <= group] for group in linked if net & group]
    if len(clusters) > 1:
        yield False, frozenset(frozenset().union(*cluster) for cluster in clusters)
    for cluster in clusters:
        if len(cluster) > 1:
            yield True, frozenset(cluster)


def lost(
    one: View, closed_one: Contacts, two: View, closed_two: Contacts, added: Sequence[str]
) -> Iterable[tuple[bool, Groups]]:
    """What the first wiring ties and the second does not; True where added parts link it."""
    parts = two.circuit.dc_links(added)
    tied, linked = two.tied(closed_two), two.gathered(closed_two, parts)
    for net in one.anchored_nets():
        yield from fragment_facts(net, tied, linked)
    whole = two.made_whole(closed_two, one)
    nets = frozenset(two.nets_of(net) for net in one.anchored_nets())
    linked_whole = two.gathered(closed_two, parts | nets)
    for a, b in directly_tied(one, closed_one):
        pair = one.net(a), one.net(b)
        if not together(whole, *pair):
            yield together(linked_whole, *pair), frozenset(pair)


def touched(
    other: View, closed: Contacts, parts: Iterable[frozenset[int]], gathered: frozenset[int]
) -> frozenset[str]:
    """Anchors of the nets that added parts touch, within the nets they gather."""
    nets: set[int] = set()
    for net in frozenset().union(*parts) & gathered:
        nets |= {net} if other.net(net) else reached(other, closed, net)
    return frozenset().union(*(other.net(net) for net in nets))


def linked_facts(
    original: View, was: Contacts, other: View, now: Contacts, added: Sequence[str]
) -> Iterable[Groups]:
    """What added parts link that neither ties of the other wiring nor paths of the original do."""
    parts = other.circuit.dc_links(added)
    known = [*other.tied(now), *original.with_paths(was, ())]
    for nets in other.circuit.joined(now, parts) if parts else ():
        anchors = frozenset().union(*(other.net(net) for net in nets))
        clusters = components(anchors, [group & anchors for group in known])
        if len(clusters) > 1:
            near = touched(other, now, parts, nets)
            yield frozenset(cluster & near for cluster in clusters)


def rest_facts(original: View, other: View, state: State, added: Sequence[str]) -> set[Found]:
    """All of ``dropped``, ``inserted``, ``joined`` and ``linked`` in one state."""
    was, now = closed_in(original.circuit, state), closed_in(other.circuit, state)
    found: set[Found] = set()
    for linked, groups in lost(original, was, other, now, added):
        found.add(("inserted" if linked else "dropped", groups))
    for _, groups in lost(other, now, original, was, ()):
        found.add(("joined", groups))
    found |= {("linked", g) for g in linked_facts(original, was, other, now, added)}
    return found


def number_of_facts(
    original: View, other: View, states: Sequence[State], added: Sequence[str]
) -> int:
    """Facts as pairs of groups, over all states."""
    return len(
        {
            (kind, frozenset(pair), index)
            for index, state in enumerate(states)
            for kind, groups in rest_facts(original, other, state, added)
            for pair in itertools.combinations(groups, 2)
        }
    )


def turn_parts(
    original: View, other: View, states: Sequence[State], added: Sequence[str]
) -> tuple[View, list[str]]:
    """The other wiring with every useful exchange in place, and the parts exchanged."""
    exchanged: list[str] = []
    least = number_of_facts(original, other, states, added)
    for name, pair in turnable(original) if least else ():
        tried = turned(other, pair)
        number = number_of_facts(original, tried, states, added)
        if number < least:
            other, least = tried, number
            exchanged.append(name)
    return other, exchanged


def reversed_parts(original: View, other: View, exchanged: Sequence[str]) -> list[str]:
    """Of the parts exchanged, those that care which way round they are.

    One that takes the terminals of its like crosswise stands the other way round than its place
    tells: in its own place it is reversed, exchanged it is not.
    """
    return [
        name
        for name, _ in turnable(original)
        if cares(original, other, name) and (name in exchanged) != crossed(other, name)
    ]


def playing(other: View, name: str) -> dict[str, str]:
    """Terminal of a part of the original → terminal of the other wiring in its role.

    Taken from the roles as they are written, before any exchange.
    """
    return {role: t for t, role in other.roles.items() if role.split(".")[0] == name}


def crossed(other: View, name: str) -> bool:
    """Whether each terminal is taken in the role of the other."""
    pairs = [(role.split("."), t.split(".")) for role, t in playing(other, name).items()]
    return all(role[1] != t[1] for role, t in pairs)


def cares(original: View, other: View, name: str) -> bool:
    """A meter, a diode, or a capacitor that is polarised in either wiring, and one of its kind.

    Another kind in its place, or two parts that share it, have no way round to speak of: that
    they stand there is told as altered.
    """
    part = original.circuit.parts[name]
    names = {t.split(".")[0] for t in playing(other, name).values()}
    heirs = [other.circuit.parts[one] for one in names]
    if len(heirs) != 1 or kind_of(heirs[0]) != kind_of(part):
        return False
    every = (part, *heirs)
    return kind_of(part) in ("meter", "diode") or any(one.get("polarised") in YES for one in every)
