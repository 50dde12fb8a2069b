"""What ``rewire buzz --found`` says of a dirty contact, another value and a mere beep."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from rewire.cli import rewire

SPEC = """
rewire: 1
title: one knob, one shunt
controls: {K: [P, Q]}
points: {X: {chassis: yes}, Y: {volts: 5 V}}
wirings:
  original: &wiring
    parts:
      S1: {switch: SPDT, control: K, timing: non-shorting}
      M1: {meter: 1 mA, resistance: 100 ohm}
      R1: {resistor: 10 ohm, tolerance: 1 %}
    wires: [[S1.A, X], [S1.A1, Y], [S1.A2, R1.1], [R1.2, M1.+], [M1.-, Y]]
  new: *wiring
"""


@pytest.mark.parametrize(
    ("line", "status", "fault"),
    [
        ("{when: {K: P}, between: [S1.A, S1.A1], found: open}", 1, "contact S1.A–S1.A1 does not"),
        ("{when: {K: Q}, between: [S1.A, S1.A1], found: closed}", 1, "does not open"),
        ("{when: {K: P}, between: [R1.1, R1.2], found: 10 kohm}", 1, "R1 has 10 kΩ and not 10 Ω"),
        ("{when: {K: P}, between: [R1.1, R1.2], found: 3.3 ohm}", 1, "R1 has 3.3 Ω and not 10 Ω"),
        ("{when: {K: P}, between: [R1.1, R1.2], found: 10 ohm}", 0, ""),
    ],
)
def test_the_first_three_suspects_hold_the_fault(
    line: str, status: int, fault: str, tmp_path: Path
) -> None:
    result = buzz(tmp_path, line)
    assert result["status"] == status
    suspects = result.get("suspects", [])[:3]
    told = [one for s in suspects for one in (s["fault"], *(s.get("alike") or []))]
    assert any(fault in str(one) for one in told) or not fault
    assert all(suspect["explains"] for suspect in suspects)


def test_a_beep_where_ten_ohms_must_be_read_is_not_good(tmp_path: Path) -> None:
    result = buzz(tmp_path, "{when: {K: P}, between: [R1.1, R1.2], found: closed}")
    assert (result["verdict"], result["status"]) == ("not settled", 3)


def buzz(folder: Path, line: str) -> dict:
    (folder / "spec.yaml").write_text(SPEC)
    (folder / "log.yaml").write_text(f"rewire_bench: 1\nwiring: new\ncontinuity:\n  - {line}\n")
    words = ["buzz", str(folder / "spec.yaml"), "--found", str(folder / "log.yaml"), "--json"]
    done = CliRunner().invoke(rewire, words)
    (answer,) = json.loads(done.stdout)["results"]
    return {**answer, "status": done.exit_code}
