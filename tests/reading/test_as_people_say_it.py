"""Forms of switches and quantities as people say them: understood, or answered with what to write.

What each saying means is common practice of the trade, no source.
"""

from __future__ import annotations

import re

import pytest

from rewire.bench.told import switch_told
from rewire.reading import SpecError, read_text
from rewire.records.spec import Spec
from rewire.records.switches import Switch
from rewire.words.quantity import SIGNED_VOLTS, SOME_AMPS, SOME_VOLTS, WATTS, read, read_either

SPEC = """
rewire: 1
title: a switch under test
controls: {{K: [UP, MIDDLE, DOWN]}}
points: {{A: {{}}, L: {{}}}}
wirings:
  original:
    parts: {{S1: {{switch: {form}, control: K{more}}}}}
    wires: [[S1.A, L], [S1.A1, A]]
"""


def read_with(form: str, more: str = "") -> Spec:
    return read_text(SPEC.format(form=form, more=more).encode(), "made.yaml")


def way_out(form: str, more: str = "") -> str:
    with pytest.raises(SpecError) as refused:
        read_with(form, more)
    return str(refused.value.faults[0].hint)


@pytest.mark.parametrize(("said", "poles", "throws"), [
    ("2 pole 6 way", 2, 6), ("2-pole 4-way", 2, 4), ("4 pole 3 way rotary", 4, 3),
    ("double pole, 3 throw", 2, 3), ("3 gang 4 position", 3, 4), ("3P 4T", 3, 4),
    ("on-off-on", 1, 2), ("DPDT centre off", 2, 2), ("DPDT center-off", 2, 2),
    ("double pole on-off-on", 2, 2), ("DPDT (on)-off-(on)", 2, 2), ("DP on-off-(on)", 2, 2),
    ("on-off-mom", 1, 2), ("mom-off-mom", 1, 2),
])  # fmt: skip
def test_the_form_to_write_is_said_and_works(said: str, poles: int, throws: int) -> None:
    hint = re.fullmatch(r"write (\w+)(?:, with (.*))?", way_out(f"'{said}'"))
    assert hint is not None
    form, more = hint.groups()
    spec = read_with(form, f", {more}" if more else "")
    (switch,) = spec.all_of(Switch, spec.original).values()
    assert (len(switch.poles), switch.throws) == (poles, throws)


@pytest.mark.parametrize(("said", "style", "timings"), [
    ("4P3T lever shorting", None, ["shorting"] * 4),
    ("SP3T MBB", None, ["shorting"]),
    ("SP3T (break-before-make)", None, ["non-shorting"]),
    ("DP3T rotary shorting", "rotary", ["shorting"] * 2),
    ("3 pole 4 way rotary, non-shorting", "rotary", ["non-shorting"] * 3),
    ("4P4T rotary, two wafers, C shorting", "rotary", [None, None, "shorting", None]),
    ("3P3T, A and B non-shorting, C shorting", None, ["non-shorting", "non-shorting", "shorting"]),
    ("a shorting DP3T", None, ["shorting"] * 2),
])  # fmt: skip
def test_style_and_timing_said_with_the_form_get_keys_of_their_own(
    said: str, style: str | None, timings: list[str | None]
) -> None:
    """The way out loses nothing of it; interview and fit understand the same words."""
    hint = re.fullmatch(r"write (\w+), with (.*)", way_out(f"'{said}'"))
    assert hint is not None
    form, more = hint.groups()
    spec = read_with(form, f", {more}")
    (switch,) = spec.all_of(Switch, spec.original).values()
    assert switch.style == style
    assert [s.timing if s.timing_stated else None for s in switch.sections] == timings
    told = switch_told(said)
    assert told is not None
    assert told.form == form
    assert ", ".join(f"{key}: {value}" for key, value in told.beside.items()) == more


@pytest.mark.parametrize(("said", "form"), [
    ("single pole changeover", "SPDT"), ("changeover", "SPDT"), ("on-off", "SPST"),
    ("double pole double throw", "DPDT"),
    ("on-on", "SPDT"),
])  # fmt: skip
def test_two_throws_for_three_positions_are_told_twice(said: str, form: str) -> None:
    """The form first; then which position is open, by the names of the control."""
    assert way_out(f"'{said}'") == f"write {form}"
    positions = re.search(r"positions: \{.*?\}", way_out(form))
    assert positions is not None
    assert read_with(form, f", {positions[0]}")


