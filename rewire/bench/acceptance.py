"""Acceptance tests: what was found against what was expected, where words allow it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from math import inf

from rewire.reading.benchlog import Accepted, BenchLog
from rewire.reading.faults import Fault, SpecError
from rewire.records.spec import Acceptance, Spec
from rewire.words import quantity
from rewire.words.quantity import BadQuantity
from rewire.words.wording import shown

_PASSED = frozenset({"pass", "passed", "ok", "good", "yes", "y"})
_FAILED = frozenset({"fail", "failed", "bad", "no", "n"})
_MEASURES = (
    quantity.SIGNED_VOLTS, quantity.AMPS, quantity.WATTS, quantity.OHMS, quantity.FARADS,
    quantity.HENRIES, quantity.METRES,
)  # fmt: skip
_BARE = re.compile(r"\s*([-+]?\d+(?:\.\d+)?)\s*([^\d\s].*)?")
_AT_MOST = re.compile(r"(?:under|below|less than|at most|up to)\s+(.+)", re.IGNORECASE)
_AT_LEAST = re.compile(r"(?:over|above|more than|at least)\s+(.+)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One acceptance test and what came of it; ``passed`` None where words cannot be judged."""

    test: Acceptance
    found: Accepted | None
    passed: bool | None


def outcomes(spec: Spec, log: BenchLog) -> list[Outcome]:
    """Every acceptance test of a spec in its order; those that the log leaves out too."""
    found: dict[str, list[Accepted]] = {}
    for one in log.acceptance:
        found.setdefault(one.test, []).append(one)
    return [outcome for test in spec.acceptance for outcome in _of(test, found.get(test.test, []))]


def _of(test: Acceptance, found: list[Accepted]) -> Iterator[Outcome]:
    if not found:
        yield Outcome(test, None, None)
    for one in found:
        _check_unit(test, one)
        yield Outcome(test, one, judged(test.expect, one.found))


def _check_unit(test: Acceptance, one: Accepted) -> None:
    """See that what was measured can be held against what was expected.

    Raises:
        SpecError: it is a number without its unit, or in another.
    """
    limits, value = _limits(test.expect), _quantity(one.found)
    no_number = one.found.strip().lower() in ("nan", "inf", "-inf")
    if limits is None or (value is None and not no_number):
        return
    if no_number or value is None or value[1] != limits[2]:
        message = f"test {shown(test.test)}: found {shown(one.found)} is not in {limits[2]}"
        hint = f"write the unit: found: 25 {limits[2]}" if limits[2] else "write a number alone"
        raise SpecError([Fault(one.place, message, f"{hint}; {shown(test.expect)} is expected")])


def judged(expect: str, found: str) -> bool | None:
    """Whether a finding is what was expected; None where that is for a person to say.

    Args:
        expect: a range such as ``20 W to 30 W``, a limit such as ``under 1 V``, or text.
        found: a quantity, ``pass`` or ``fail``.

    >>> judged("36 W to 44 W", "40 W"), judged("36 to 44 W", "35 W"), judged("clean", "pass")
    (True, False, True)
    """
    word = found.strip().lower()
    if word in _PASSED or word in _FAILED:
        return word in _PASSED
    limits, value = _limits(expect), _quantity(found)
    if limits is None or value is None or value[1] != limits[2]:
        return None
    return limits[0] <= value[0] <= limits[1]


def _limits(text: str) -> tuple[float, float, str] | None:
    """Least, most and unit of a range or a limit."""
    for pattern, is_most in ((_AT_MOST, True), (_AT_LEAST, False)):
        match = pattern.fullmatch(text.strip())
        if match is not None:
            limit = _quantity(match[1])
            if limit is None:
                return None
            return (-inf, limit[0], limit[1]) if is_most else (limit[0], inf, limit[1])
    low, joined, high = text.partition(" to ")
    ends = [_quantity(low), _quantity(high)]
    if not joined or ends[1] is None:
        return None
    first = ends[0]
    if first is None or first[1] == "":
        first = _quantity(f"{low} {_unit_of(high)}")
    if first is None or first[1] != ends[1][1]:
        return None
    least, most = sorted((first[0], ends[1][0]))
    return least, most, ends[1][1]


def _unit_of(text: str) -> str:
    match = _BARE.fullmatch(text)
    return (match[2] or "").strip() if match else ""


def _quantity(text: str) -> tuple[float, str] | None:
    """A value and its unit; units that are not known here as written, such as Hz."""
    bare = _BARE.fullmatch(text)
    if bare is not None and not bare[2]:
        return float(bare[1]), ""
    for measure in _MEASURES:
        try:
            return quantity.read(text.strip(), measure), measure.unit
        except BadQuantity:
            continue
    if bare is None:
        return None
    return float(bare[1]), bare[2].strip()
