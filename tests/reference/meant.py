"""Declared changes: which facts are meant, which declarations never occur.

Three answers are possible: True, False, and None where the text leaves a choice.
That is so for an ``insert`` alone: a finding shows the added parts on *a* shortest
way, and where several ways exist any of them may be shown.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import networkx as nx

from tests.reference.circuit import components
from tests.reference.rest import State, closed_in
from tests.reference.rules import chosen
from tests.reference.view import Groups, View

Change = Mapping[str, Any]

KIND_OF_CHANGE = {
    "insert": "inserted",
    "drop": "dropped",
    "join": "joined",
    "gap": "gap",
    "bridge": "bridge",
    "interrupt": "interrupted",
    "stray": "stray",
    "remove": "missing",
    "reverse": "reversed",
}


def word_of(change: Change) -> str:
    """The key that names what a declaration declares."""
    return next(word for word in KIND_OF_CHANGE if word in change)


def ends_of(change: Change) -> list[str]:
    """The two anchors a declaration names."""
    word = word_of(change)
    return list(change["between"] if word == "insert" else change[word])


def parts_of(change: Change) -> set[str]:
    """The parts an ``insert`` declares."""
    told = change["insert"]
    return set(told) if isinstance(told, list) else {told}


def as_groups(groups: Iterable[Iterable[str]]) -> Groups:
    """Groups as sets."""
    return frozenset(frozenset(group) for group in groups)


def states_covered(fact: Mapping[str, Any]) -> list[State]:
    """The states a declaration must cover: one at rest, both ends of a step."""
    if "state" in fact:
        return [fact["state"]]
    return [{**fact["others"], fact["control"]: fact[end]} for end in ("from", "to")]


def covers(change: Change, fact: Mapping[str, Any]) -> bool:
    """Whether a declaration speaks of this kind of fact, in its state or step."""
    if KIND_OF_CHANGE[word_of(change)] != fact["kind"]:
        return False
    return all(chosen(change.get("when", {}), state) for state in states_covered(fact))


def links(change: Change, groups: Groups) -> bool:
    """Whether its two anchors are in two groups of a fact."""
    a, b = ends_of(change)
    return any(a in group for group in groups) and any(
        b in group and a not in group for group in groups
    )


def all_linked(groups: Groups, changes: Sequence[Change]) -> bool:
    """Whether declarations link all groups of a fact."""
    members = frozenset().union(*groups)
    ends = [ends_of(change) for change in changes if links(change, groups)]
    return len(components(members, [*groups, *ends])) == 1


def ways_through(
    original: View, other: View, added: Sequence[str], fact: Mapping[str, Any]
) -> list[frozenset[str]]:
    """Per way between the two groups of an ``inserted`` fact, the added parts on it.

    Ways are told apart by the parts they take, over nets tied by contacts (and
    by the original's nets, where they do not lie between the fact's own groups).
    """
    closed = closed_in(other.circuit, fact["state"])
    groups = as_groups(fact["groups"])
    within_one_net = any(frozenset().union(*groups) <= net for net in original.anchored_nets())
    whole = () if within_one_net else (other.nets_of(net) for net in original.anchored_nets())
    tied = other.circuit.joined(closed, frozenset(whole))
    node_of = {net: node for node, nets in enumerate(tied) for net in nets}
    graph: nx.MultiGraph[int] = nx.MultiGraph()
    graph.add_nodes_from(range(len(tied)))
    for name in added:
        for group in other.circuit.dc_links([name]):
            for a, b in itertools.combinations(sorted({node_of[net] for net in group}), 2):
                graph.add_edge(a, b, key=name)
    start, end = ({node_of[net] for net in other.nets_of(group)} for group in groups)
    ways: list[frozenset[str]] = []
    for a, b in itertools.product(start, end):
        every: Iterable[Any] = nx.all_simple_edge_paths(graph, a, b)
        for way in every:
            ways.append(frozenset(edge[-1] for edge in way))
    return ways


def declares_parts(
    original: View,
    other: View,
    added: Sequence[str],
    fact: Mapping[str, Any],
    changes: Sequence[Change],
) -> bool | None:
    """Whether the parts of an ``inserted`` fact are among those declared.

    None where it depends on which way is shown, or on whether each declaration
    must hold all those parts or their declarations together.
    """
    declared = [parts_of(change) for change in changes]
    ways = [frozenset(added)]
    if len(fact["groups"]) == 2:
        ways = ways_through(original, other, added, fact)
    answers = {way <= parts for way in ways for parts in [*declared, set().union(*declared)]}
    if len(fact["groups"]) > 2 and False in answers:
        return None
    return answers.pop() if len(answers) == 1 else None


def meant(
    original: View,
    other: View,
    added: Sequence[str],
    fact: Mapping[str, Any],
    changes: Sequence[Change],
) -> bool | None:
    """Whether declared changes cover a fact and link all its groups."""
    groups = as_groups(fact["groups"])
    covering = [change for change in changes if covers(change, fact)]
    linking = [change for change in covering if links(change, groups)]
    if not all_linked(groups, linking):
        return False
    if fact["kind"] != "inserted":
        return True
    return declares_parts(original, other, added, fact, linking)


def occurs(
    original: View,
    other: View,
    added: Sequence[str],
    found: Mapping[str, Sequence[Any]],
    change: Change,
) -> bool | None:
    """Whether a declared change occurs in any state or step."""
    word = word_of(change)
    if word in ("remove", "reverse"):
        return change[word] in found[KIND_OF_CHANGE[word]]
    facts = [
        fact
        for fact in [*found["rest"], *found["steps"]]
        if covers(change, fact) and links(change, as_groups(fact["groups"]))
    ]
    if word != "insert":
        return bool(facts)
    answers = {declares_parts(original, other, added, fact, [change]) for fact in facts}
    if True in answers:
        return True
    return None if None in answers else False
