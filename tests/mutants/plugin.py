"""For mutation runs alone: what no mutant can change is worked out once, before the forks.

The tests run once, then again in a process of its own for each change. Random specs, the answers
of the reference and specs read from text do not depend on what is changed (reading is not), so they
are kept from that first run; a change then costs the program's own time and no more.
"""

from __future__ import annotations

import copy
import json
import random
import resource
from collections.abc import Callable, Mapping
from typing import Any

import rewire.reading
from rewire.records.spec import Spec
from tests.reference import oracle, strategies

MOST_BYTES = 6 * 2**30
"""Memory a mutant may ask for: a loop that grows without end is ended by it."""


def _kept_specs(draw: Callable[..., dict[str, Any]]) -> Callable[..., dict[str, Any]]:
    known: dict[object, dict[str, Any]] = {}

    def random_spec(rng: random.Random, size: int = 1) -> dict[str, Any]:
        if type(rng) is not random.Random:
            return draw(rng, size)
        key = rng.getstate(), size
        if key not in known:
            known[key] = draw(rng, size)
        return copy.deepcopy(known[key])

    return random_spec


def _kept_answers(answer: Callable[..., Any]) -> Callable[..., Any]:
    known: dict[tuple[str, str], Any] = {}

    def answered(spec: Mapping[str, Any], wiring: str = "substitute") -> Any:
        key = json.dumps(spec), wiring
        if key not in known:
            known[key] = answer(spec, wiring)
        return known[key]

    return answered


def _kept_readings(read: Callable[..., Spec]) -> Callable[..., Spec]:
    known: dict[object, Spec] = {}

    def read_text(text: bytes, *more: Any, **named: Any) -> Spec:
        key = text, more, tuple(sorted(named.items()))
        if key not in known:
            known[key] = read(text, *more, **named)
        return known[key]

    return read_text


def pytest_configure() -> None:
    """As a plugin alone: whoever collects this file for doctests must not be changed by it."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    strategies.random_spec = _kept_specs(strategies.random_spec)
    oracle.judge = _kept_answers(oracle.judge)
    oracle.facts = _kept_answers(oracle.facts)
    oracle.compared = _kept_answers(oracle.compared)
    rewire.reading.read_text = _kept_readings(rewire.reading.read_text)
