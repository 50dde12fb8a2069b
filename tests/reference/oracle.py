"""What `rewire check` must find, by brute force."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from tests.reference.circuit import can_occur, states_of, steps_of
from tests.reference.rest import rest_facts, reversed_parts, turn_parts
from tests.reference.switching import step_facts
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
    return original, other, reversed_parts(original, exchanged)


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
        for kind, groups in step_facts(original, other, points, step):
            yield {"kind": kind, "groups": written(groups), **written_step(*step)}


def facts(spec: Spec, wiring: str = "substitute") -> dict[str, list[Any]]:
    """Everything found, in the form of ``expect`` in the conformance cases."""
    original, other, turned = compared(spec, wiring)
    return {
        "rest": list(by_rest(spec, original, other)),
        "steps": list(by_step(spec, original, other)),
        "missing": missing_parts(original),
        "added": added_parts(other),
        "reversed": turned,
    }
