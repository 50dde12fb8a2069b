"""The shipped specs and their lists of moves, each made once for all tests that look at it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from rewire.bench.moves import moves_of
from rewire.bench.work_list import Moves
from rewire.reading import read_spec
from rewire.records.spec import Spec

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))


@cache
def shipped(path: Path) -> Spec:
    """A shipped spec."""
    return read_spec(str(path))


@cache
def shipped_moves(path: Path, source: str, target: str) -> Moves:
    """The work from one of its wirings to another."""
    return moves_of(shipped(path), source, target)
