"""What is read as written, though something else was probably meant, is told with what that is."""

from __future__ import annotations

from typing import Any

import pytest

from tests.reading.builders import bare, faults, full, put, read, text_faults

SUB = ("wirings", "substitute")
M = {"meter": "1 mA", "resistance": "50 ohm"}


def notes(spec: dict[str, Any]) -> str:
    return "\n".join(notice.message for notice in read(spec).notices)


def parts(**own: Any) -> dict[str, Any]:
    return bare(substitute={"parts": own})


# Old American drawings write MA, MV and MW for milli and mF for micro (common practice, no source).
@pytest.mark.parametrize(
    ("path", "value", "meant"),
    [
        (("wirings", "original", "parts", "M1", "meter"), "1 MA", "write 1 mA"),
        (("wirings", "original", "parts", "M1", "meter"), "50 MV", "write 50 mV"),
        (("readings", "bias", "full_scale"), "100 MA", "write 100 mA"),
        (("readings", "bias", "also", 0, "amount"), "6MA", "write 6 mA"),
        (("parts", "R1", "rating"), "500 MW", "write 500 mW"),
        (("parts", "H1", "current"), "150 MA", "write 150 mA"),
        (("parts", "C1", "capacitor"), "8 mF", "write 8 uF"),
        (("parts", "R1", "resistor"), "10 m", "write 10 mohm, or 10 Mohm"),
        (("parts", "R1", "resistor"), "50M", "write 50 Mohm"),
        (("parts", "R1", "tolerance"), "0.05", "write 5 % if that is meant"),
        (("parts", "R1", "tolerance"), ".1", "write 10 % if that is meant"),
    ],
)
def test_a_doubtful_prefix_is_pointed_out(path: Any, value: str, meant: str) -> None:
    assert meant in notes(put(full(), path, value))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("wirings", "original", "parts", "M1", "meter"), "1 mA"),
        (("parts", "R1", "resistor"), "10 Mohm"), (("parts", "R1", "resistor"), "10 mohm"),
        (("parts", "C1", "capacitor"), "8 uF"), (("parts", "R1", "tolerance"), "0.05 %"),
        (("parts", "R1", "tolerance"), "5"),
    ],
)  # fmt: skip
def test_what_is_clear_gives_no_notice(path: Any, value: str) -> None:
    assert "is read as" not in notes(put(full(), path, value))


def test_a_number_without_its_prefix_is_told_beside_the_same_with_one() -> None:
    said = notes(parts(R1={"resistor": "23.7"}, R2={"resistor": "23.7k"}, R3={"resistor": "10"}))
    assert said.count("'23.7k' stands elsewhere: write 23.7 ohm, or 23.7k") == 1
    assert "'10'" not in said


def test_the_only_number_without_a_unit_is_told() -> None:
    said = notes(parts(R1={"resistor": "47"}, R2={"resistor": "1k"}, R3={"resistor": "2.2 ohm"}))
    assert "'47' is read as ohms; all others have a unit or a prefix" in said
    plain = notes(parts(R1={"resistor": "47"}, R2={"resistor": "100"}, R3={"resistor": "22k"}))
    assert "is read as ohms" not in plain


def test_two_wires_between_the_same_two_are_told() -> None:
    wires = [["X", "CH"], ["CH", "X", "BK"], ["X", "cut"], ["X", "cut"]]
    said = notes(bare(substitute={"wires": wires}))
    assert said.count("is one too many?") == 1
    assert "W2 connects CH and X, and so does W1" in said


def test_a_point_called_like_a_colour_is_not_taken_for_one() -> None:
    spec = put(bare(substitute={"wires": [["X", "CH", "GN"]]}), ("points", "GN"), {})
    assert "'GN' is a point of this spec and a colour as well; write two wires" in faults(spec)
    as_said = {"from": "X", "to": "CH", "colour": "GN"}
    clear = put(bare(substitute={"wires": [as_said]}), ("points", "GN"), {})
    assert faults(clear) == ""


def test_never_must_leave_a_state() -> None:
    every = [{"K": position} for position in "PQR"]
    assert "never: these rule out every state" in faults(bare() | {"never": every})
    two = bare() | {"controls": {"K": ["P", "Q"], "L": ["A", "B"]}}
    never = [{"K": "P", "L": "A"}, {"K": "P", "L": "B"}]
    assert "K can never be at P" in notes(two | {"never": never})
    assert notes(two | {"never": never[:1]}) == ""
    both = [*never, {"K": "Q", "L": "A"}, {"K": "Q", "L": "B"}]
    assert "never: these rule out every state" in faults(two | {"never": both})


def test_never_over_many_controls_is_decided_or_let_pass_in_time() -> None:
    names = [f"K{n}" for n in range(30)]
    controls = {name: ["P", "Q"] for name in names}
    pairs = [{a: "P", b: "P"} for a in names for b in names if a < b]
    assert faults(bare() | {"controls": controls, "never": pairs}) == ""


# The Cyrillic er, a blank at the end, a zero width space, a full-width letter.
@pytest.mark.parametrize("other", ["\u0420", "P ", "P\u200b", "\uff30"])
def test_positions_that_look_alike_are_refused(other: str) -> None:
    said = faults(bare() | {"controls": {"K": ["P", other]}})
    assert "positions" in said
    assert "alike" in said


def test_a_point_that_nothing_reaches_is_told() -> None:
    spec = put(bare(substitute={"wires": [["X", "Y"]]}), ("points", "Y"), {})
    assert notes(spec) == ""
    assert "reaches Z: is one forgotten?" in notes(put(spec, ("points", "Z"), {}))


FILE = """
rewire: 1
title: t
points: {{X: {{}}, CH: {{chassis: yes}}}}
wirings:
  original:
    parts:
      M2: {{meter: 1 mA, resistance: {ohms}}}
    nets:
      - [X, M2.+]
      - [CH, {minus}]
"""


@pytest.mark.parametrize("sign", ["\u2212", "\u2013", "\u2010"])
def test_a_typographic_minus_is_the_lug_minus(sign: str) -> None:
    assert text_faults(FILE.format(ohms="5 ohm", minus=f"M2.{sign}")) == ""
    claims = bare(
        original={"parts": {"M1": M}},
        substitute={"parts": {"M2": M | {"replaces": {"+": "M1.+", sign: f"M1.{sign}"}}}},
    )
    spec = read(claims)
    assert spec.wirings["substitute"].parts["M2"].replaces == {"+": "M1.+", "-": "M1.-"}


@pytest.mark.parametrize(
    ("ohms", "way_out"),
    [("0,526 ohm", "write 0.526 ohm"), ("120,000", "write 120000, or 120.000"),
     ("1,5k", "write 1.5k"), ("12,5", "write 12.5")],
)  # fmt: skip
def test_a_comma_in_a_number_gets_the_right_way_out_at_once(ohms: str, way_out: str) -> None:
    said = text_faults(FILE.format(ohms=ohms, minus="M2.-"))
    assert way_out in said
    assert said.count("\n") == 0
    flow = "{{meter: 1 mA, resistance: {ohms}}}"
    block = FILE.replace(flow, "\n        meter: 1 mA\n        resistance: {ohms}")
    assert way_out in text_faults(block.format(ohms=ohms, minus="M2.-"))
