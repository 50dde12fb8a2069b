"""No other way of letting old wires serve again is less work: every way is tried, in small cases.

The judge below restates what work is: an end lifted or landed is one piece of it, a new wire is
two ends and half a piece more for cutting it. A wire serves again if an end of it stays, or if
both go over from a part to the part that takes its place. Among ways of equal work, colours
decide.
"""

from __future__ import annotations

import random
from itertools import permutations
from typing import Any

import pytest

from rewire.bench.moves import moves_of
from rewire.bench.work_list import Moves
from rewire.records.spec import Spec
from tests.bench.workbench import assert_same, worked_through
from tests.reading.builders import read

Wire = dict[str, str]
POINTS = ("CH", "X", "Y", "Z")
LUGS = ("A", "A1", "A2")
Cost = tuple[float, float]
"""Pieces of work; then what is undesirable without being work."""


def wires(rng: random.Random, switch: str, prefix: str) -> list[Wire]:
    places = [*POINTS, *(f"{switch}.{lug}" for lug in LUGS)]
    drawn: list[Wire] = []
    for number in range(rng.randint(1, 5)):
        start, end = rng.sample(places, 2)
        if {start, end} not in [{wire["from"], wire["to"]} for wire in drawn]:
            drawn.append({"from": start, "to": end, "id": f"{prefix}{number}"})
            if rng.random() < 0.7:
                drawn[-1]["colour"] = rng.choice(["RD", "BK", "BU"])
    return drawn


def spec_of(before: list[Wire], after: list[Wire], second: str) -> Spec:
    switch = {"switch": "SPDT", "control": "K"}
    spec: dict[str, Any] = {
        "rewire": "1", "title": "matching", "controls": {"K": ["P", "Q"]},
        "points": {name: {} for name in POINTS} | {"CH": {"chassis": "yes"}},
        "wirings": {
            "original": {"parts": {"S1": switch}, "wires": before},
            "other": {"parts": {second: switch}, "wires": after},
        },
    }  # fmt: skip
    return read(spec)


def least(before: list[Wire], after: list[Wire], swapped: bool) -> Cost:
    """The least cost of all ways, tried one by one."""
    slots: list[Wire | None] = [*after, *[None] * len(before)]
    return min(total(before, after, chosen, swapped) for chosen in permutations(slots, len(before)))


def total(before: list[Wire], after: list[Wire], chosen: tuple[Any, ...], swapped: bool) -> Cost:
    work = beside = 0.0
    for old, new in zip(before, chosen, strict=True):
        if new is None:
            work += leaving(old, swapped)
            continue
        pair = serving(old, new, swapped)
        if pair is None:
            return float("inf"), 0.0
        work += pair[0]
        beside += pair[1]
    fresh = [wire for wire in after if wire not in [new for new in chosen if new]]
    return work + 2.5 * len(fresh), beside


def leaving(old: Wire, swapped: bool) -> float:
    on_switch = [end.startswith("S1.") for end in (old["from"], old["to"])]
    return 0.0 if swapped and all(on_switch) else 2.0


def serving(old: Wire, new: Wire, swapped: bool) -> Cost | None:
    """The better way round; None if the wire cannot serve."""
    ways = []
    for ends in ((new["from"], new["to"]), (new["to"], new["from"])):
        sides = [side(a, b, swapped) for a, b in zip((old["from"], old["to"]), ends, strict=True)]
        if "kept" in sides or all(one.startswith("handed") for one in sides):
            work = 2.0 * sum(one != "kept" for one in sides)
            beside = 300.0 * sides.count("far") + 20.0 * sides.count("handed to another lug")
            ways.append((work, beside + colours(old, new)))
    return min(ways, default=None)


def side(old: str, new: str, swapped: bool) -> str:
    if swapped and old.startswith("S1.") and new.startswith("S2."):
        return "handed" if old[3:] == new[3:] else "handed to another lug"
    return "kept" if old == new else "far"


def colours(old: Wire, new: Wire) -> float:
    one, other = old.get("colour"), new.get("colour")
    if one == other:
        return 0.0
    return 200.0 if one and other else 50.0


def told(moves: Moves, before: list[Wire], after: list[Wire], swapped: bool) -> Cost:
    """The cost of what the list says, counted from its steps and what stays."""
    kinds = [step.kind for step in moves.steps]
    work = kinds.count("lift") + kinds.count("land") + 2.5 * kinds.count("wire")
    becomes = {stay.wire: stay.becomes for stay in moves.stays}
    becomes |= {s.wire: s.becomes for s in moves.steps if s.kind == "land"}
    olds, news = ({wire["id"]: wire for wire in listed} for listed in (before, after))
    beside = 0.0
    for old, new in becomes.items():
        pair = serving(olds[old or ""], news[new or ""], swapped)
        assert pair is not None
        beside += pair[1]
    return work, beside


@pytest.mark.parametrize("second", ["S1", "S2"], ids=["same switch", "another switch"])
@pytest.mark.parametrize("seed", range(12))
def test_no_other_way_is_less_work(seed: int, second: str) -> None:
    rng = random.Random(seed)
    before, after = wires(rng, "S1", "a"), wires(rng, second, "b")
    spec = spec_of(before, after, second)
    moves = moves_of(spec, "original", "other")
    swapped = second == "S2"
    assert told(moves, before, after, swapped) == least(before, after, swapped)
    assert_same(spec, worked_through(spec, moves), spec.wirings["other"])


def test_an_end_is_never_lifted_for_the_sake_of_colours() -> None:
    """Eleven wires of the wrong colour that lie right are left, and the plan's colour is told."""
    throws = [f"S1.A{n}" for n in range(1, 12)]
    before = [{"from": t, "to": "CH", "id": f"a{n}", "colour": "RD"} for n, t in enumerate(throws)]
    after = [{"from": t, "to": "CH", "id": f"b{n}", "colour": "BK"} for n, t in enumerate(throws)]
    after.append({"from": "X", "to": "CH", "id": "b99", "colour": "RD"})
    switch = {"switch": "SP11T", "control": "K"}
    spec = read({
        "rewire": "1", "title": "colours", "controls": {"K": [f"P{n}" for n in range(11)]},
        "points": {"CH": {"chassis": "yes"}, "X": {}},
        "wirings": {"original": {"parts": {"S1": switch}, "wires": before},
                    "other": {"parts": {"S1": switch}, "wires": after}},
    })  # fmt: skip
    moves = moves_of(spec, "original", "other")
    assert [step.kind for step in moves.steps if step.lug] == ["wire"]
    assert all("the plan says BK, this one is RD" in (stay.note or "") for stay in moves.stays)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ({"insulation": "300 V"}, {"insulation": "600 V"}),
        ({"gauge": "0.5 mm2"}, {"gauge": "1.5 mm2"}),
        ({"length": "50 mm"}, {"length": "80 mm"}),
        ({"screened": "no"}, {"screened": "yes"}),
    ],
)
def test_a_wire_that_is_not_good_enough_does_not_serve(old: Wire, new: Wire) -> None:
    before = [{"from": "S1.A1", "to": "X", "id": "a", **old}]
    after = [{"from": "S1.A1", "to": "Y", "id": "b", **new}]
    for served, first, second in ((False, before, after), (True, before, [{**after[0], **old}])):
        moves = moves_of(spec_of(first, second, "S1"), "original", "other")
        assert ("land" in [step.kind for step in moves.steps]) == served
