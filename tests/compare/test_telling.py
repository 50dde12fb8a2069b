"""Findings as they are told: every one once, under one number; current paths of a move together."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path
from typing import Any

from rewire.compare import compare
from rewire.compare.findings import INFORMATION
from rewire.reading import read_spec
from rewire.report.check import evidence_of_paths, tellings
from tests.reading.builders import read
from tests.reference.strategies import random_spec

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))


def test_every_finding_is_told_once_and_no_number_twice() -> None:
    gathered = 0
    for seed in range(24):
        drawn: dict[str, Any] = random_spec(random.Random(seed), size=seed % 3)
        results = compare(read(drawn), ["substitute", "original"])
        numbers: list[int] = []
        for telling, result in zip(tellings(results), results, strict=True):
            told = [*telling.wrong, *telling.meant, *telling.known]
            found = Counter(id(finding) for one in told for finding in one.findings)
            assert found == Counter(id(finding) for finding in result.findings)
            assert all(not f.meant for one in telling.wrong for f in one.findings)
            assert all(f.meant for one in telling.meant for f in one.findings)
            assert all(one.first.kind in INFORMATION for one in telling.known)
            assert all(one.number is None for one in telling.known)
            numbers += [one.number or 0 for one in told if one.number]
            gathered += sum(len(one.findings) > 1 for one in told)
        assert numbers == list(range(1, len(numbers) + 1))
    assert gathered


def test_paths_reported_together_are_each_named() -> None:
    seen = 0
    for path in SPECS:
        for telling in tellings(compare(read_spec(str(path)))):
            for one in (*telling.wrong, *telling.meant):
                if len(one.alike) < 2 or one.first.kind not in ("interrupted", "stray"):
                    continue
                seen += 1
                paths = [text for label, text in evidence_of_paths(one) if label == "path"]
                assert len(paths) == len(one.alike)
                for finding, text in zip(one.alike, paths, strict=True):
                    (first, *_), (second, *_) = finding.groups
                    assert text.startswith(f"{first} to {second}")
                    assert all(place in text for place in finding.was)
                    others = {c for step in finding.steps for c, _ in step.before.at}
                    moved = {
                        c for s in finding.steps for c, at in s.before.at
                        if s.after.as_dict()[c] != at
                    }  # fmt: skip
                    assert all(name in text for name in others - moved)
    assert seen


def test_what_is_told_as_one_fact_is_one() -> None:
    """A part in one lead in three positions; a shunt that lies across the meter; a broken rule.

    Of the flagship, by hand: its pot is in series with M1.+ wherever the knob stands, R36 hangs on
    both tags of the meter, and rule 1 is broken because the bias return is lost.
    """
    flagship = read_spec(str(SPECS[-1]))
    plan, found = tellings(compare(flagship, ["substitute", "as-found"]))
    assert [one.message for one in plan.meant] == [
        "RV41 now in series with M1.+",
        "BIAS_RETURN to CHASSIS opens for a moment",
    ]
    assert [(one.message, len(one.rules)) for one in found.wrong] == [
        ("BIAS_RETURN and CHASSIS disconnected", 1),
        ("CHASSIS and R36.2 disconnected", 0),
        ("R36 is across M1", 0),
    ]
