"""Sets of states said in other frames, against going through them one by one."""

from __future__ import annotations

import math

from hypothesis import given, strategies as st

from rewire.circuit.states import Frame, narrow, widen
from rewire.records.part import Place
from rewire.records.spec import Control


def control(name: str, count: int) -> Control:
    """A control with so many positions."""
    positions = tuple(f"P{number}" for number in range(count))
    return Control(name, positions, False, False, None, Place("made here", 1, 1))


@st.composite
def frames(draw: st.DrawFn) -> tuple[Frame, Frame]:
    """A frame, and one of some of its controls."""
    sizes = draw(st.lists(st.integers(1, 5), min_size=1, max_size=5))
    controls = [control(f"K{number}", size) for number, size in enumerate(sizes)]
    inside = draw(st.lists(st.booleans(), min_size=len(sizes), max_size=len(sizes)))
    few = [each for each, kept in zip(controls, inside, strict=True) if kept]
    return Frame(tuple(few)), Frame(tuple(controls))


def seen(state: dict[str, str], controls: tuple[Control, ...]) -> tuple[str, ...]:
    """A state as far as some controls show it."""
    return tuple(state[each.name] for each in controls)


@given(frames(), st.data())
def test_a_set_of_states_in_a_wider_frame_is_all_states_that_show_one_of_them(
    both: tuple[Frame, Frame], data: st.DataObject
) -> None:
    few, wide = both
    mask = data.draw(st.integers(0, few.full))
    wanted = {seen(state, few.controls) for state in few.states(mask)}
    found = {seen(state, wide.controls) for state in wide.states(widen(few, mask, wide))}
    every = [seen(state, wide.controls) for state in wide.states(wide.full)]
    names = [each.name for each in wide.controls]
    shows = [names.index(each.name) for each in few.controls]
    assert len(every) == math.prod(len(each.positions) for each in wide.controls)
    assert found == {at for at in every if tuple(at[place] for place in shows) in wanted}


@given(frames(), st.data())
def test_a_set_of_states_in_a_narrower_frame_is_what_its_states_show(
    both: tuple[Frame, Frame], data: st.DataObject
) -> None:
    few, wide = both
    mask = data.draw(st.integers(0, wide.full))
    wanted = {seen(state, few.controls) for state in wide.states(mask)}
    assert {seen(s, few.controls) for s in few.states(narrow(wide, mask, few))} == wanted
