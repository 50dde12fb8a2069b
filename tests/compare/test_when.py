"""States and steps in words: read back by the test, they are the states and steps again."""

from __future__ import annotations

import itertools
import re

from hypothesis import given, strategies as st

from rewire.compare.findings import Finding, State, Step, when

CONTROLS = {"METER": ("BIAS", "CATHODE", "SCREEN"), "SEND": ("OFF", "ON"), "BAND": ("80", "40")}
ALL_STATES = [
    tuple(zip(CONTROLS, positions, strict=True))
    for positions in itertools.product(*CONTROLS.values())
]


def states_read_back(words: str) -> set[tuple[tuple[str, str], ...]]:
    """``METER: BIAS, CATHODE with SEND: ON`` as the states it stands for."""
    if not words:
        return {()}
    controls = [part.split(": ") for part in words.split(" with ")]
    choices = [[(name, at) for at in listed.split(", ")] for name, listed in controls]
    order = list(CONTROLS)
    return {
        tuple(sorted(state, key=lambda pair: order.index(pair[0])))
        for state in itertools.product(*choices)
    }


@given(
    states=st.lists(st.sampled_from(ALL_STATES), min_size=1, unique=True), most=st.integers(1, 3)
)
def test_states_in_words_are_the_same_states(
    states: list[tuple[tuple[str, str], ...]], most: int
) -> None:
    named = sorted({state[:most] for state in states})
    finding = Finding("dropped", False, "", states=tuple(State(state) for state in named))
    said: set[tuple[tuple[str, str], ...]] = set()
    for phrase in when(finding, 1000).split("; "):
        assert phrase.startswith("in ")
        said |= states_read_back(phrase.removeprefix("in "))
    assert said == set(named)


@given(data=st.data())
def test_steps_in_words_are_the_same_steps(data: st.DataObject) -> None:
    moves = st.sampled_from([("BIAS", "CATHODE"), ("CATHODE", "SCREEN")])
    others = st.sampled_from([(("SEND", "OFF"),), (("SEND", "ON"),)])
    picked = data.draw(st.lists(st.tuples(moves, others), min_size=1, unique=True))
    steps = [
        Step(State((("METER", before), *rest)), State((("METER", after), *rest)))
        for (before, after), rest in picked
    ]
    said = set()
    for phrase in when(Finding("gap", False, "", steps=tuple(steps)), 1000).split("; "):
        read = re.fullmatch(r"while METER moves between (.*?)(?: \(with (.*)\))?", phrase)
        assert read is not None
        for pair in read[1].split(", or "):
            before, after = pair.split(" and ")
            said |= {((before, after), rest) for rest in states_read_back(read[2] or "")}
    assert said == set(picked)


def test_a_finding_that_holds_whatever_the_controls_do_says_so() -> None:
    assert when(Finding("joined", False, "", states=(State(()),)), 6) == "in every position"


def test_a_finding_that_is_no_matter_of_positions_says_nothing() -> None:
    assert when(Finding("missing", False, "", part="C9"), 6) == ""


def test_many_cases_are_counted_and_not_lost() -> None:
    states = tuple(State((("METER", str(i)), ("SEND", str(i)))) for i in range(40))
    phrases = when(Finding("joined", False, "", states=states), 6).split("; ")
    left = re.search(r"and (\d+) more", phrases[-1])
    assert left is not None
    assert len(phrases) - 1 + int(left[1]) == len(states)


@given(states=st.lists(st.sampled_from(ALL_STATES), min_size=1, unique=True))
def test_states_are_gathered_by_all_controls_but_the_first(
    states: list[tuple[tuple[str, str], ...]],
) -> None:
    """One phrase where they are a product; else one for each way the other controls stand."""
    sides = [{state[n] for state in states} for n in range(len(CONTROLS))]
    product = set(states) == set(itertools.product(*sides))
    said = when(Finding("dropped", False, "", states=tuple(map(State, states))), 1000)
    assert len(said.split("; ")) == (1 if product else len({state[1:] for state in states}))


def test_a_move_that_needs_nothing_of_the_others_says_nothing_of_them() -> None:
    step = Step(State((("METER", "BIAS"),)), State((("METER", "CATHODE"),)))
    said = when(Finding("gap", False, "", steps=(step,)), 6)
    assert said == "while METER moves between BIAS and CATHODE"


def test_as_many_cases_as_may_be_said_are_all_said() -> None:
    """Cut is only what is beyond."""
    states = tuple(State((("METER", str(i)), ("SEND", str(i)))) for i in range(6))
    whole = when(Finding("joined", False, "", states=states), 6).split("; ")
    assert whole == [f"in METER: {i} with SEND: {i}" for i in range(6)]
    cut = when(Finding("joined", False, "", states=states), 5).split("; ")
    assert cut == [*whole[:5], "and 1 more such cases"]
