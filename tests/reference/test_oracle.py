"""The reference gives what the conformance cases say, as the program does in test_agreement."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.reference.oracle import facts

CASES = json.loads(
    (Path(__file__).parent.parent / "conformance" / "cases.json").read_text(encoding="utf-8")
)


def as_set(found: list[Any]) -> set[str]:
    """Facts as comparable text; a step in either direction is the same step."""
    comparable = set()
    for fact in found:
        if isinstance(fact, dict) and "from" in fact:
            ends = sorted([fact["from"], fact["to"]])
            fact = {**fact, "from": ends[0], "to": ends[1]}
            fact.pop("in_step", None)
        comparable.add(json.dumps(fact, sort_keys=True))
    return comparable


@pytest.mark.parametrize("case", CASES[::4], ids=lambda case: str(case["name"]))
def test_agrees_with_conformance_case(case: dict[str, Any]) -> None:
    found = facts(case["spec"])
    assert set(found) == set(case["expect"])
    for key, expected in case["expect"].items():
        assert as_set(found[key]) == as_set(expected), key
