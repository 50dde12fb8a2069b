"""What is offered where nothing fits hurts nobody, and names what would be lost."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.fit.test_done_when import SHIPPED, run

HARDWIRED = """
rewire: 1
title: two poles connect X2 and X4 in both positions, so a plain wire does
controls: {K: [p0, p1]}
points: {X0: {}, X1: {}, X2: {}, X3: {}, X4: {}}
wirings:
  original:
    parts: {S1: {switch: 3PDT, control: K, timing: non-shorting}}
    wires:
      - [S1.A, X4]
      - [S1.A2, X2]
      - [S1.B, S1.A2]
      - [S1.B1, X4]
      - [S1.B2, X2]
      - [S1.C, X3]
      - [S1.C1, X0]
      - [S1.C2, X1]
"""
BLEEDER = """
rewire: 1
title: supply changeover, the resting load is bled to chassis by pole B
controls: {BAND: [LOW, HIGH]}
points:
  CHASSIS: {chassis: yes}
  HT: {volts: 400 V, source_resistance: 10 ohm}
  LOW_AMP: {%s}
  HIGH_AMP: {%s}
wirings:
  original:
    parts: {S1: {switch: DPDT, control: BAND, timing: non-shorting}}
    wires: [[HT, S1.A], [S1.A1, LOW_AMP], [S1.A2, HIGH_AMP], [CHASSIS, S1.B], [S1.B1, HIGH_AMP]]
"""
BROKEN_TWICE = """
rewire: 1
title: what the rule asks for is open in R, and opens between P and Q
controls: {K: [P, Q, R]}
points: {X: {}, Y: {}, Z: {}}
rules: [{connect: [X, Y], while_switching: yes}]
wirings:
  original:
    parts: {S1: {switch: SP3T, control: K, timing: non-shorting}}
    wires: [[S1.A, X], [S1.A1, Y], [S1.A2, S1.A1], [S1.A3, Z]]
"""
TWO_LAMPS = """
rewire: 1
title: pole B shorts a lamp in one position
controls: {K: [P, Q]}
points: {X: {}, Y: {}, Z: {}, V: {}, W: {}}
wirings:
  original:
    parts: {S1: {switch: DPDT, control: K, timing: non-shorting}}
    wires: [[S1.A, X], [S1.A1, Y], [S1.A2, Z], [S1.B, V], [S1.B1, W]]
"""


def answer_of(text: str, tmp_path: Path, *words: str) -> tuple[int, dict, str]:
    spec = tmp_path / "spec.yaml"
    spec.write_text(text)
    found = run(str(spec), *words, "--timing", "non-shorting", "--json")
    said = run(str(spec), *words, "--timing", "non-shorting").output
    return found.exit_code, json.loads(found.output)["results"][0], " ".join(said.split())


def test_what_the_original_breaks_at_rest_and_while_switching_is_no_obstacle(
    tmp_path: Path,
) -> None:
    status, answer, _ = answer_of(BROKEN_TWICE, tmp_path, "--switch", "SP3T")
    assert status == 0
    assert answer["feasible"]


def test_a_plain_wire_past_the_switch_saves_two_poles(tmp_path: Path) -> None:
    status, answer, said = answer_of(HARDWIRED, tmp_path, "--switch", "SPDT")
    assert status == 0
    assert sorted(answer["wires"][0]) == ["X2", "X4"]
    assert "plain wire" in said


def test_the_wiring_with_the_plain_wire_is_written_and_keeps_all(tmp_path: Path) -> None:
    spec = tmp_path / "spec.yaml"
    spec.write_text(HARDWIRED)
    words = ("--switch", "SPDT", "--timing", "non-shorting", "--write", "fitted")
    assert run(str(spec), *words).exit_code == 0
    written = spec.read_text()
    assert "from: X" in written
    from rewire.compare import compare
    from rewire.reading import read_spec

    assert compare(read_spec(spec), ["fitted"])[0].verdict == "kept"


def test_no_supply_is_offered_to_be_put_on_the_chassis(tmp_path: Path) -> None:
    """Joined for good, HIGH_AMP would put 400 V on the chassis in HIGH."""
    for volts in ("", "volts: 400 V"):
        status, answer, said = answer_of(BLEEDER % (volts, volts), tmp_path, "--switch", "SPDT")
        assert status == 1
        assert answer["ways_out"]["combine"] == []
        assert "for good" not in said


def test_a_mute_is_not_offered_to_be_shorted_for_good() -> None:
    said = run(str(SHIPPED / "relay-and-switch.yaml"), "--replace", "K1", "--switch", "DPDT").output
    assert "for good" not in said


def test_what_is_lost_by_connecting_two_places_for_good_is_named_and_comes_last(
    tmp_path: Path,
) -> None:
    status, answer, said = answer_of(TWO_LAMPS, tmp_path, "--switch", "SPDT")
    assert status == 1
    (shared,) = answer["ways_out"]["combine"]
    assert sorted(shared["places"]) == ["V", "W"]
    assert shared["opened_at"] == ["Q"]
    assert said.index("The original opens them in Q; that is lost") > said.index("DPDT")


def test_a_relay_rests_where_fewer_live_points_are_connected() -> None:
    """In RECEIVE the transmitter's supplies are open: a dead coil has to leave it there."""
    words = ("--replace", "K1", "--switch", "DPDT", "--json")
    result = run(str(SHIPPED / "relay-and-switch.yaml"), *words)
    assert json.loads(result.output)["results"][0]["ways_out"]["relay"] == [2, ["SEND"]]


def test_more_clauses_than_a_small_computer_holds_are_refused_by_number(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("rewire.fit.clauses.MOST_CLAUSES", 100_000)
    lugs = [str(n) for n in range(100)]
    detents = {
        f"d{turn}": [[lugs[n], lugs[(n + 1 + 2 * turn) % 100]] for n in range(0, 100, 2)]
        for turn in range(6)
    }
    buzzed = tmp_path / "switch.yaml"
    buzzed.write_text(json.dumps({"rewire_switch": "1", "lugs": lugs, "detents": detents}))
    bands = str(SHIPPED / "bandswitch.yaml")
    result = run(bands, "--replace", "S1", "--switch", str(buzzed))
    assert result.exit_code == 3
    assert "100,000 clauses" in " ".join(result.stderr.split())
