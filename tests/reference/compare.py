"""The program's answer and the reference's, as sets of facts that can be compared.

A fact is a tuple: ``("rest", kind, None, groups, state)``, ``("step", kind, in_step,
groups, control, ends, others)``, ``("missing", part)``, ``("added", part)``,
``("reversed", part)``, ``("altered", part)``, ``("rule", index, state)``,
``("rule", index, control, ends, others)`` and ``("undone", index)``. States are full; a step
has no direction.

Run as a script to try many random specs: ``python -m tests.reference.compare 1000``.
"""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from rewire.compare import compare
from rewire.compare.findings import Finding, Result, State
from rewire.reading import read_text
from tests.reference.circuit import can_occur, states_of, steps_of
from tests.reference.oracle import Judgement, judge, moves_of
from tests.reference.strategies import random_spec

Fact = tuple[Any, ...]

AT_REST = ("dropped", "inserted", "joined", "linked")
SWITCHING = ("gap", "bridge", "interrupted", "stray")
BY_PART = ("missing", "added", "reversed", "altered")


def frozen_state(state: Mapping[str, str]) -> frozenset[tuple[str, str]]:
    """A state that can be a member of a set."""
    return frozenset(state.items())


def frozen_step(control: str, ends: tuple[str, str], others: Mapping[str, str]) -> Fact:
    """A step without direction."""
    return control, frozenset(ends), frozen_state(others)


def frozen_groups(groups: Any) -> frozenset[frozenset[str]]:
    """Groups without order."""
    return frozenset(frozenset(group) for group in groups)


def fits(partial: Mapping[str, str], state: Mapping[str, str]) -> bool:
    """Whether a full state is one of those that a partial one stands for."""
    return all(state[control] == position for control, position in partial.items())


def full_states(spec: Mapping[str, Any], partial: Mapping[str, str]) -> list[dict[str, str]]:
    """All states that can occur for which a partial one stands."""
    return [state for state in states_of(spec) if fits(partial, state)]


def full_steps(
    spec: Mapping[str, Any], before: Mapping[str, str], after: Mapping[str, str]
) -> Iterator[Fact]:
    """All steps that can occur for which a partial one stands."""
    moved = [control for control in before if before[control] != after[control]]
    assert len(moved) == 1, f"one control moves in a step: {before} {after}"
    assert set(before) == set(after), f"a step names the same controls twice: {before} {after}"
    control = moved[0]
    ends = before[control], after[control]
    assert ends in steps_of(spec, control), f"no single move, or later in travel: {before} {after}"
    for state in full_states(spec, before):
        if can_occur(spec, {**state, control: ends[1]}):
            others = {name: at for name, at in state.items() if name != control}
            yield frozen_step(control, ends, others)


def where(spec: Mapping[str, Any], finding: Finding) -> Iterator[Fact]:
    """Every full state or step of a finding."""

    def plain(state: State) -> dict[str, str]:
        return state.as_dict()

    for state in finding.states:
        for full in full_states(spec, plain(state)):
            yield (frozen_state(full),)
    for step in finding.steps:
        yield from full_steps(spec, plain(step.before), plain(step.after))


def facts_of(spec: Mapping[str, Any], finding: Finding) -> Iterator[Fact]:
    """The facts that one finding tells."""
    kind = finding.kind
    if kind in BY_PART:
        yield kind, finding.part
    if kind == "undone":
        yield kind, finding.change
    if kind == "rule":
        yield from ((kind, finding.rule, *place) for place in where(spec, finding))
    if kind in AT_REST + SWITCHING:
        head = "rest" if kind in AT_REST else "step", kind, finding.in_step
        groups = frozen_groups(finding.groups)
        yield from ((*head, groups, *place) for place in where(spec, finding))


def expand(spec: Mapping[str, Any], result: Result) -> set[Fact]:
    """All facts of the program's result, every state and step full."""
    return {fact for finding in result.findings for fact in facts_of(spec, finding)}


def expand_meant(spec: Mapping[str, Any], result: Result) -> set[Fact]:
    """Those at rest or in a step that the program says are meant."""
    return {
        fact
        for finding in result.findings
        if finding.meant and finding.kind in AT_REST + SWITCHING
        for fact in facts_of(spec, finding)
    }


def told_twice(spec: Mapping[str, Any], result: Result) -> list[Fact]:
    """Facts that more than one finding, or more than one of its states, tells."""
    every = [fact for finding in result.findings for fact in facts_of(spec, finding)]
    return [fact for fact in set(every) if every.count(fact) > 1]


