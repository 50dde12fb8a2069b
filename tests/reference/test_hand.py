"""Hand cases that try to break a rule, each beside the sentence it tries.

The sentences are those of `docs/guide.md` in substance; the answers were worked out on paper, and
both the reference and the program are held to them.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.reference.compare import disagreements
from tests.reference.hand import FEED, THROWS, Spec, hand, kinds, swap, switch
from tests.reference.oracle import facts, judge

Facts = dict[tuple[str, str], int]

HANDED_ON = [["S.A", "C"], ["S.A1", "A"], ["S.B", "C"], ["S.B2", "A"]]
"""One pole feeds A in the first position, the other in the second."""
TWO = "DPDT"
KNOB = {"K": ["P", "Q", "R"]}
ROUND = {"K": {"positions": ["P", "Q", "R"], "wraps": "yes"}}
R = {"R": {"resistor": "5 ohm"}}
FUSE = {"Z": {"fuse": "1 A"}}


def timed(first: str, second: str, form: str, **parts: Spec) -> Spec:
    """The same switch in both wirings, timed otherwise, and parts that are in both."""
    return {
        "original": {"S": switch(first, form), **parts},
        "substitute": {"S": switch(second, form), **parts},
    }


def only_in_substitute(**parts: Spec) -> Spec:
    """A switch in both wirings, and parts that are new."""
    return {"original": {"S": switch()}, "substitute": {"S": switch(), **parts}}


def rotary(form: str, positions: dict[str, str], style: str = "rotary", **more: Any) -> Spec:
    """A switch of which some throws are not used, in place of a small one."""
    big = switch(more.pop("timing", "non-shorting"), form, style=style, positions=positions)
    return swap(more.pop("first", switch()), big)


ON_ITS_OWN_AND_IN_STEP: list[tuple[str, Spec, dict[tuple[str, str], bool]]] = [
    (
        "asked on its own alone, a shorting switch of two poles excuses any non-shorting one",
        hand(HANDED_ON, HANDED_ON, timed("shorting", "non-shorting", TWO)),
        {("gap", "A C"): True},
    ),
    (
        "in step a shorting switch holds what it holds before or after",
        hand(HANDED_ON, HANDED_ON, timed("non-shorting", "shorting", TWO)),
        {},
    ),
    (
        "one pole at its new contacts while another is at its old ones: where poles are uneven",
        hand(
            THROWS,
            [["S.A", "C"], ["S.A1", "A"], ["S.B", "C"], ["S.B2", "B"]],
            {"original": {"S": switch()}, "substitute": {"S": switch(form=TWO)}},
        ),
        {("bridge", "A B"): False},
    ),
    (
        "the same where two poles of the original could meet as well: nothing new",
        hand(
            [["S.A", "C"], ["S.A1", "A"], ["S.B", "C"], ["S.B2", "B"]],
            [["S.A", "C"], ["S.A1", "A"], ["S.B", "C"], ["S.B2", "B"]],
            {"S": switch(form=TWO)},
        ),
        {},
    ),
    (
        "shorting now, in step: the throws are shorted at every turn, though two uneven poles of "
        "the original could have shorted them",
        hand(
            [["S.A", "C"], ["S.A1", "A"], ["S.B", "C"], ["S.B2", "B"]],
            THROWS,
            {"original": {"S": switch(form=TWO)}, "substitute": {"S": switch("shorting")}},
        ),
        {("bridge", "A B"): True},
    ),
    (
        "current through the meter on one pole, around it on the other: it stops at every turn",
        hand(
            [["S.A", "C"], ["S.A1", "A"], ["S.B", "R.1"], ["S.B2", "A"], ["R.2", "C"]],
            [["S.A", "C"], ["S.A1", "A"], ["S.B", "R.1"], ["S.B2", "A"], ["R.2", "C"]],
            timed("shorting", "non-shorting", TWO, **R),
        ),
        {("interrupted", "A C"): True},
    ),
    (
        "gaps of both questions are put together before paths are asked about: R has lost its "
        "lead over T for a moment, but C and A are a gap already",
        hand(
            [*HANDED_ON, ["R.1", "C"], ["R.2", "A"], ["T.A1", "A"], ["T.A2", "A"]],
            [*HANDED_ON, ["R.1", "C"], ["R.2", "T.A"], ["T.A1", "A"], ["T.A2", "A"]],
            {
                "original": {"S": switch("shorting", TWO), "T": switch(), **R},
                "substitute": {"S": switch("non-shorting", TWO), "T": switch(), **R},
            },
        ),
        {("gap", "A+R.2 C+R.1"): True},
    ),
]


@pytest.mark.parametrize(("sentence", "spec", "wanted"), ON_ITS_OWN_AND_IN_STEP)
def test_on_its_own_and_in_step(
    sentence: str, spec: Spec, wanted: dict[tuple[str, str], bool]
) -> None:
    found = facts(spec)
    assert found["rest"] == [], sentence
    assert {
        (fact["kind"], " ".join("+".join(g) for g in fact["groups"])): fact["in_step"]
        for fact in found["steps"]
    } == wanted, sentence
    assert disagreements(spec) == [], sentence


SPARE_ON_CHASSIS = [["S.A", "C"], ["S.A1", "A"], ["S.A3", "B"], ["S.A2", "CH"]]
PAST = {"P": "1", "Q": "3"}
OVER_THE_END = [["S.A", "C"], ["S.A1", "A"], ["S.A2", "B"], ["S.A3", "D"], ["S.A4", "CH"]]
OFF_BETWEEN = switch(positions={"P": "1", "Q": "open", "R": "2"})
THREE = [["S.A", "C"], ["S.A1", "A"], ["S.A2", "B"], ["S.A3", "D"]]

PASSED: list[tuple[str, Spec, Facts]] = [
    (
        "a common that carries volts past a grounded spare throw is a bridge",
        hand(THROWS, SPARE_ON_CHASSIS, rotary("SP3T", PAST)),
        {("bridge", "C CH"): 1},
    ),
    (
        "so does a slide",
        hand(THROWS, SPARE_ON_CHASSIS, rotary("SP3T", PAST, "slide")),
        {("bridge", "C CH"): 1},
    ),
    (
        "a row of push-buttons passes nothing",
        hand(THROWS, SPARE_ON_CHASSIS, rotary("SP3T", PAST, "push")),
        {},
    ),
    (
        "with the moments before and after it: a shorting one shorts its neighbours to it; old "
        "and new throw are shorted at every turn",
        hand(THROWS, SPARE_ON_CHASSIS, rotary("SP3T", PAST, timing="shorting")),
        {("bridge", "C CH"): 1, ("bridge", "A CH"): 1, ("bridge", "B CH"): 1, ("bridge", "A B"): 1},
    ),
    (
        "from one throw to another: off between two positions is no throw",
        hand(
            THROWS,
            SPARE_ON_CHASSIS,
            rotary("SP3T", {"P": "1", "Q": "open", "R": "3"}, first=OFF_BETWEEN),
            controls=KNOB,
        ),
        {},
    ),
    (
        "what the original passes as well is nothing new",
        hand(
            SPARE_ON_CHASSIS,
            SPARE_ON_CHASSIS,
            {"S": switch(form="SP3T", style="rotary", positions=PAST)},
        ),
        {},
    ),
    (
        "two throws passed, one after the other: never both at once unless shorting",
        hand(
            THROWS,
            [["S.A", "C"], ["S.A1", "A"], ["S.A4", "B"], ["S.A2", "CH"], ["S.A3", "D"]],
            rotary("SP4T", {"P": "1", "Q": "4"}),
        ),
        {("bridge", "C CH"): 1, ("bridge", "C D"): 1},
    ),
    (
        "a knob that goes round passes what lies beyond its last throw",
        hand(
            THREE,
            OVER_THE_END,
            rotary("SP4T", {"P": "1", "Q": "2", "R": "3"}, first=switch(form="SP3T")),
            controls=ROUND,
        ),
        {("bridge", "C CH"): 1},
    ),
    (
        "and nothing where its last throw is the switch's last",
        hand(
            THREE,
            THREE,
            rotary("SP3T", {"P": "1", "Q": "2", "R": "3"}, first=switch(form="SP3T")),
            controls=ROUND,
        ),
        {},
    ),
]


@pytest.mark.parametrize(("sentence", "spec", "wanted"), PASSED)
def test_throws_passed_over(sentence: str, spec: Spec, wanted: Facts) -> None:
    found = facts(spec)
    assert kinds(found) == wanted, sentence
    # A B above is shorted in the plain moment between old and new, which both questions know.
    assert {f["in_step"] for f in found["steps"] if f["groups"] != [["A"], ["B"]]} <= {False}
    assert disagreements(spec) == [], sentence


def test_a_rule_is_broken_at_a_throw_that_is_passed() -> None:
    """`while_switching` applies a rule in every combination."""
    rule = {"isolate": ["C", "CH"], "while_switching": "yes"}
    spec = hand(THROWS, SPARE_ON_CHASSIS, rotary("SP3T", PAST), rules=[rule])
    assert len(judge(spec).rules) == 1
    assert disagreements(spec) == []


def across(a: str, b: str) -> list[list[str]]:
    """Z from one place to another."""
    return [["Z.1", a], ["Z.2", b]]


CONTACT = [["S.A", "C"], ["S.A1", "T.1"], ["S.A2", "B"]]
"""A throw that leads to a lug of a strip and to nothing else: a net without anchors."""
STRIP = {"T": {"strip": "1"}}

LINKED: list[tuple[str, Spec, Facts]] = [
    (
        "an added part across what the original keeps apart; contacts play no part in it",
        hand(THROWS, [*THROWS, *across("D", "CH")], only_in_substitute(**FUSE)),
        {("linked", "CH D"): 2},
    ),
    (
        "groups: of each cluster the nets that the added part touches, not all it ties to",
        hand(THROWS, [*THROWS, *across("A", "CH")], only_in_substitute(**FUSE)),
        {("linked", "A CH"): 2},
    ),
    (
        "beside a shunt nothing new is linked: there is a path in the original",
        hand(
            [*THROWS, ["R.1", "A"], ["R.2", "CH"]],
            [*THROWS, ["R.1", "A"], ["R.2", "CH"], *across("A", "CH")],
            {"original": {"S": switch(), **R}, "substitute": {"S": switch(), **R, **FUSE}},
        ),
        {},
    ),
    (
        "in this state: where the shunt is switched off in the original, the link is new",
        hand(
            [["S.A", "A"], ["S.A1", "R.1"], ["R.2", "CH"]],
            [["S.A", "A"], ["S.A1", "R.1"], ["R.2", "CH"], *across("A", "CH")],
            {"original": {"S": switch(), **R}, "substitute": {"S": switch(), **R, **FUSE}},
        ),
        {("linked", "A CH+R.2"): 1},
    ),
    (
        "over all its parts that pass DC: also one that is gone",
        hand(
            [*THROWS, ["R.1", "A"], ["R.2", "CH"]],
            [*THROWS, *across("A", "CH")],
            {"original": {"S": switch(), **R}, "substitute": {"S": switch(), **FUSE}},
        ),
        {},
    ),
    (
        "a capacitor links nothing",
        hand(
            THROWS,
            [*THROWS, *across("D", "CH")],
            only_in_substitute(Z={"capacitor": "10 nF"}),
        ),
        {},
    ),
    (
        "two in series link, over a net of their own",
        hand(
            THROWS,
            [*THROWS, ["Z.1", "D"], ["Z.2", "Y.A"], ["Y.K", "CH"]],
            only_in_substitute(**FUSE, Y={"diode": "silicon"}),
        ),
        {("linked", "CH D"): 2},
    ),
    (
        "one of two in series is a capacitor: nothing is linked",
        hand(
            THROWS,
            [*THROWS, ["Z.1", "D"], ["Z.2", "Y.1"], ["Y.2", "CH"]],
            only_in_substitute(**FUSE, Y={"capacitor": "10 nF"}),
        ),
        {},
    ),
    (
        "over contacts and nets without anchors: in one position alone, and named after the "
        "places that these reach first",
        hand(
            CONTACT,
            [*CONTACT, *across("T.1", "CH")],
            {
                "original": {"S": switch(), **STRIP},
                "substitute": {"S": switch(), **STRIP, **FUSE},
            },
        ),
        {("linked", "C CH"): 1},
    ),
    (
        "a pot links three",
        hand(
            THROWS,
            [*THROWS, ["Z.ccw", "A"], ["Z.wiper", "D"], ["Z.cw", "CH"]],
            only_in_substitute(Z={"pot": "5 ohm", "setting": "50 %"}),
        ),
        {("linked", "A CH D"): 2},
    ),
    (
        "what the other wiring ties is put together first: that is joined, and nothing linked",
        hand(
            THROWS,
            [*THROWS, ["D", "CH"], *across("D", "CH")],
            only_in_substitute(**FUSE),
        ),
        {("joined", "CH D"): 2},
    ),
    (
        "what the added part only holds together is inserted, not linked",
        hand(
            [["A", "D"]],
            across("A", "D"),
            only_in_substitute(**FUSE),
        ),
        {("inserted", "A D"): 2},
    ),
]


@pytest.mark.parametrize(("sentence", "spec", "wanted"), LINKED)
def test_linked(sentence: str, spec: Spec, wanted: Facts) -> None:
    assert kinds(facts(spec)) == wanted, sentence
    assert disagreements(spec) == [], sentence


BESIDE = {"Z": {"fuse": "1 A"}, "Y": {"resistor": "9 ohm"}}
INSERT = {"insert": "Z", "between": ["A", "D"]}
LINK = {"link": "Z", "between": ["A", "CH"]}
Y_TOO = [["Y.1", "A"], ["Y.2", "D"]]

DECLARED: list[tuple[str, Spec, str]] = [
    (
        "insert declares it",
        hand([["A", "D"]], across("A", "D"), only_in_substitute(**FUSE), changes=[INSERT]),
        "changed",
    ),
    (
        "a fuse with an undeclared resistor across it is not what was declared",
        hand(
            [["A", "D"]],
            [*across("A", "D"), *Y_TOO],
            only_in_substitute(**BESIDE),
            changes=[INSERT],
        ),
        "broken",
    ),
    (
        "both declared, each on its own",
        hand(
            [["A", "D"]],
            [*across("A", "D"), *Y_TOO],
            only_in_substitute(**BESIDE),
            changes=[INSERT, {**INSERT, "insert": "Y"}],
        ),
        "changed",
    ),
    (
        "a part without its link declared breaks the wiring, though it is listed as added",
        hand(THROWS, [*THROWS, *across("A", "CH")], only_in_substitute(**FUSE)),
        "broken",
    ),
    (
        "link declares it",
        hand(THROWS, [*THROWS, *across("A", "CH")], only_in_substitute(**FUSE), changes=[LINK]),
        "changed",
    ),
    (
        "in one position alone: the other is not meant",
        hand(
            THROWS,
            [*THROWS, *across("A", "CH")],
            only_in_substitute(**FUSE),
            changes=[{**LINK, "when": {"K": "P"}}],
        ),
        "broken",
    ),
    (
        "a declared link that occurs in no state is undone",
        hand(
            [*THROWS, ["R.1", "A"], ["R.2", "CH"]],
            [*THROWS, ["R.1", "A"], ["R.2", "CH"], *across("A", "CH")],
            {"original": {"S": switch(), **R}, "substitute": {"S": switch(), **R, **FUSE}},
            changes=[LINK],
        ),
        "broken",
    ),
    (
        "a part beside another that was there is added, and no more",
        hand(
            [*THROWS, ["R.1", "A"], ["R.2", "CH"]],
            [*THROWS, ["R.1", "A"], ["R.2", "CH"], *across("A", "CH")],
            {"original": {"S": switch(), **R}, "substitute": {"S": switch(), **R, **FUSE}},
        ),
        "changed",
    ),
]


@pytest.mark.parametrize(("sentence", "spec", "verdict"), DECLARED)
def test_declared_links_and_inserts(sentence: str, spec: Spec, verdict: str) -> None:
    assert judge(spec).verdict == verdict, sentence
    assert disagreements(spec) == [], sentence


ELECTROLYTIC = {"capacitor": "8 uF", "polarised": "yes"}


@pytest.mark.parametrize(
    ("part", "ends", "aloud"),
    [
        (ELECTROLYTIC, ("1", "2"), True),
        ({"capacitor": "10 nF"}, ("1", "2"), False),
        ({"diode": "silicon"}, ("A", "K"), True),
        ({"meter": "1 mA", "resistance": "9 ohm"}, ("+", "-"), True),
        ({"lamp": "6 V", "current": "1 A"}, ("1", "2"), False),
    ],
)
def test_turned_where_it_matters(part: Spec, ends: tuple[str, str], aloud: bool) -> None:
    """A capacitor that is polarised is turned aloud; a plain one in silence."""
    there = [[f"X.{ends[0]}", "A"], [f"X.{ends[1]}", "B"]]
    back = [[f"X.{ends[0]}", "B"], [f"X.{ends[1]}", "A"]]
    spec = hand(there, back, {"X": part})
    judged = judge(spec)
    assert judged.found["reversed"] == (["X"] if aloud else [])
    assert judged.verdict == ("broken" if aloud else "kept")
    assert disagreements(spec) == []


@pytest.mark.parametrize(
    ("first", "second", "altered"),
    [
        ({"resistor": "1000 ohm"}, {"resistor": "1 kohm"}, {}),
        ({"resistor": "1 kohm"}, {"resistor": "1.2 kohm"}, {"X": False}),
        ({"resistor": "1 kohm", "rating": "2 W"}, {"resistor": "1 kohm", "rating": "1 W"},
         {"X": True}),
        ({"resistor": "1 kohm", "rating": "1 W"}, {"resistor": "1 kohm", "rating": "2 W"},
         {"X": False}),
        ({"fuse": "1 A"}, {"fuse": "3 A"}, {"X": True}),
        ({"fuse": "1 A"}, {"fuse": "500 mA"}, {"X": False}),
        ({"meter": "1 mA", "resistance": "9 ohm"}, {"meter": "2 mA", "resistance": "9 ohm"},
         {"X": True}),
        ({"capacitor": "8 uF"}, ELECTROLYTIC, {"X": False}),
    ],
)  # fmt: skip
def test_altered(first: Spec, second: Spec, altered: dict[str, bool]) -> None:
    """A fuse of more amperes, less rating, another full scale are read first; all are told."""
    spec = hand([], [], {"original": {"X": first}, "substitute": {"X": second}})
    assert judge(spec).altered == altered
    assert judge(spec).verdict == "kept"
    assert disagreements(spec) == []


def test_never_that_leaves_no_state_is_refused() -> None:
    """Nothing would be compared."""
    spec = hand(FEED, FEED, {"S": switch()}, never=[{"K": "P"}, {"K": "Q"}])
    with pytest.raises(Exception, match=r"never"):
        disagreements(spec)
