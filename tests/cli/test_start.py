"""What is imported on the way: `rewire --help` is light, `rewire check` knows no numerics."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

FLAGSHIP = Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml"

REPORT = """
import sys
from rewire.cli import rewire
try:
    rewire({args!r}, prog_name="rewire")
except SystemExit as end:
    status = end.code
roots = {{name.split(".")[0] for name in sys.modules}}
print(status, *sorted(roots), file=sys.stderr)
"""


def imported_by(*args: str) -> tuple[int, set[str]]:
    """The exit status of a command, and the packages its process has imported."""
    program = REPORT.format(args=list(args))
    ended = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    status, *roots = ended.stderr.splitlines()[-1].split()
    return int(status), set(roots)


@pytest.mark.parametrize("args", [["--help"], ["--version"], ["check", "--help"]])
def test_help_imports_no_layer_and_no_heavy_library(args: list[str]) -> None:
    status, roots = imported_by(*args)
    assert status == 0
    assert "click" in roots
    assert not roots & {"networkx", "rich", "yaml", "numpy", "matplotlib"}


NO_OHMS = """
rewire: 1
title: no rule of this set asks for ohms
controls: {MODE: [IDLE, RUN]}
points: {FEED: {}, COIL: {}}
rules: [{connect: [FEED, COIL], when: {MODE: RUN}, while_switching: yes}]
wirings:
  original: &same
    parts: {S1: {switch: SPDT, control: MODE}, K1: {resistor: 600 ohm, between: [COIL, FEED]}}
    wires: [[FEED, S1.A], [S1.A2, COIL]]
  planned: *same
"""


def test_one_spec_needs_no_second_process(tmp_path: Path) -> None:
    path = tmp_path / "spec.yaml"
    path.write_text(NO_OHMS, encoding="utf-8")
    assert "multiprocessing" not in imported_by("check", str(path))[1]
    assert "multiprocessing" in imported_by("check", "--jobs", "2", str(path), str(path))[1]


def test_check_imports_no_numerics_and_no_drawing(tmp_path: Path) -> None:
    path = tmp_path / "spec.yaml"
    path.write_text(NO_OHMS, encoding="utf-8")
    status, roots = imported_by("check", str(path))
    assert status == 0
    assert "yaml" in roots
    assert not roots & {"pydantic", "numpy", "scipy", "matplotlib", "schemdraw"}


def test_a_rule_in_ohms_opens_the_solver_and_still_no_drawing() -> None:
    status, roots = imported_by("check", str(FLAGSHIP))
    assert status == 0
    assert not roots & {"scipy", "matplotlib", "schemdraw"}
