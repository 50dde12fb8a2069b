"""Shorting and non-shorting as the standards define them, and what follows for a swap.

Source: MIL-DTL-18396E 3.2.5 and 3.2.6 (meter and control switches), in the words of
../design/worked-examples.json; MIL-DTL-21604F 6.4.3 and 6.4.4 (rotary switches) agree.
"""

from __future__ import annotations

from tests.compare.rigs import one_switch, result_of


def kinds(spec: dict[str, object]) -> dict[tuple[str, tuple[tuple[str, ...], ...]], int]:
    """Kinds and groups found, with the number of steps."""
    found = result_of(spec).findings
    return {(f.kind, f.groups): len(f.steps) for f in found if f.kind != "spare"}


def test_shorting_means_the_new_position_is_joined_before_the_old_lets_go() -> None:
    """Both throws are briefly connected: a bridge where the original had none."""
    spec = one_switch("non-shorting", "shorting", "METER", ["SHUNT_1", "SHUNT_2"])
    assert kinds(spec) == {("bridge", (("SHUNT_1",), ("SHUNT_2",))): 1}


def test_nonshorting_means_a_moment_with_neither() -> None:
    """The common is briefly connected to nothing: a gap where both throws go to one place."""
    spec = one_switch("shorting", "non-shorting", "METER", ["SHUNT", "SHUNT"])
    assert kinds(spec) == {("gap", (("METER",), ("SHUNT",))): 1}


def test_each_kind_in_the_place_of_itself_is_no_difference() -> None:
    """Nothing is found while switching if the timing is kept."""
    for timing in ("shorting", "non-shorting", "unknown"):
        spec = one_switch(timing, timing, "METER", ["SHUNT", "SHUNT", "OTHER"])
        assert result_of(spec).verdict == "kept"


def test_only_neighbouring_positions_are_bridged() -> None:
    """A shorting switch joins two neighbouring throws, never the first and the third."""
    spec = one_switch("non-shorting", "shorting", "METER", ["A", "B", "C"])
    assert kinds(spec) == {
        ("bridge", (("A",), ("B",))): 1,
        ("bridge", (("B",), ("C",))): 1,
    }
