"""The shipped specs say what their first lines promise.

Each expected fact was reasoned out at the drawing, before any program saw the
spec, and is written here with its reason. The reference in tests/reference
(networkx and scipy, every state and every combination) is the judge; it was
written from the meaning of the keys and knows nothing of the program.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
import yaml

from rewire.compare import compare
from rewire.reading import read_spec
from tests.reference.oracle import facts, judge

SPECS = Path(__file__).parents[2] / "specs"
FILES = sorted(SPECS.glob("*.yaml"))
Expected = set[tuple[str, str, str]]
"""Kind, groups (members with a space, groups with a bar), state or step."""


def as_typed(name: str) -> Any:
    """A spec as its author typed it: every scalar text."""
    text = (SPECS / name).read_text(encoding="utf-8")
    return yaml.load(text, Loader=yaml.BaseLoader)


def in_words(fact: Mapping[str, Any]) -> tuple[str, str, str]:
    """One fact of the reference, short enough to write by hand."""
    groups = " | ".join(" ".join(group) for group in fact["groups"])
    if "state" in fact:
        return fact["kind"], groups, " ".join(fact["state"].values())
    others = " ".join(fact["others"].values())
    return fact["kind"], groups, f"{fact['from']}>{fact['to']} {others}".strip()


def found(name: str, wiring: str) -> Expected:
    """Facts at rest and while switching, by the reference."""
    by_reference = facts(as_typed(name), wiring)
    assert not by_reference["missing"]
    assert not by_reference["reversed"]
    return {in_words(fact) for fact in by_reference["rest"] + by_reference["steps"]}


CHASSIS_NET = "CHASSIS R31.1 R35.2 R36.2"


def test_valve_amplifier_as_found_drops_the_bias_return() -> None:
    assert found("valve-amplifier.yaml", "as-found") == {
        # The return was moved to lug A1, which pole A leaves outside BIAS: the path that deck C
        # carried ends there. In BIAS all is as the maker had it.
        ("dropped", f"BIAS_RETURN | {CHASSIS_NET}", "CATHODE"),
        ("dropped", f"BIAS_RETURN | {CHASSIS_NET}", "SCREEN"),
        # R36 sits on the meter's tags, which follow the meter: its plus end ...
        ("joined", "M1.+ | R36.1", "CATHODE"),
        ("joined", "M1.+ | R36.1", "SCREEN"),
        # ... and its minus end, at chassis in BIAS and SCREEN, at R32 in CATHODE.
        ("joined", "M1.- | R36.2", "CATHODE"),
        ("dropped", "CHASSIS R31.1 R35.2 | R36.2", "CATHODE"),
    }


def test_valve_amplifier_substitute_differs_only_as_declared() -> None:
    assert found("valve-amplifier.yaml", "substitute") == {
        # RV41 lies in the meter's lead, hence between the meter and each place it reads.
        ("inserted", "M1.+ | R36.1", "BIAS"),
        ("inserted", f"{CHASSIS_NET} | M1.+", "CATHODE"),
        ("inserted", "M1.+ | R34B.2 R35.1 SCREEN_TAP", "SCREEN"),
        # Deck C made before it broke; poles C and D of the new switch both break first. Between
        # BIAS and CATHODE nothing was tied to chassis before, so there is no gap to speak of, and
        # R47 keeps a path, so nothing is interrupted.
        ("gap", f"BIAS_RETURN | {CHASSIS_NET}", "CATHODE>SCREEN"),
    }
    assert facts(as_typed("valve-amplifier.yaml"), "substitute")["added"] == ["R47", "RV41"]


def test_valve_amplifier_needs_its_holding_resistor() -> None:
    """Without R47 the bias return opens while the knob turns, at both steps."""
    spec = as_typed("valve-amplifier.yaml")
    substitute = spec["wirings"]["substitute"]
    del substitute["parts"]["R47"]
    substitute["nets"]["earth_tags"].remove("R47.2")
    del substitute["nets"]["bias_board"]
    steps = facts(spec, "substitute")["steps"]
    # At CATHODE>SCREEN the tie itself is lost and the gap says so; at BIAS>CATHODE it is a path
    # through R36 that stops, to chassis and to all that hangs on chassis through parts.
    interrupted = {in_words(fact) for fact in steps if fact["kind"] == "interrupted"}
    assert ("interrupted", "BIAS_RETURN | CHASSIS", "BIAS>CATHODE") in interrupted
    assert {where for _, _, where in interrupted} == {"BIAS>CATHODE"}


def test_monitor_jack_as_found_is_wrong_with_the_plug_in_and_out() -> None:
    assert found("monitor-jack.yaml", "as-found") == {
        # No strap from TN to chassis: R2 alone is left, and that is no tie.
        ("dropped", "CATHODE_LEAD R2.1 | CHASSIS R2.2", "OUT"),
        # The tally wires are twisted together, where a pair of contacts used to part them.
        ("joined", "H1.2 TALLY_A | TALLY_B", "IN"),
    }


def test_monitor_jack_substitute_keeps_everything() -> None:
    """Another jack with other lugs; meter and shunt have their roles, so nothing is added."""
    assert found("monitor-jack.yaml", "substitute") == set()
    assert facts(as_typed("monitor-jack.yaml"), "substitute")["added"] == []


def test_relay_as_found_is_wrong_at_rest_and_on_the_way() -> None:
    chassis = "CHASSIS M1.- R5.2"
    in_both = ("RECEIVE", "SEND")
    assert found("relay-and-switch.yaml", "as-found") == {
        # A two-pole relay has no third pole. STANDBY with SEND cannot occur.
        ("dropped", f"{chassis} | MUTE", "SEND TUNE"),
        ("dropped", f"{chassis} | MUTE", "SEND OPERATE"),
        # Make before break: both throws lie on the common for a moment. In STANDBY no such move.
        *(("bridge", "RX_AERIAL | TX_OUT", f"RECEIVE>SEND {at}") for at in ("TUNE", "OPERATE")),
        *(("bridge", "R1.1 TX_HT | RX_HT", f"RECEIVE>SEND {at}") for at in ("TUNE", "OPERATE")),
        # Break before make on the coil line: tied in TUNE and in OPERATE, not between.
        *(("gap", f"{chassis} | COIL_LINE", f"TUNE>OPERATE {at}") for at in in_both),
        # The screen goes from R1 to the line itself: a path both times, a tie only once, so the
        # moment without is an interruption. HT reaches TX_HT in SEND only.
        *(("interrupted", "PA_SCREEN | TX_HT", f"TUNE>OPERATE {at}") for at in in_both),
        ("interrupted", "HT | PA_SCREEN", "TUNE>OPERATE SEND"),
    }


def test_relay_substitute_keeps_everything() -> None:
    """Four poles for three, the same timing, other lug names, pole 2 left between aerial and HT."""
    assert found("relay-and-switch.yaml", "substitute") == set()
    assert facts(as_typed("relay-and-switch.yaml"), "substitute")["added"] == []


VALUES = {
    # In two pieces in the spec; the reference reads plain values only.
    "R32": {"resistor": "189.1 ohm"},
    # Fitted by hand. RV41: 250 mA through 1 ohm less 0.5 mA is 249.5 mV, over 0.5 mA 499 ohm, of
    # which R42 has 249, the meter 170; 80 of 200 ohm are left.
    "RV41": {"setting": "40 %"},
    # R46: 125 mV over meter and pot; of 5 mA the meter takes 0.5, R47 1.25, R46 the other 3.25.
    "R46": {"resistor": "38.4615 ohm"},
    # R11: 200 mV over the meter; of 50 mA the meter takes 0.5, R2 0.02, R11 the other 49.48.
    "R11": {"resistor": "4.04204 ohm"},
    # R12: 15 V over 0.5 mA less 220 ohm of meter and 0.1 ohm of battery.
    "R12": {"resistor": "29779.9 ohm"},
    # R14: 99.5 mA through 5 ohm is 497.5 mV, over 0.5 mA 995 ohm, less 220.
    "R14": {"resistor": "775 ohm"},
}
"""What the fitted parts come to, so that the reference can judge rules with a limit."""


def with_values(name: str) -> Any:
    """A spec as typed, nothing left to fit."""
    typed = as_typed(name)
    for wiring in typed["wirings"].values():
        for part in VALUES.keys() & wiring["parts"].keys():
            wiring["parts"][part] |= VALUES[part]
    return typed


def rules_broken(name: str, wiring: str) -> set[tuple[int, str]]:
    """Rule and state or step, by the reference."""
    broken = judge(with_values(name), wiring).rules
    return {(fact["rule"], in_words({"groups": [], **fact})[2]) for fact in broken}


def test_rules_broken_as_found() -> None:
    # The bias return is closed through 12 ohm in BIAS, and open in the other two (that it is open
    # on the way to them as well says nothing new).
    assert rules_broken("valve-amplifier.yaml", "as-found") == {(0, "CATHODE"), (0, "SCREEN")}
    # R2 keeps the second rule (12 kohm) in every combination; the tie with the plug out is gone.
    assert rules_broken("monitor-jack.yaml", "as-found") == {(0, "OUT")}
    # Aerial and HT over the relay's common, in both positions that allow the move; no muting.
    assert rules_broken("relay-and-switch.yaml", "as-found") == {
        *((rule, f"RECEIVE>SEND {at}") for rule in (0, 1) for at in ("TUNE", "OPERATE")),
        *((2, f"SEND {at}") for at in ("TUNE", "OPERATE")),
    }


VERDICTS = [
    ("valve-amplifier.yaml", "as-found", "broken"),
    ("valve-amplifier.yaml", "substitute", "changed"),  # all declared, two parts added
    ("monitor-jack.yaml", "as-found", "broken"),
    ("monitor-jack.yaml", "substitute", "kept"),
    ("relay-and-switch.yaml", "as-found", "broken"),
    ("relay-and-switch.yaml", "substitute", "kept"),
]


@pytest.mark.parametrize(("name", "wiring", "verdict"), VERDICTS)
def test_verdict_is_what_the_first_lines_promise(name: str, wiring: str, verdict: str) -> None:
    assert judge(with_values(name), wiring).verdict == verdict
    spec = read_spec(SPECS / name)
    assert {result.wiring: result.verdict for result in compare(spec)}[wiring] == verdict


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_reads_without_a_second_look(path: Path) -> None:
    spec = read_spec(path)
    assert spec.notices == ()
    assert spec.title
    assert spec.document.licence
    assert len(spec.others) >= 2  # one broken, one right
    told = [spec.readings, spec.cautions, spec.found, spec.before, spec.after]
    assert all(told)
    assert spec.acceptance
    assert spec.bench.series_resistor_ohms


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_reader_takes_over_what_was_typed(path: Path) -> None:
    """Counted against a plain YAML reading that knows nothing of the format."""
    typed, spec = as_typed(path.name), read_spec(path)
    assert list(spec.points) == list(typed["points"])
    assert list(spec.readings) == list(typed["readings"])
    for name, wiring in typed["wirings"].items():
        read = spec.wirings[name]
        assert list(read.parts) == list(wiring["parts"])
        assert [wire.ends for wire in read.wires] == [ends_of(wire) for wire in wiring["wires"]]
        members = [net.members for net in read.nets]
        assert members == [tuple(net) for net in wiring.get("nets", {}).values()]


def ends_of(wire: Any) -> tuple[str, str]:
    """Both ends of a wire, in either way of writing one."""
    if isinstance(wire, list):
        return wire[0], wire[1]
    return wire["from"], wire["to"]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_names_follow_the_rules(path: Path) -> None:
    """The pattern is the format's; two names differing in case alone are refused there."""
    typed = as_typed(path.name)
    wirings = typed["wirings"].values()
    names = {*typed["points"], *typed.get("parts", {})}
    names |= {part for wiring in wirings for part in wiring["parts"]}
    assert [name for name in names if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_-]*", name)] == []
    assert len({name.lower() for name in names}) == len(names)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_wire_can_be_told_on_the_bench(path: Path) -> None:
    """A colour, or a note where there is none (a bare strap, a resistor's own lead)."""
    nameless = [wire for wire in wires_of(as_typed(path.name)) if not told(wire)]
    assert nameless == []


def wires_of(typed: Any) -> Iterator[Any]:
    """All wires of all wirings."""
    for wiring in typed["wirings"].values():
        yield from wiring["wires"]


def told(wire: Any) -> bool:
    """Whether somebody at the bench knows which wire is meant."""
    if isinstance(wire, list):
        return len(wire) == 3
    return "colour" in wire or "note" in wire
