"""Each shipped spec is whole: a verdict is promised on every wiring, nothing is left out."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rewire.compare import compare
from rewire.reading import read_spec

FILES = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
PROMISE = re.compile(r"^#   ([\w-]+) {2,}(BROKEN|KEPT|CHANGED)\b", re.M)
each = pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)


def test_there_are_ten() -> None:
    assert len(FILES) >= 10


@each
def test_the_first_lines_promise_the_verdict_of_every_wiring(path: Path) -> None:
    head = path.read_text("utf-8").partition("\nrewire: 1\n")[0]
    promised = {name: word.lower() for name, word in PROMISE.findall(head)}
    spec = read_spec(path)
    assert promised == {result.wiring: result.verdict for result in compare(spec)}
    assert set(promised.values()) - {"broken"}, "no wiring that works"


@each
def test_it_has_what_a_sheet_needs(path: Path) -> None:
    spec = read_spec(path)
    assert spec.readings
    assert spec.rules
    assert all(getattr(spec.document, key) for key in ("author", "date", "revision", "licence"))
    assert spec.cautions
    assert spec.equipment
    assert spec.summary
    assert any(point.chassis for point in spec.points.values())
    changes = [change for wiring in spec.wirings.values() for change in wiring.changes]
    assert all(change.why for change in changes)
