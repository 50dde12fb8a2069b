"""The program agrees with the reference on hundreds of random specs, fact by fact."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from tests.reference.circuit import states_of
from tests.reference.compare import (
    AT_REST,
    SWITCHING,
    Fact,
    disagreements,
    expand,
    frozen,
    run_program,
    shown,
)
from tests.reference.strategies import random_spec, specs

CASES = json.loads(
    (Path(__file__).parent.parent / "conformance" / "cases.json").read_text(encoding="utf-8")
)
CHUNK = 40


def explained(spec: dict[str, Any]) -> str:
    """Every disagreement in words, with the spec it is about."""
    found = disagreements(spec)
    return "\n".join(map(str, found)) + f"\n{json.dumps(spec)}" if found else ""


@pytest.mark.parametrize("chunk", range(6))
def test_random_specs(chunk: int) -> None:
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        spec = random_spec(random.Random(seed), size=seed % 3)
        assert not explained(spec), f"seed {seed}, size {seed % 3}"


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(specs(size=1))
def test_specs_that_hypothesis_finds(spec: dict[str, Any]) -> None:
    assert not explained(spec)


def in_short(fact: Fact) -> Fact:
    """A fact as the cases tell it: not whether it is found in step."""
    return (*fact[:2], *fact[3:]) if fact[0] in ("rest", "step") else fact


@pytest.mark.parametrize("case", CASES, ids=[f"{n}-{case['name']}" for n, case in enumerate(CASES)])
def test_conformance(case: dict[str, Any]) -> None:
    """The cases as they stand, without the reference in between."""
    result = run_program(case["spec"])
    facts = {in_short(f) for f in expand(case["spec"], result) if f[0] != "altered"}
    expect = case["expect"]
    expected = {in_short(frozen(fact)) for fact in [*expect["rest"], *expect["steps"]]}
    expected |= {(kind, part) for kind in ("missing", "added", "reversed") for part in expect[kind]}
    assert shown(facts) == shown(expected)
    assert result.states == len(states_of(case["spec"]))


def test_groups_and_their_members_are_sorted() -> None:
    for seed in range(12):
        for finding in run_program(random_spec(random.Random(seed), size=1)).findings:
            assert finding.groups == tuple(sorted(tuple(sorted(g)) for g in finding.groups))
            if finding.kind in AT_REST:
                assert finding.states
                assert not finding.steps
            if finding.kind in SWITCHING:
                assert finding.steps
                assert not finding.states