def frozen(fact: Mapping[str, Any]) -> Fact:
    """A fact of the reference in the form compared here."""
    if "state" in fact:
        place: Fact = (frozen_state(fact["state"]),)
    else:
        place = frozen_step(fact["control"], (fact["from"], fact["to"]), fact["others"])
    if fact["kind"] == "rule":
        return "rule", fact["rule"], *place
    head = "rest" if "state" in fact else "step"
    return head, fact["kind"], fact.get("in_step"), frozen_groups(fact["groups"]), *place


def expected(judged: Judgement) -> set[Fact]:
    """All facts of the reference, undone changes where the text leaves no choice."""
    found = judged.found
    facts = {frozen(fact) for fact in [*found["rest"], *found["steps"], *judged.rules]}
    parts = {**found, "altered": list(judged.altered)}
    facts |= {(kind, part) for kind in BY_PART for part in parts[kind]}
    return facts | {("undone", index) for index, never in judged.undone.items() if never}


def open_to_choice(judged: Judgement) -> set[Fact]:
    """Undone changes about which two right answers are possible."""
    return {("undone", index) for index, never in judged.undone.items() if never is None}


def told_again(spec: Mapping[str, Any], judged: Judgement) -> set[Fact]:
    """Steps at whose ends a rule is broken at rest: to tell them as well is no mistake."""
    broken = {
        (rule["rule"], frozen_state(rule["state"])) for rule in judged.rules if "state" in rule
    }
    again: set[Fact] = set()
    for control, before, after in moves_of(spec):
        ends = [frozen_state(before), frozen_state({**before, control: after})]
        others = {name: at for name, at in before.items() if name != control}
        for index in {index for index, end in broken if end in ends}:
            again.add(("rule", index, *frozen_step(control, (before[control], after), others)))
    return again


@dataclass(frozen=True)
class Disagreement:
    """Where the program and the reference part."""

    what: str
    program: Any
    reference: Any

    def __str__(self) -> str:
        return f"{self.what}\n  program:   {self.program}\n  reference: {self.reference}"


def run_program(spec: Mapping[str, Any], wiring: str = "substitute") -> Result:
    """The program's answer on a plain mapping, read as the file it would be (JSON is YAML)."""
    read = read_text(json.dumps(spec).encode())
    return next(result for result in compare(read) if result.wiring == wiring)


def compared(spec: Mapping[str, Any], result: Result, judged: Judgement) -> Iterator[Disagreement]:
    """Every way in which a result and the reference differ."""
    program, reference = expand(spec, result), expected(judged)
    ignored = open_to_choice(judged) | told_again(spec, judged)
    only_program, only_reference = program - reference - ignored, reference - program
    if only_program or only_reference:
        yield Disagreement("facts", shown(only_program), shown(only_reference))
    twice = told_twice(spec, result)
    if twice:
        yield Disagreement("told twice", shown(set(twice)), "once")
    said = expand_meant(spec, result)
    for fact, answer in judged.meant:
        here = frozen(fact)
        if answer is not None and here in program and (here in said) != answer:
            yield Disagreement(f"meant: {fact}", here in said, answer)
    for finding in result.findings:
        first = judged.altered.get(finding.part or "")
        if finding.kind == "altered" and first not in (None, finding.first):
            yield Disagreement(f"altered first: {finding.part}", finding.first, first)
    if judged.verdict is not None and judged.verdict != result.verdict:
        yield Disagreement("verdict", result.verdict, judged.verdict)
    if result.states != len(states_of(spec)):
        yield Disagreement("states", result.states, len(states_of(spec)))


def shown(facts: set[Fact]) -> list[str]:
    """Facts as text, in a steady order."""
    return sorted(str(plain(fact)) for fact in facts)


def plain(value: Any) -> Any:
    """Sets as sorted lists, for reading."""
    if isinstance(value, frozenset):
        return sorted((plain(member) for member in value), key=str)
    return tuple(plain(member) for member in value) if isinstance(value, tuple) else value


def disagreements(spec: Mapping[str, Any], wiring: str = "substitute") -> list[Disagreement]:
    """Run both on one spec; empty where they agree."""
    return list(compared(spec, run_program(spec, wiring), judge(spec, wiring)))


def main(count: int, first: int = 0, size: int = 1) -> int:
    """Try many random specs; print each that the two disagree on, with its seed."""
    wrong = 0
    for seed in range(first, first + count):
        spec = random_spec(random.Random(seed), size)
        found = disagreements(spec)
        if found:
            wrong += 1
            sys.stdout.write(f"seed {seed} size {size}: " + "\n".join(map(str, found)) + "\n")
    sys.stdout.write(f"{count} specs, {wrong} with disagreements\n")
    return wrong


if __name__ == "__main__":
    raise SystemExit(main(*map(int, sys.argv[1:])) > 0)
