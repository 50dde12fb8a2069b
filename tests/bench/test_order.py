"""The order of work: near lugs are lifted first and landed last, jumpers before parts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from rewire.bench.moves import moves_of
from rewire.bench.work_list import STAGES, Moves
from rewire.records.spec import Spec
from tests.bench.shipped import SPECS, shipped, shipped_moves
from tests.reading.builders import read

FORM = "6P3T"


def spec_of(layout: dict[str, Any]) -> Spec:
    switch = {"switch": FORM, "control": "K", "style": "rotary", "layout": layout}
    wires = [[f"S1.{pole}1", "CH"] for pole in "CAFBED"]
    return read({
        "rewire": "1", "title": "decks", "controls": {"K": ["P", "Q", "R"]},
        "points": {"CH": {"chassis": "yes"}},
        "wirings": {
            "original": {"parts": {"S1": switch}, "wires": wires},
            "other": {"parts": {"S1": {**switch, "timing": "shorting"}}, "wires": wires},
        },
    })  # fmt: skip


def poles(moves: Moves, kind: str) -> str:
    lugs = [s.place or "" for s in moves.steps if s.kind == kind]
    return "".join(lug[3] for lug in lugs if lug.startswith("S1."))


@pytest.mark.parametrize(
    ("decks", "far_to_near"),
    [("1", "ABCDEF"), ("2", "ABC DEF"), ("3", "AB CD EF"), ("6", "A B C D E F"),
     ([["F", "B"], ["A", "C", "D", "E"]], "BF ACDE")],
)  # fmt: skip
def test_from_behind_the_deck_nearest_the_knob_is_the_far_one(decks: Any, far_to_near: str) -> None:
    moves = moves_of(spec_of({"decks": decks}), "original", "other")
    assert poles(moves, "land") == far_to_near.replace(" ", "")
    assert poles(moves, "lift") == "".join(reversed(far_to_near.split()))


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_stages_come_in_the_order_of_work_and_safety_first(path: Path) -> None:
    names = shipped(path).wirings
    for source in names:
        for target in names:
            steps = shipped_moves(path, source, target).steps
            order = [list(STAGES).index(step.stage) for step in steps]
            assert order == sorted(order)
            assert not steps or steps[0].stage == "safe"
