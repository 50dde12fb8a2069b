"""What `rewire check` must find, by brute force.

Where the text leaves room, this is how it is read here:

* Turned parts are parts of the original (those that stay in the equipment
  included) with two terminals that both have a role, whoever plays them; facts
  are counted over full states, ``linked`` among them. The original's kind says
  whether it is silent; a capacitor is not if it is polarised in either wiring.
* Points of ``interrupted`` and ``stray`` are the spec's points alone.
* A switch is *the same in both* by what its form comes to: control, lugs, and per
  section that ever closes its contacts in each position and its timing. A plain form
  and a table may so be the same.
* Each of the two ways to take same switches is gone through as a whole: the gaps
  that count for ``interrupted`` are those of that way, and bridges likewise.
* A section that passes over throws stands at each of them as well, and has the
  moments before and after each, beside the moment between its old and new contacts.
  What it passes *touches* the move. A knob that goes round passes what lies beyond
  the ends. A throw is passed from a throw to a throw alone, never to or from open.
* A step is covered by ``when`` if both its ends are.
* A rule found in a step holds at both ends; where an end breaks it, the state says so
  already. A rule with ``when`` is applied to steps with both ends in it.
* A part that is missing and declared as removed is a finding that is meant.
* ``link`` names its parts as ``insert`` does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from tests.reference.altered import altered_parts
from tests.reference.circuit import Contacts, can_occur, states_of, steps_of
from tests.reference.meant import meant, occurs
from tests.reference.rest import closed_in, rest_facts, reversed_parts, turn_parts
from tests.reference.rules import rules_broken, rules_broken_on_the_way
from tests.reference.switching import combinations, step_facts, taken_as
from tests.reference.view import Groups, View, added_parts, missing_parts, views

Spec = Mapping[str, Any]
Fact = dict[str, Any]


def written(groups: Groups) -> list[list[str]]:
    """Groups as the program writes them: sorted by code point."""
    return sorted(sorted(group) for group in groups)


def moves_of(spec: Spec) -> Iterator[tuple[str, dict[str, str], str]]:
    """Every step: the control, the state before, and the position after."""
    for control in spec["controls"]:
        for before, after in steps_of(spec, control):
            for state in states_of(spec):
                if state[control] == before and can_occur(spec, {**state, control: after}):
                    yield control, state, after


def written_step(control: str, state: Mapping[str, str], after: str) -> Fact:
    """A step as the conformance cases write it."""
    others = {name: position for name, position in state.items() if name != control}
    return {"control": control, "from": state[control], "to": after, "others": others}


def compared(spec: Spec, wiring: str) -> tuple[View, View, list[str]]:
    """Both wirings as they are compared, and the parts found reversed."""
    original, other = views(spec, wiring)
    added = added_parts(other)
    other, exchanged = turn_parts(original, other, states_of(spec), added)
    return original, other, reversed_parts(original, other, exchanged)


def by_rest(spec: Spec, original: View, other: View) -> Iterable[Fact]:
    """Facts at rest, every full state named."""
    added = added_parts(other)
    for state in states_of(spec):
        for kind, groups in rest_facts(original, other, state, added):
            yield {"kind": kind, "groups": written(groups), "state": state}


def by_step(spec: Spec, original: View, other: View) -> Iterable[Fact]:
    """Facts while switching, every full step named."""
    points = list(spec.get("points", {}))
    for step in moves_of(spec):
        for (kind, groups), in_step in step_facts(original, other, points, step).items():
            told = {"kind": kind, "groups": written(groups), **written_step(*step)}
            yield {**told, "in_step": in_step}


def found_between(spec: Spec, original: View, other: View, turned: list[str]) -> dict[str, Any]:
    """Everything found between two views of a spec."""
    return {
        "rest": sorted(by_rest(spec, original, other), key=str),
        "steps": sorted(by_step(spec, original, other), key=str),
        "missing": missing_parts(original),
        "added": added_parts(other),
        "reversed": turned,
    }


def facts(spec: Spec, wiring: str = "substitute") -> dict[str, list[Any]]:
    """Everything found, in the form of ``expect`` in the conformance cases."""
    return found_between(spec, *compared(spec, wiring))


def ways_of(view: View, step: tuple[str, dict[str, str], str]) -> dict[str, list[Contacts]]:
    """Combinations of a wiring in a step, per way that unknown timing is taken."""
    return {
        taken: combinations(view.circuit, step, taken_as(taken, taken, set()), "on its own")
        for taken in ("shorting", "non-shorting")
    }


def rules_found(spec: Spec, view: View) -> Iterator[Fact]:
    """Rules that a wiring breaks, in states and on the way between two."""
    rules = spec.get("rules", [])
    for state in states_of(spec):
        for index in rules_broken(rules, view, state, closed_in(view.circuit, state)):
            yield {"kind": "rule", "rule": index, "state": state}
    for step in moves_of(spec) if rules else ():
        control, before, after = step
        ends = [
            (state, closed_in(view.circuit, state))
            for state in (before, {**before, control: after})
        ]
        for index in rules_broken_on_the_way(rules, view, ends, ways_of(view, step)):
            yield {"kind": "rule", "rule": index, **written_step(*step)}


@dataclass(frozen=True)
class Judgement:
    """All facts, and what is to be thought of them."""

    found: dict[str, list[Any]]
    rules: list[Fact]
    meant: list[tuple[Fact, bool | None]]
    """Every fact at rest or in a step; None where the text leaves a choice."""
    undone: dict[int, bool | None]
    """Per declared change whether it occurs in no state."""
    unmeant_parts: list[str]
    """Parts missing or reversed that no change declares."""
    altered: dict[str, bool | None]
    """Parts of the original that differ in value, and whether that is to be read first; None
    where the text leaves that open."""

    @property
    def verdict(self) -> str | None:
        """Kept, changed or broken; None where the text leaves a choice."""
        answers = [answer for _, answer in self.meant]
        answers += [None if never is None else not never for never in self.undone.values()]
        if self.rules or self.unmeant_parts or False in answers:
            return "broken"
        if None in answers:
            return None
        parts = [*self.found["added"], *self.found["missing"], *self.found["reversed"]]
        return "changed" if self.meant or parts else "kept"


def undeclared(found: Mapping[str, list[Any]], changes: list[Mapping[str, Any]]) -> list[str]:
    """Parts missing or reversed without a declaration."""
    removed = [change["remove"] for change in changes if "remove" in change]
    turned = [change["reverse"] for change in changes if "reverse" in change]
    return [part for part in found["missing"] if part not in removed] + [
        part for part in found["reversed"] if part not in turned
    ]


def judge(spec: Spec, wiring: str = "substitute") -> Judgement:
    """Facts, rules and declared changes of one wiring."""
    original, other, turned = compared(spec, wiring)
    found = found_between(spec, original, other, turned)
    changes = spec["wirings"][wiring].get("changes", [])
    added = found["added"]
    answers = [
        (fact, meant(original, other, added, fact, changes))
        for fact in [*found["rest"], *found["steps"]]
    ]
    undone: dict[int, bool | None] = {}
    for index, change in enumerate(changes):
        happens = occurs(original, other, added, found, change, changes)
        undone[index] = None if happens is None else not happens
    rules = list(rules_found(spec, other))
    return Judgement(
        found, rules, answers, undone, undeclared(found, changes), altered_parts(spec, wiring)
    )


def verdict(spec: Spec, wiring: str = "substitute") -> str | None:
    """Kept, changed or broken; None where the text leaves a choice of way."""
    return judge(spec, wiring).verdict
