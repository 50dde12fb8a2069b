"""Declared changes by hand: what they cover, their reasons, and what is left over."""

from __future__ import annotations

from typing import Any

import pytest

from rewire.compare.findings import Finding, Result
from tests.compare.rigs import one_switch, result_of

Spec = dict[str, Any]


def lines(changes: list[Spec], here: list[Any], there: list[Any], **parts: Any) -> Spec:
    """Points A to D joined by wires; parts of the original, whose substitute has none of them."""
    return {
        "rewire": "1",
        "title": "lines",
        "controls": {"K": ["P", "Q"]},
        "points": {point: {} for point in "ABCD"},
        "wirings": {
            "original": {"parts": parts, "wires": here},
            "substitute": {"wires": there, "changes": changes},
        },
    }


def one(result: Result, kind: str) -> Finding:
    (found,) = (f for f in result.findings if f.kind == kind)
    return found


THREE = [["A", "B"], ["B", "C"]]


@pytest.mark.parametrize(
    ("whys", "why"),
    [
        (("the first", "the second"), "the first; the second"),
        (("the first", "the first"), "the first"),
        (("the first", None), "the first"),
        ((None, None), None),
    ],
)
def test_the_reasons_of_changes_that_together_cover_a_finding_are_all_given(
    whys: tuple[str | None, str | None], why: str | None
) -> None:
    """Three points fall apart; two declarations are needed to link the pieces."""
    pairs = [["A", "B"], ["B", "C"]]
    changes = [
        {"drop": pair} | ({"why": said} if said else {})
        for pair, said in zip(pairs, whys, strict=True)
    ]
    result = result_of(lines(changes, THREE, []))
    dropped = one(result, "dropped")
    assert dropped.groups == (("A",), ("B",), ("C",))
    assert dropped.meant
    assert dropped.why == why
    assert result.verdict == "changed"


def test_what_declarations_do_not_link_is_not_meant_and_gets_no_reason() -> None:
    result = result_of(lines([{"drop": ["A", "B"], "why": "half"}], THREE, []))
    dropped = one(result, "dropped")
    assert not dropped.meant
    assert dropped.why is None
    assert result.verdict == "broken"


def test_a_declaration_for_one_position_splits_a_finding_in_two() -> None:
    spec = lines([], [["A", "S.A"], ["B", "S.A1"], ["B", "S.A2"]], [])
    switch = {"switch": "SPDT", "control": "K"}
    spec["wirings"]["original"]["parts"] = {"S": switch}
    spec["wirings"]["substitute"]["parts"] = {"S": switch}
    spec["wirings"]["substitute"]["changes"] = [
        {"drop": ["A", "B"], "when": {"K": "Q"}, "why": "only there"}
    ]
    found = [f for f in result_of(spec).findings if f.kind == "dropped"]
    told = {(f.meant, f.why, tuple(s.at for s in f.states)) for f in found}
    assert told == {
        (False, None, ((("K", "P"),),)),
        (True, "only there", ((("K", "Q"),),)),
    }


@pytest.mark.parametrize(
    ("when", "meant"),
    [(None, True), (["P0", "P1"], True), ("P0", False), ("P1", False)],
)
def test_a_move_is_covered_by_a_declaration_that_covers_both_its_ends(
    when: Any, meant: bool
) -> None:
    spec = one_switch("shorting", "non-shorting", "COM", ["ONE", "ONE"])
    change = {"gap": ["COM", "ONE"]} | ({} if when is None else {"when": {"K": when}})
    spec["wirings"]["substitute"]["changes"] = [change]
    result = result_of(spec)
    assert one(result, "gap").meant == meant
    assert [f.kind for f in result.findings if f.kind == "undone"] == ([] if meant else ["undone"])


METER = {"meter": "1 mA", "resistance": "50 ohm", "between": ["A", "B"]}


@pytest.mark.parametrize(
    ("changes", "said", "why"),
    [
        ([], "meter M1 of the original has nothing in its place", None),
        ([{"remove": "M1"}], "meter M1 of the original is removed", None),
        ([{"remove": "M1", "why": "burnt"}], "meter M1 of the original is removed", "burnt"),
    ],
)
def test_a_part_that_is_gone(changes: list[Spec], said: str, why: str | None) -> None:
    missing = one(result_of(lines(changes, [], [], M1=METER)), "missing")
    assert (missing.part, missing.message) == ("M1", said)
    assert missing.meant == bool(changes)
    assert missing.why == why


def test_a_removal_of_one_part_does_not_excuse_another() -> None:
    second = {**METER, "between": ["C", "D"]}
    result = result_of(lines([{"remove": "M2", "why": "spare"}], [], [], M1=METER, M2=second))
    told = {f.part: (f.meant, f.why) for f in result.findings if f.kind == "missing"}
    assert told == {"M1": (False, None), "M2": (True, "spare")}
    assert result.verdict == "broken"


@pytest.mark.parametrize(("why", "expected"), [({}, None), ({"why": "mirrored"}, "mirrored")])
def test_a_meter_that_is_turned_with_a_word(why: Spec, expected: str | None) -> None:
    spec = lines([{"reverse": "M1", **why}], [], [], M1=METER)
    spec["wirings"]["substitute"]["parts"] = {"M1": {**METER, "between": ["B", "A"]}}
    result = result_of(spec)
    turned = one(result, "reversed")
    assert turned.message == "meter M1 is connected the other way round"
    assert (turned.part, turned.meant, turned.why) == ("M1", True, expected)
    assert result.verdict == "changed"


def test_what_was_declared_and_is_not_found_is_said_with_its_reason() -> None:
    changes = [
        {"drop": ["A", "B"], "why": "done"},
        {"join": ["A", "D"], "why": "forgotten"},
        {"remove": "M1"},
    ]
    spec = lines(changes, [["A", "B"]], [], M1=METER)
    spec["wirings"]["substitute"]["parts"] = {"M1": METER}
    told = [(f.change, f.message, f.why) for f in result_of(spec).findings if f.kind == "undone"]
    assert told == [
        (1, "declared under changes, but does not happen: join A and D", "forgotten"),
        (2, "declared under changes, but does not happen: remove M1", None),
    ]
