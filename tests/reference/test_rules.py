"""Rules by the dozen on random specs: states and steps that break them, against the reference."""

from __future__ import annotations

import copy
import json
import random
from typing import Any

import pytest

from tests.reference.compare import expand, frozen, run_program, shown, told_again
from tests.reference.oracle import Judgement, rules_found
from tests.reference.strategies import random_rule, random_spec
from tests.reference.view import views

CHUNK = 25


def ruled(seed: int) -> dict[str, Any]:
    """A random spec with ten rules, half of them about ohms where those are known."""
    rng = random.Random(seed)
    spec = copy.deepcopy(random_spec(random.Random(seed), size=seed % 2))
    spec["wirings"]["substitute"].pop("changes", None)
    spec["rules"] = [random_rule(rng, spec) for _ in range(10)]
    return spec


@pytest.mark.parametrize("chunk", range(3))
def test_rules_are_broken_where_the_reference_says(chunk: int) -> None:
    """Every state and every combination of every move, one by one, by networkx."""
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        spec = ruled(seed)
        _, other = views(spec, "substitute")
        judged = Judgement({}, list(rules_found(spec, other)), [], {}, [], {})
        wanted = {frozen(fact) for fact in judged.rules}
        found = {fact for fact in expand(spec, run_program(spec)) if fact[0] == "rule"}
        left = found - told_again(spec, judged)
        assert shown(wanted - found) == shown(left - wanted) == [], (
            f"seed {seed} {json.dumps(spec)}"
        )


def test_the_rules_drawn_here_break_at_rest_and_on_the_way() -> None:
    """Guards the test above: both kinds of rule, with and without ohms, at rest and on the way."""
    seen = set()
    for seed in range(2 * CHUNK):
        spec = ruled(seed)
        for fact in rules_found(spec, views(spec, "substitute")[1]):
            rule = spec["rules"][fact["rule"]]
            limited = "within" in rule or "beyond" in rule
            seen.add(("connect" in rule, limited, "state" in fact))
    assert len(seen) == 8
