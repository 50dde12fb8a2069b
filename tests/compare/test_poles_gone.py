"""What is said of a pole that is missing: only where no switch has it that took over."""

from __future__ import annotations

import pytest

from rewire.compare import compare
from rewire.reading import read_text


def now(reference: str, form: str) -> str:
    """What a finding says of pole B, whose throw is left unwired, on another switch."""
    spec = f"""
rewire: 1
title: pole
controls: {{K: [P, Q]}}
points: {{X: {{}}, Y: {{}}}}
wirings:
  original:
    parts: {{S1: {{switch: DPDT, control: K, timing: non-shorting}}}}
    wires: [[S1.B, X], [S1.B1, Y]]
  other:
    parts: {{{reference}: {{switch: {form}, control: K, timing: non-shorting}}}}
    wires: [[{reference}.A, X]]
"""
    findings = compare(read_text(spec.encode()))[0].findings
    return next(one.now or "" for one in findings if one.kind == "dropped")


@pytest.mark.parametrize("reference", ["S1", "S2"])
def test_a_pole_that_no_switch_has_is_named(reference: str) -> None:
    assert "other has no pole B of S1" in now(reference, "SPDT")


@pytest.mark.parametrize("reference", ["S1", "S2"])
@pytest.mark.parametrize("form", ["DPDT", "3PDT"])
def test_a_pole_that_is_there_is_not_called_missing(reference: str, form: str) -> None:
    assert "has no" not in now(reference, form)
