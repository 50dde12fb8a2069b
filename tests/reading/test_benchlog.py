"""Bench logs: what is read, and what is refused with its place."""

from __future__ import annotations

import random

import pytest

from rewire.reading.benchlog import BenchLog, read_bench_log_text
from rewire.reading.faults import SpecError
from rewire.reading.read import read_text
from rewire.records.spec import Spec
from rewire.words.arcs import dial_ends, figures_of

SPEC = b"""
rewire: 1
title: t
controls: {METER: [ON, OFF], SEND: [NO, YES]}
points: {A: {}, B: {}}
parts: {M1: {meter: 1 mA, resistance: 50 ohm}}
readings:
  amps: {when: {METER: ON}, current: [A, B], full_scale: 50 mA, scale: 0-250}
  volts: {when: {METER: OFF}, voltage: [A, B], full_scale: 500 V, scale: red arc}
acceptance: [{test: power, expect: 20 W to 30 W}]
wirings:
  original: {parts: {S1: {switch: SPDT, control: METER}}, wires: [[A, S1.A]]}
  other: {parts: {S2: {switch: SPDT, control: METER}}, wires: [[A, S2.A]]}
"""
HEAD = "rewire_bench: 1\nwiring: other\n"
WHOLE: Spec = read_text(SPEC)


def log(text: str, head: str = HEAD) -> BenchLog:
    return read_bench_log_text((head + text).encode(), WHOLE, "log")


def faults(text: str, head: str = HEAD) -> list[str]:
    with pytest.raises(SpecError) as caught:
        log(text, head)
    return str(caught.value).splitlines()


def test_a_whole_log() -> None:
    found = log(
        """
by: A. Person
date: 2025-04-01
notes: [lamp 3 was dead, zero screw stiff]
continuity:
  - {when: {METER: ON, SEND: NO}, between: [S2.A, S2.A1], found: closed}
  - {between: [A, B], found: OL, note: after an hour}
  - {when: {METER: OFF}, between: [S2.A2, A], found: 4k7}
calibration:
  - {reading: amps, applied: 25 mA, indicated: 126}
  - {reading: amps, applied: 50 %, indicated: 24 mA}
  - {reading: volts, applied: 100 V, indicated: -1 V}
acceptance:
  - {test: power, found: 24 W}
"""
    )
    assert (found.wiring, found.by, found.date) == ("other", "A. Person", "2025-04-01")
    assert found.notes == ("lamp 3 was dead", "zero screw stiff")
    read = [(dict(b.when), b.between, b.found, b.ohms) for b in found.continuity]
    assert read == [
        ({"METER": "ON", "SEND": "NO"}, ("S2.A", "S2.A1"), "closed", None),
        ({}, ("A", "B"), "open", None),
        ({"METER": "OFF"}, ("S2.A2", "A"), "ohms", 4700.0),
    ]
    assert found.continuity[1].note == "after an hour"
    runs = [(c.reading, c.applied, c.indicated) for c in found.calibration]
    assert runs == [
        ("amps", 0.025, pytest.approx(0.0252)), ("amps", 0.025, 0.024), ("volts", 100.0, -1.0),
    ]  # fmt: skip
    assert [(a.test, a.found) for a in found.acceptance] == [("power", "24 W")]


def test_all_errors_at_once_each_with_its_place() -> None:
    text = """
continuty: []
continuity:
  - {when: {METR: ON}, between: [S2.A, S2.A1], found: closed}
  - {when: {METER: ONN}, between: [S1.A, S2.A1], found: shut}
  - {between: [A, A], found: open}
  - {between: [A], found: 3 V}
  - plain
calibration:
  - {reading: amp, applied: 1 mA, indicated: 1 mA}
  - {reading: volts, applied: 1 mA, indicated: 7}
acceptance:
  - {test: powr, found: 1 W}
  - {test: power}
"""
    told, lines = faults(text), (HEAD + text).splitlines()
    wanted = [
        (4, "continuty", "unknown key 'continuty'", "nearest is 'continuity'"),
        (6, "METR", "no control 'METR'", "'METER'"),
        (7, "ONN", "no position 'ONN'", "'ON'"),
        (7, "S1.A", "no part 'S1' in wiring 'other'", "'S2.A'"),
        (7, "shut", "'shut'", "closed, open"),
        (8, "[A, A]", "both ends are 'A'", ""),
        (9, "[A]", "between: two points or terminals", "write ["),
        (9, "3 V", "in volts", "closed, open"),
        (10, "plain", "keys and values are needed", ""),
        (12, "amp,", "no reading is called 'amp'", "'amps'"),
        (13, "1 mA", "'1 mA'", "50 V"),
        (13, "7}", "'7' has no unit", "arc named by its ends"),
        (15, "powr", "no acceptance test is called 'powr'", "'power'"),
        (16, "{test: power}", "'found' is missing", ""),
    ]
    assert len(told) == len(wanted), "\n".join(told)
    for line, (number, word, message, hint) in zip(told, wanted, strict=True):
        assert line.startswith(f"log:{number}:{lines[number - 1].index(word) + 1}:"), line
        assert message in line, line
        assert hint in line, line


