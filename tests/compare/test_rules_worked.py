"""Rules by hand: ohms at their limits, pots, values not known, words, and the stated limit."""

from __future__ import annotations

import pytest

from rewire.circuit.states import LimitReached
from rewire.compare import compare
from rewire.compare.findings import Finding
from rewire.reading import read_text
from rewire.records.switches import pole_letters

BENCH = """
rewire: 1
title: Rules by hand
controls: {{K: [ONE, TWO]}}
points: {{A: {{}}, B: {{}}, C: {{}}}}
{readings}rules:
{rules}
wirings:
  original: &same
    parts: {{{parts}}}
    wires: [{wires}]
  other: *same
"""
FITTED = (
    "readings: {r: {current: [A, C], full_scale: 1 mA, meter: M1}, "
    "q: {current: [A, C], full_scale: 2 mA, meter: M1}}\n"
)


def broken(rules: list[str], parts: str, wires: str) -> list[Finding]:
    """What the copy of an original breaks; a part left to be found gets a reading to be for."""
    fitted = "fit" in parts
    meter = ", M1: {meter: 1 mA, resistance: 5 ohm}" if fitted else ""
    text = BENCH.format(
        rules="\n".join(f"  - {rule}" for rule in rules),
        parts=parts + meter,
        wires=wires,
        readings=FITTED if fitted else "",
    )
    (result,) = compare(read_text(text.encode(), "rules.yaml"))
    return [finding for finding in result.findings if finding.kind == "rule"]


POT = "RV1: {{pot: 100 ohm{setting}}}"
POT_WIRES = "[A, RV1.ccw], [B, RV1.wiper], [C, RV1.cw]"
SET = ", setting: 25 %"


@pytest.mark.parametrize(
    ("rule", "setting", "holds"),
    [
        # 25 % of 100 ohm lie between ccw and the wiper, 75 ohm between the wiper and cw.
        ("{connect: [A, B], within: 25 ohm}", SET, True),
        ("{connect: [A, B], within: 24.9 ohm}", SET, False),
        ("{isolate: [A, B], beyond: 25 ohm}", SET, True),
        ("{isolate: [A, B], beyond: 25.1 ohm}", SET, False),
        ("{connect: [B, C], within: 75 ohm}", SET, True),
        ("{connect: [B, C], within: 74.9 ohm}", SET, False),
        ("{isolate: [B, C], beyond: 75 ohm}", SET, True),
        ("{isolate: [B, C], beyond: 75.1 ohm}", SET, False),
        ("{connect: [A, C], within: 100 ohm}", SET, True),
        ("{isolate: [A, C], beyond: 100.1 ohm}", SET, False),
        # Where it stands is not known: at most the whole track, at least nothing.
        ("{connect: [A, B], within: 100 ohm}", "", True),
        ("{connect: [A, B], within: 99.9 ohm}", "", False),
        ("{connect: [B, C], within: 99.9 ohm}", "", False),
        ("{isolate: [A, B], beyond: 0.1 ohm}", "", False),
        ("{isolate: [B, C], beyond: 0.1 ohm}", "", False),
    ],
)
def test_a_pot_in_a_rule_is_its_two_legs(rule: str, setting: str, holds: bool) -> None:
    """By Ohm's law; a limit that is met exactly is kept."""
    assert broken([rule], POT.format(setting=setting), POT_WIRES) == [] or not holds
    assert bool(broken([rule], POT.format(setting=setting), POT_WIRES)) != holds


@pytest.mark.parametrize(
    ("rule", "holds"),
    [
        ("{connect: [A, B], within: 10 ohm}", True),
        ("{connect: [A, B], within: 9.9 ohm}", False),
        ("{isolate: [A, B], beyond: 10 ohm}", True),
        ("{isolate: [A, B], beyond: 10.1 ohm}", False),
        ("{isolate: [A, B]}", False),
        ("{connect: [A, B]}", False),
    ],
)
def test_a_limit_that_is_met_exactly_is_kept(rule: str, holds: bool) -> None:
    """``within`` is at most, ``beyond`` at least; without them only ties count, or any path."""
    found = broken([rule], "R1: {resistor: 10 ohm}", "[A, R1.1], [B, R1.2]")
    assert bool(found) != holds


@pytest.mark.parametrize(
    ("rule", "now"),
    [
        ("{connect: [A, B], within: 1 Mohm}",
         "the values of R1 and R2 are not known and cannot be counted on"),
        ("{isolate: [A, B], beyond: 0.5 ohm}",
         "the values of R1 and R2 are not known and count as none"),
    ],
)  # fmt: skip
def test_two_values_that_are_not_known_speak_against_a_rule_together(rule: str, now: str) -> None:
    parts = "R1: {resistor: fit, for: r}, R2: {resistor: fit, for: q}"
    (found,) = broken([rule], parts, "[A, R1.1], [R1.2, R2.1], [R2.2, B]")
    assert found.now is not None
    assert found.now.endswith(f"; {now}")


