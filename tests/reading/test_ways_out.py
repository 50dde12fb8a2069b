"""The way out that a message tells, followed to the letter, works."""

from __future__ import annotations

import pytest

from rewire.bench.starters import starter
from rewire.reading import SpecError, read_text

TEXT = starter("meter-switch", "swap.yaml").replace("volts: 0.05 V, rises_to", "rises_to", 1)
R1 = "R1: {resistor: 1 ohm, tolerance"
# As it should be, as it was typed, and what the message has to say to write instead.
SLIPS = [
    ("  original:", "  orignal:", "original"),
    ("points:\n", "point:\n", "points"),
    ("  SUPPLY: {volts", "  HT TAP: {}\n  SUPPLY: {volts", "HT_TAP"),
    ("[S1.A1, CATHODE1, YE]", "[A1, CATHODE1, YE]", "S1.A1"),
    ("[S1.A1, CATHODE1, YE]", "[S1.a1, CATHODE1, YE]", "S1.A1"),
    ("[S1.A1, CATHODE1, YE]", "[S1.A1, CATODE1, YE]", "CATHODE1"),
    ("[S1.A1, CATHODE1, YE]", "[S1.A1, CATHODE1, YE/GN]", "YEGN"),
    ("[S1.A1, CATHODE1, YE]", "[S1.A1, CATHODE1, yellow]", "YE"),
    ("[S1.A1, CATHODE1, YE]", "[S1.A1 CATHODE1 YE]", "S1.A1, CATHODE1, YE"),
    ("[S1.A1, CATHODE1, YE]", "{S1.A1, CATHODE1, YE}", "[S1.A1, CATHODE1, YE]"),
    ("[S1.A1, CATHODE1, YE]", "S1.A1 to CATHODE1", "[S1.A1, CATHODE1]"),
    ("- [S1.A1, CATHODE1, YE]", "[S1.A1, CATHODE1, YE]", "- [S1.A1, CATHODE1, YE]"),
    ("- [S1.A1, CATHODE1, YE]", "-[S1.A1, CATHODE1, YE]", "- [S1.A1, CATHODE1, YE]"),
    ("METER: [V1, V2, V3]", "METER: [V1 V2 V3]", "V1, V2, V3"),
    ("when: {METER: V1}", "when: {METR: V1}", "METER"),
    ("when: {METER: V1}", "when: {METER: V11}", "V1"),
    ("switch: 3P3T", "switch: 3 pole 3 way", "3P3T"),
    ("style: rotary", "style: rotory", "rotary"),
    ("timing: {A: non-shorting", "timing: {A: break before make", "non-shorting"),
    ("{volts: 250 V, amps: 1 A}", "{voltage: 250 V, amps: 1 A}", "volts"),
    ("resistance: 99 ohm", "resistence: 99 ohm", "resistance"),
    ("resistance: 99 ohm", "resistance: 99,5 ohm", "99.5 ohm"),
    ("M1: {meter: 1 mA", "M1: {ammeter: 1 mA", "meter"),
    (R1, "R1: {resistr: 1 ohm, tolerance", "resistor"),
    (R1, "R1: {resistor 1 ohm, tolerance", "resistor: 1 ohm"),
    (R1, "R1: {resistor: fit, for: valve1, tolerance", "valve_1"),
    (R1, "R1: {resistor: fit, for: valve_1, choose: E95, tolerance", "E96"),
    (R1, "R1: {resistor: 1 ohm, tolerence: 1 %, tolerance", "tolerance"),
    (
        "CHASSIS: {chassis: yes, where: solder tag beside the switch}",
        "CHASSIS: solder tag",
        "CHASSIS: {where: solder tag}",
    ),
    ("connect: [SUPPLY, LOAD]", "conect: [SUPPLY, LOAD]", "connect"),
    ("plan: replace", "plan: replaced", "replace"),
    ("  substitute:\n", "  substitute:\n    role: planed\n", "plan"),
    ("controls:\n", "controls\n", "controls:"),
    ("  CHASSIS: {chassis", "  CHASSIS:{chassis", "CHASSIS: {chassis: yes, where: solder tag"),
    ("  METER: [V1", "  METER:[V1", "METER: [V1, V2, V3]"),
    ("when: {METER: V1}", "when:{METER: V1}", "a space is missing after 'when:'"),
    ("R1: {resistor: 1 ohm", "R1:{resistor: 1 ohm", "R1: {resistor: 1 ohm"),
    ("rewire: 1\n", "rewire: 2\n", "rewire: 1"),
]


def faults(text: str) -> list[str]:
    try:
        read_text(text.encode())
    except SpecError as error:
        return [f"{fault.message}; {fault.hint}" for fault in error.faults]
    return []


@pytest.mark.parametrize(("right", "wrong", "out"), SLIPS, ids=[slip[1] for slip in SLIPS])
def test_a_slip_is_told_once_with_what_to_write(right: str, wrong: str, out: str) -> None:
    assert TEXT.count(right) >= 1
    assert faults(TEXT) == []
    (told,) = faults(TEXT.replace(right, wrong, 1))
    assert out.strip() in told


@pytest.mark.parametrize(
    ("wrong", "out"),
    [
        ("[S1.A1, CATHODE1, YE/GN]", "[S1.A1, CATHODE1, YEGN]"),
        ("{S1.A1, CATHODE1, YE}", "[S1.A1, CATHODE1, YE]"),
        (
            "[S1.A1, CATHODE1, YE, 80 mm]",
            "{from: S1.A1, to: CATHODE1, colour: YE, length: 80 mm}",
        ),
    ],
)
def test_a_wire_written_as_the_message_says_is_read(wrong: str, out: str) -> None:
    right = "[S1.A1, CATHODE1, YE]"
    (told,) = faults(TEXT.replace(right, wrong, 1))
    assert told
    assert faults(TEXT.replace(right, out, 1)) == []
