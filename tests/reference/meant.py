"""Declared changes: which facts are meant, which declarations never occur.

Three answers are possible: True, False, and None where the text leaves a choice: where
the parts that an ``insert`` or a ``link`` names are only some of those that link.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from tests.reference.circuit import components
from tests.reference.rest import State, closed_in
from tests.reference.rules import chosen
from tests.reference.view import Groups, View

Change = Mapping[str, Any]

KIND_OF_CHANGE = {
    "insert": "inserted",
    "link": "linked",
    "drop": "dropped",
    "join": "joined",
    "gap": "gap",
    "bridge": "bridge",
    "interrupt": "interrupted",
    "stray": "stray",
    "remove": "missing",
    "reverse": "reversed",
}

WITH_PARTS = ("insert", "link")


def word_of(change: Change) -> str:
    """The key that names what a declaration declares."""
    return next(word for word in KIND_OF_CHANGE if word in change)


def ends_of(change: Change) -> list[str]:
    """The two anchors a declaration names."""
    word = word_of(change)
    return list(change["between"] if word in WITH_PARTS else change[word])


def parts_of(change: Change) -> set[str]:
    """The parts an ``insert`` or a ``link`` declares."""
    told = change[word_of(change)]
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


def linked_by(
    original: View, other: View, parts: Iterable[str], fact: Mapping[str, Any]
) -> list[frozenset[str]]:
    """Anchors that some added parts alone gather, in the way a fact is about.

    Between two nets of the original they do so on top of the original's nets.
    """
    closed = closed_in(other.circuit, fact["state"])
    groups = as_groups(fact["groups"])
    within_one_net = any(frozenset().union(*groups) <= net for net in original.anchored_nets())
    more = other.circuit.dc_links(parts)
    if fact["kind"] == "inserted" and not within_one_net:
        more |= {other.nets_of(net) for net in original.anchored_nets()}
    return other.gathered(closed, more)


def some_linked(gathered: Iterable[frozenset[str]], groups: Groups) -> bool:
    """Whether any two groups of a fact are linked."""
    return any(sum(bool(group & members) for group in groups) > 1 for members in gathered)


def every_linked(gathered: Iterable[frozenset[str]], groups: Groups) -> bool:
    """Whether all groups of a fact are linked."""
    return any(all(group & members for group in groups) for members in gathered)


def meant(
    original: View,
    other: View,
    added: Sequence[str],
    fact: Mapping[str, Any],
    changes: Sequence[Change],
) -> bool | None:
    """Whether declared changes cover a fact, link all its groups, and name the parts that do.

    None where they name too few of several in series.
    """
    groups = as_groups(fact["groups"])
    covering = [change for change in changes if covers(change, fact)]
    linking = [change for change in covering if links(change, groups)]
    if not all_linked(groups, linking):
        return False
    if fact["kind"] not in ("inserted", "linked"):
        return True
    declared = set(added) & set().union(*map(parts_of, linking))
    if some_linked(linked_by(original, other, set(added) - declared, fact), groups):
        return False
    return every_linked(linked_by(original, other, declared, fact), groups) or None


def occurs(
    original: View,
    other: View,
    added: Sequence[str],
    found: Mapping[str, Sequence[Any]],
    change: Change,
    changes: Sequence[Change],
) -> bool | None:
    """Whether a declared change occurs in any state or step.

    One that names parts does where the link is gone without them, or where it links alone and
    all that is declared covers the fact.
    """
    word = word_of(change)
    if word in ("remove", "reverse"):
        return change[word] in found[KIND_OF_CHANGE[word]]
    facts = [
        fact
        for fact in [*found["rest"], *found["steps"]]
        if covers(change, fact) and links(change, as_groups(fact["groups"]))
    ]
    if word not in WITH_PARTS or not facts:
        return bool(facts)
    named = parts_of(change) & set(added)
    for fact in facts:
        groups = as_groups(fact["groups"])
        without = linked_by(original, other, set(added) - named, fact)
        alone = linked_by(original, other, named, fact)
        if not some_linked(without, groups):
            return True
        if some_linked(alone, groups) and meant(original, other, added, fact, changes):
            return True
    return None