def test_a_pot_of_unknown_setting_is_said_to_be_not_known_and_a_set_one_is_not() -> None:
    rule = "{isolate: [A, B], beyond: 50 ohm}"
    (unset,) = broken([rule], POT.format(setting=""), POT_WIRES)
    assert unset.now is not None
    assert unset.now.endswith("; the value of RV1 is not known and counts as none")
    (stood,) = broken([rule], POT.format(setting=SET), POT_WIRES)
    assert stood.now is not None
    assert "known" not in stood.now


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("{connect: [A, B]}", "A and B must be connected"),
        ("{connect: [B, A], within: 9 ohm}", "B and A must be connected within 9 ohm"),
        ("{isolate: [A, B]}", "A and B must not be connected"),
        ("{isolate: [A, B], beyond: 2.5 kohm}", "A and B must be isolated by 2.5 kohm or more"),
    ],
)
def test_a_broken_rule_is_told_by_its_number_in_the_file_with_its_reason(
    rule: str, said: str
) -> None:
    """The first rule holds; the second is broken at rest, in every position."""
    why = rule.replace("}", ", why: for the test}")
    parts = "R1: {resistor: 10 ohm}"
    (found,) = broken(["{isolate: [A, C]}", why], parts, "[A, R1.1], [B, R1.2]")
    assert found.message == f"rule 2: {said}"
    assert found.rule == 1
    assert found.why == "for the test"
    assert found.groups == (("A",), ("B",))
    assert not found.steps


MOVING = "S1: {{switch: SP2T, control: K, timing: {timing}}}"
MOVED = "[A, S1.A], [B, S1.A1], [{second}, S1.A2]"


def test_a_rule_broken_on_the_way_alone_says_so() -> None:
    """A and B are one in both positions; a non-shorting section lets go between."""
    rule = "{connect: [A, B], while_switching: yes}"
    wires = MOVED.format(second="B")
    (found,) = broken([rule], MOVING.format(timing="non-shorting"), wires)
    assert found.message == "rule 1: A and B must be connected; opens for a moment"
    assert found.now == "the old contacts open before the new ones close"
    assert [(s.before.at, s.after.at) for s in found.steps] == [((("K", "ONE"),), (("K", "TWO"),))]
    assert not found.states
    assert broken([rule], MOVING.format(timing="shorting"), wires) == []


def test_a_rule_that_isolates_and_is_broken_on_the_way_shows_that_way() -> None:
    """Two throws of a shorting section are one for a moment."""
    rule = "{isolate: [B, C], while_switching: yes}"
    wires = MOVED.format(second="C")
    (found,) = broken([rule], MOVING.format(timing="shorting"), wires)
    assert found.message == "rule 1: B and C must not be connected; shorts for a moment"
    assert found.now == "B – wire W2 – S1.A1 – S1.A – S1.A2 – wire W3 – C"
    assert broken([rule], MOVING.format(timing="non-shorting"), wires) == []


@pytest.mark.parametrize(
    ("when", "count"),
    [("ONE", 0), ("TWO", 0), ("[ONE, TWO]", 1)],
)
def test_a_rule_with_positions_is_asked_in_moves_between_them_alone(when: str, count: int) -> None:
    rule = f"{{connect: [A, B], while_switching: yes, when: {{K: {when}}}}}"
    found = broken([rule], MOVING.format(timing="non-shorting"), MOVED.format(second="B"))
    assert len(found) == count


def shorting_sections(count: int) -> tuple[str, str]:
    """So many shorting sections on one control, side by side between A and B, each over 1 ohm."""
    letters = pole_letters(count)
    parts = f"S1: {{switch: {count}P2T, control: K, timing: shorting}}"
    wires = []
    for letter in letters:
        parts += f", R{letter}: {{resistor: 1 ohm}}"
        wires += [f"[A, S1.{letter}], [S1.{letter}1, R{letter}.1], [S1.{letter}2, R{letter}.1]"]
        wires += [f"[R{letter}.2, B]"]
    return parts, ", ".join(wires)


def test_a_rule_over_more_sections_than_can_be_tried_is_refused_by_name() -> None:
    """Twelve sections are 4096 combinations, which is the limit; thirteen are twice as many."""
    rule = "{connect: [A, B], within: 1 ohm, while_switching: yes}"
    assert broken([rule], *shorting_sections(12)) == []
    with pytest.raises(LimitReached, match=r"connect A and B: 13 sections move at once.* 4096 "):
        broken([rule], *shorting_sections(13))


def test_a_rule_broken_while_switching_is_reported_for_every_other_position() -> None:
    """B and C are one for a moment whichever throw of the other switch C stands on."""
    text = BENCH.format(
        rules="  - {isolate: [B, C], while_switching: yes}",
        parts=MOVING.format(timing="shorting") + ", S2: {switch: SP2T, control: L}",
        wires="[A, S1.A], [B, S1.A1], [S2.A, S1.A2], [S2.A1, C], [S2.A2, C]",
        readings="",
    ).replace("controls: {K: [ONE, TWO]}", "controls: {K: [ONE, TWO], L: [UP, DOWN]}")
    (result,) = compare(read_text(text.encode(), "rules.yaml"))
    (found,) = (finding for finding in result.findings if finding.kind == "rule")
    assert [dict(step.before.at) for step in found.steps] == [
        {"K": "ONE", "L": "UP"},
        {"K": "ONE", "L": "DOWN"},
    ]