@pytest.mark.parametrize("said", ["10 VDC", "10 V DC", "10 Vdc", "10 volts DC", "10 v", "10"])
def test_volts(said: str) -> None:
    assert read(said, SIGNED_VOLTS) == 10.0


@pytest.mark.parametrize(("said", "watts"), [("1/2 W", 0.5), ("1/4W", 0.25), ("10", 10.0)])
def test_watts(said: str, watts: float) -> None:
    assert read(said, WATTS) == watts


@pytest.mark.parametrize("said", ["1 mA DC", "1 ma", "1 mAdc", "1 milliamp", "1000 ua"])
def test_a_meter(said: str) -> None:
    value, measure = read_either(said, (SOME_AMPS, SOME_VOLTS))
    assert (value, measure.unit) == (pytest.approx(1e-3), "A")


def test_a_toggle_of_three_throws_is_asked_which_kind_it_is() -> None:
    """A lever of three positions has six lugs on two poles (common practice, no source)."""
    keys = ", style: toggle"
    spec = read_with("DP3T", keys)
    (asked,) = [notice.message for notice in spec.notices if "toggle" in notice.message]
    assert "usually has 6 lugs, not 8" in asked
    positions = re.search(r"positions: \{.*?\}", asked)
    assert positions is not None
    mended = read_with("DPDT", f"{keys}, {positions[0]}")
    assert not [notice for notice in mended.notices if "toggle" in notice.message]
    (switch,) = mended.all_of(Switch, mended.original).values()
    assert len(switch.terminals) == 6
    assert switch.throw_at == (1, None, 2)


SWAP = """\
rewire: 1
title: a swap with a slip of the pen
controls: {K: [UP, DOWN]}
points: {X: {}, Y: {}, CH: {chassis: yes}}
rules:
  - {connect: [X, CH]}
wirings:
  original:
    parts: {S1: {switch: DPDT, control: K, timing: shorting}}
    wires:
      - [S1.A, X, WHBU]
      - [S1.B, Y]
      - [S1.A1, S1.A2]
      - [S1.A2, CH]
"""


@pytest.mark.parametrize(("slip", "meant"), [
    ("switch DPDT", "switch: DPDT"), ("switch:DPDT", "switch: DPDT"), ("control K", "control: K"),
    ("connect: X CH", "[X, CH]"), ("conect: [X, CH]", "connect"), ("- S1.A2 - CH", "[S1.A2, CH]"),
    ("-[S1.A2, CH]", "- [S1.A2, CH]"), ("S1. B,", "S1.B"), ("S1.b,", "S1.B"), ("wires\n", "wires:"),
    ("white-blue", "WHBU"), ("make before break", "shorting"), ("point:", "points"),
    ("S1.A3,", "A, A1, A2, B, B1, B2"), ("  - [X, CH]", "{connect: ["),
])  # fmt: skip
def test_a_slip_is_answered_with_what_was_meant(slip: str, meant: str) -> None:
    """One fault for one slip, and its way out says what to write."""
    right = {
        "connect: X CH": "connect: [X, CH]", "- S1.A2 - CH": "- [S1.A2, CH]", "S1. B,": "S1.B,",
        "S1.b,": "S1.B,", "wires\n": "wires:\n", "point:": "points:", "S1.A3,": "S1.A1,",
        "conect: [X, CH]": "connect: [X, CH]", "  - [X, CH]": "  - {connect: [X, CH]}",
    }.get(slip, meant)  # fmt: skip
    assert right in SWAP
    read_text(SWAP.encode())
    with pytest.raises(SpecError) as refused:
        read_text(SWAP.replace(right, slip).encode())
    assert len(refused.value.faults) == 1
    assert meant in str(refused.value.faults[0].hint)


@pytest.mark.parametrize("form", ["2p6t", "dp6t", " DP6T "])
def test_a_form_is_read_in_small_letters(form: str) -> None:
    spec = read_text(SWAP.replace("DPDT", f"'{form}'").encode())
    (switch,) = spec.all_of(Switch, spec.original).values()
    assert (len(switch.poles), switch.throws) == (2, 6)
    assert switch.form == form.strip().upper()
