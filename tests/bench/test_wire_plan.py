"""The fate of each wire: one answer for the list of moves, the tables and the pictures."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest

from rewire.bench.moves import moves_of
from rewire.bench.wire_plan import renumbered, wire_plan
from rewire.bench.work_list import Moves
from rewire.reading import read_spec
from rewire.records.spec import Spec
from tests.bench.workbench import assert_same, worked_through
from tests.reading.builders import read
from tests.reference.strategies import random_spec

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
Told = tuple[str, str]
"""Fate, number."""


def fates_by_moves(spec: Spec, source: str, target: str) -> Iterator[Told]:
    """What the list of moves says of every wire, from its steps alone."""
    moves = moves_of(spec, source, target)
    leads = "lead "
    for stay in moves.stays:
        ids = [i for i in (stay.wire, stay.becomes) if i and not i.startswith(leads)]
        if ids:
            yield "stays", " → ".join(dict.fromkeys(ids))
    told = dict(_by_wire(moves))
    for wire, becomes in told.items():
        ids = [i for i in (wire, becomes) if i and not i.startswith(leads)]
        if ids:
            fate = "moves" if becomes is not None else "comes out"
            yield fate, " → ".join(dict.fromkeys(ids))
    yield from (("new", s.becomes or "") for s in moves.steps if s.kind == "wire")


def _by_wire(moves: Moves) -> Iterator[tuple[str, str | None]]:
    landed = {s.wire for s in moves.steps if s.kind == "land"}
    for step in moves.steps:
        if step.kind in ("lift", "land") and step.wire:
            serves = step.becomes or (step.wire if step.wire in landed else None)
            yield step.wire, serves
        if step.kind == "take-out":
            yield from ((wire, None) for wire in step.leaves_with)


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_moves_and_plan_tell_the_same_of_every_wire_of_shipped_specs(path: Path) -> None:
    spec = renumbered(read_spec(str(path)))
    for source, target in permutations(spec.wirings, 2):
        assert_agree(spec, source, target)
        moves = moves_of(spec, source, target)
        assert_same(spec, worked_through(spec, moves), spec.wirings[target])


@pytest.mark.parametrize("seed", range(8))
def test_moves_and_plan_tell_the_same_of_random_pairs(seed: int) -> None:
    spec = read(random_spec(random.Random(seed), size=seed % 3))
    for source, target in permutations(spec.wirings, 2):
        assert_agree(spec, source, target)


def assert_agree(spec: Spec, source: str, target: str) -> None:
    said = Counter()
    for one in wire_plan(spec, source, target).fates:
        ids = [wire.id for wire in (one.was, one.now) if wire]
        said[one.fate, " → ".join(dict.fromkeys(ids))] += 1
    assert said == Counter(fates_by_moves(spec, source, target))


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_a_wire_has_one_number_in_all_wirings(path: Path) -> None:
    raw = read_spec(str(path))
    spec = renumbered(raw)
    plan = next(w for w in spec.others if w.role == "plan")
    numbers = {w.id for w in plan.wires}
    for source in spec.wirings.values():
        ids = [w.id for w in source.wires]
        assert len(set(ids)) == len(ids)
        if source is plan or source.role == "plan":
            continue
        for one in wire_plan(spec, source.name, plan.name).fates:
            if one.was and one.now:
                assert one.was.id == one.now.id
            elif one.was:
                assert one.was.id not in numbers
                assert one.was.id[0] == ("X" if one.fate == "comes out" else "K")
        assert moves_of(spec, source.name, plan.name).tags == {i: i for i in ids}


def cut(found: list[Any], plan: list[Any]) -> Spec:
    switch = {"switch": "SPDT", "control": "K", "timing": "shorting"}
    return read({
        "rewire": "1", "title": "a wire cut off", "controls": {"K": ["P", "Q"]},
        "points": {"CHASSIS": {"chassis": "yes"}, "X": {}},
        "wirings": {
            "original": {"parts": {"S1": switch}, "wires": [["CHASSIS", "S1.A", "BK"]]},
            "as-found": {"parts": {"S1": switch}, "wires": [["X", "S1.A1", "RD"], *found]},
            "plan": {"parts": {"S1": switch}, "wires": [["X", "S1.A1", "RD"], *plan]},
        },
    })  # fmt: skip


def steps(spec: Spec) -> list[tuple[str, str | None, str | None]]:
    moves = moves_of(renumbered(spec), "as-found", "plan")
    return [(s.kind, s.place, s.tag) for s in moves.steps if s.kind in ("lift", "land", "wire")]


def test_a_wire_that_was_cut_off_is_used_again_where_one_end_is_right() -> None:
    spec = cut([["CHASSIS", "cut", "BK"]], [["CHASSIS", "S1.A", "BK"]])
    assert steps(spec) == [("land", "S1.A", "W2")]
    note = next(s.note for s in moves_of(spec, "as-found", "plan").steps if s.kind == "land")
    assert "cut off" in (note or "")


def test_a_wire_that_was_cut_off_and_is_not_needed_comes_off() -> None:
    assert steps(cut([["CHASSIS", "cut", "BK"]], [])) == [("lift", "CHASSIS", "X1")]


def test_a_wire_that_stays_cut_off_stays() -> None:
    spec = cut([["CHASSIS", "cut", "BK"]], [["CHASSIS", "cut", "BK"]])
    assert steps(spec) == []
    assert [s.told for s in moves_of(spec, "as-found", "plan").stays] == ["W1", "W2"]


def test_a_wire_that_the_plan_has_cut_off_is_tied_back() -> None:
    spec = cut([["CHASSIS", "S1.A", "BK"]], [["CHASSIS", "cut", "BK"]])
    assert steps(spec) == [("lift", "S1.A", "W2")]
    lift = next(s for s in moves_of(spec, "as-found", "plan").steps if s.kind == "lift")
    assert lift.text.endswith(": insulate it and tie it back")
