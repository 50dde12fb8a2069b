"""What a broken rule shows: the way there is, what it stops at, which values are not known."""

from __future__ import annotations

import pytest

from rewire.compare import compare
from rewire.reading import read_text

RULED = """
rewire: 1
title: Rules
controls: {K: [ONE, TWO]}
points: {CHASSIS: {chassis: yes}, A: {}, B: {}}
rules: [RULE]
wirings:
  original:
    parts: {S1: {switch: SPDT, control: K}, R1: {resistor: 10 ohm}}
    wires: [[A, S1.A], [S1.A1, R1.1], [R1.2, B]]
  other:
    parts: {S1: {switch: SPDT, control: K}, R1: {resistor: VALUE}}
    wires: [[A, S1.A], [S1.A1, R1.1], [R1.2, B]]
"""


@pytest.mark.parametrize(
    ("rule", "value", "now"),
    [
        ("{connect: [A, B], within: 5 ohm, when: {K: ONE}}", "10 ohm",
         "A – wire W1 – S1.A – S1.A1 – wire W2 – R1.1 – R1.2 – wire W3 – B: "
         "10 ohm, more than 5 ohm"),
        ("{connect: [A, B], within: 9.9999 ohm, when: {K: ONE}}", "10.0001 ohm",
         "A – wire W1 – S1.A – S1.A1 – wire W2 – R1.1 – R1.2 – wire W3 – B: "
         "10 ohm, more than 9.9999 ohm"),
        ("{connect: [A, B], within: 10 ohm, when: {K: ONE}}", "10.0001 ohm",
         "A – wire W1 – S1.A – S1.A1 – wire W2 – R1.1 – R1.2 – wire W3 – B: "
         "10.0001 ohm, more than 10 ohm"),
        ("{connect: [A, B], within: 5 ohm, when: {K: TWO}}", "1 ohm",
         "A stops at S1.A and S1.A2; B is connected to R1.2 alone"),
        ("{isolate: [A, B], beyond: 99 ohm}", "10 ohm",
         "A – wire W1 – S1.A – S1.A1 – wire W2 – R1.1 – R1.2 – wire W3 – B: "
         "10 ohm, less than 99 ohm"),
        ("{isolate: [A, B], beyond: 99 ohm}", "fit, for: r",
         "A – wire W1 – S1.A – S1.A1 – wire W2 – R1.1 – R1.2 – wire W3 – B; "
         "the value of R1 is not known and counts as none"),
        ("{connect: [A, B], within: 99 ohm, when: {K: ONE}}", "fit, for: r",
         "A – wire W1 – S1.A – S1.A1 – wire W2 – R1.1 – R1.2 – wire W3 – B; "
         "the value of R1 is not known and cannot be counted on"),
    ],
)  # fmt: skip
def test_a_broken_rule_says_what_there_is_instead(rule: str, value: str, now: str) -> None:
    """The ways were followed by hand."""
    text = RULED.replace("RULE", rule).replace("VALUE", value)
    if "fit" in value:
        text += "readings: {r: {current: [A, B], full_scale: 1 mA, meter: M1}}\n"
        text = text.replace("R1: {resistor: 10 ohm}}", "R1: {resistor: 10 ohm}, M1: {meter: 1 mA}}")
        text = text.replace("for: r}}", "for: r}, M1: {meter: 1 mA}}")
    (result,) = compare(read_text(text.encode(), "rules.yaml"))
    (finding,) = (f for f in result.findings if f.kind == "rule")
    assert finding.now == now


PLACES = """
rewire: 1
title: Places of rules
controls: {K: [ONE, TWO]}
points: {CHASSIS: {chassis: yes}, A: {}}
rules: [RULE]
wirings:
  original:
    parts: {S1: {switch: SPDT, control: K}, M1: {meter: 1 mA, resistance: 5 ohm}}
    wires: [[A, S1.A], [S1.A1, M1.+], [M1.-, CHASSIS]]
  other:
    parts: {S2: {switch: SPDT, control: K}, M2: {meter: 1 mA, resistance: 5 ohm, replaces: M1}}
    wires: [[A, S2.A], [S2.A1, M2.+], [M2.-, CHASSIS]]
"""


@pytest.mark.parametrize(
    ("rule", "broken", "now"),
    [
        ("{connect: [A, M1.+], when: {K: ONE}}", [], None),
        (
            "{connect: [A, M1.+]}",
            [(("K", "TWO"),)],
            "A stops at S2.A and S2.A2; M2.+ stops at S2.A1",
        ),
        ("{isolate: [A, M1.+]}", [(("K", "ONE"),)], "A – wire W1 – S2.A – S2.A1 – wire W2 – M2.+"),
        ("{connect: [S1.A, CHASSIS], when: {K: ONE}}", [(("K", "ONE"),)], "other has no S1.A"),
        ("{isolate: [S1.A, A]}", [], None),
    ],
)
def test_places_of_rules_go_by_their_role_and_a_place_that_is_gone_joins_nothing(
    rule: str, broken: list[tuple[tuple[str, str], ...]], now: str | None
) -> None:
    (result,) = compare(read_text(PLACES.replace("RULE", rule).encode(), "places.yaml"))
    found = [f for f in result.findings if f.kind == "rule"]
    assert [state.at for f in found for state in f.states] == broken
    assert [f.now for f in found] == ([now] if now else [])