@pytest.mark.parametrize(
    ("head", "says"),
    [
        ("wiring: other\n", "'rewire_bench: 1' is needed"),
        ("rewire_bench: 2\nwiring: other\n", "write rewire_bench: 1"),
        ("rewire_bench: 1\n", "does not say which wiring"),
        ("rewire_bench: 1\nwiring: othr\n", "nearest is 'other'"),
        ("rewire_bench: 1\nwiring: [other]\n", "does not say which wiring"),
    ],
)
def test_heads(head: str, says: str) -> None:
    assert says in "\n".join(faults("", head))


def test_a_log_of_another_wiring_is_refused() -> None:
    with pytest.raises(SpecError, match="this log is of 'other'"):
        read_bench_log_text(HEAD.encode(), WHOLE, "log", "original")


@pytest.mark.parametrize("seed", range(60))
def test_any_bytes_end_in_a_log_or_a_message(seed: int) -> None:
    rng = random.Random(seed)
    text = bytearray(
        HEAD.encode()
        + b"continuity:\n  - {when: {METER: ON}, between: [A, B], found: 3 ohm}\n"
        + b"calibration:\n  - {reading: amps, applied: 1 mA, indicated: 1}\n"
    )
    for _ in range(rng.randint(1, 6)):
        at = rng.randrange(len(text))
        text[at : at + rng.randint(0, 3)] = rng.choice(
            [b"", b"[", b"}", b":", b"\n", b"\t", b"'", b"\xff", b"- ", b"{}", b"0", b"nan"]
        )
    found = outcome(bytes(text))
    if isinstance(found, SpecError):
        assert found.faults
        assert all(fault.message and fault.place.line > 0 for fault in found.faults)
    else:
        assert found.wiring == "other"


def outcome(data: bytes) -> BenchLog | SpecError:
    """A log, or what is wrong with it; any other exception is a failure."""
    try:
        return read_bench_log_text(data, WHOLE, "log")
    except SpecError as error:
        return error


@pytest.mark.parametrize(
    ("scale", "ends"),
    [
        ("0-250", (0.0, 250.0)), ("-20 to 3", (-20.0, 3.0)), ("0 – 75", (0.0, 75.0)),
        ("5-5", None), ("", None), (None, None), ("0-250 red", None), ("red", None),
    ],
)  # fmt: skip
def test_arcs(scale: str | None, ends: tuple[float, float] | None) -> None:
    assert dial_ends(scale) == ends


@pytest.mark.parametrize(
    ("scale", "figures"),
    [("0-250", (0.0, 250.0)), ("-50 to 50", (0.0, 50.0)), ("10-15", (0.0, 15.0)), ("red", None)],
)
def test_zero_in_the_middle_or_suppressed_is_still_zero(
    scale: str, figures: tuple[float, float] | None
) -> None:
    """A linear dial: its figures go with what is fed, wherever the pointer rests."""
    assert figures_of(scale) == figures


@pytest.mark.parametrize(("scale", "figure"), [("-50 to 50", 25), ("10-15", 7.5), ("0-250", 125)])
def test_a_figure_of_half_the_arc_is_half_of_full_scale(scale: str, figure: float) -> None:
    spec = SPEC.decode().replace("scale: 0-250", f"scale: {scale}")
    entry = f"calibration:\n  - {{reading: amps, applied: 25 mA, indicated: {figure}}}\n"
    (point,) = read_bench_log_text((HEAD + entry).encode(), read_text(spec.encode())).calibration
    assert point.indicated == pytest.approx(0.025)


def test_falling_figures_of_a_pointer_that_rests_right_rise_with_what_is_fed() -> None:
    """Left to right 20 to 0: at rest it stands at 0, at full scale at 20."""
    spec = SPEC.decode().replace("scale: 0-250", "scale: 20-0")
    entry = "calibration:\n  - {reading: amps, applied: 25 mA, indicated: 15}\n"
    for zero, share in (("left", 0.25), ("right", 0.75)):
        made = read_text(spec.replace("meter: 1 mA", f"meter: 1 mA, zero: {zero}").encode())
        (point,) = read_bench_log_text((HEAD + entry).encode(), made).calibration
        assert point.indicated == pytest.approx(0.05 * share)
