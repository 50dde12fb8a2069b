"""Specs made by others read: every conformance case, and every shipped spec."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml

from rewire.reading import read_spec
from rewire.records.spec import Spec
from tests.reading.builders import read

HERE = Path(__file__).parents[1]
CASES = json.loads((HERE / "conformance" / "cases.json").read_text(encoding="utf-8"))
SPECS = sorted((HERE.parent / "specs").glob("*.yaml"))


def check_counts(spec: Spec, tree: Any) -> None:
    """Nothing is lost between the text and the model."""
    assert set(spec.points) == set(tree["points"])
    assert set(spec.parts) == set(tree.get("parts") or {})
    assert set(spec.wirings) == set(tree["wirings"])
    assert next(iter(spec.wirings)) == "original"
    for name, typed in tree["wirings"].items():
        wiring = spec.wirings[name]
        assert set(wiring.parts) == set(typed.get("parts") or {})
        assert len(wiring.nets) == len(typed.get("nets") or [])
        assert len(wiring.changes) == len(typed.get("changes") or [])
        ends = [tuple(wire[:2]) for wire in typed.get("wires") or [] if isinstance(wire, list)]
        assert [w.ends for w in wiring.wires if w.ends in ends] == ends or len(ends) < len(
            wiring.wires
        )
        assert len({wire.id for wire in wiring.wires}) == len(typed.get("wires") or [])


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["name"]))
def test_a_conformance_case_reads_whole(case: dict[str, Any]) -> None:
    check_counts(read(case["spec"]), case["spec"])


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.name)
def test_a_shipped_spec_reads_whole_and_without_a_notice(path: Path) -> None:
    spec = read_spec(path)
    assert spec.notices == ()
    check_counts(spec, yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader))
