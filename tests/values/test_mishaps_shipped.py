"""What single faults of the shipped specs do, against the same fault written into the spec."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from rewire.compare import compare
from rewire.reading import read_spec, read_text
from rewire.records.spec import Spec, Wiring
from rewire.values.wiring_values import values_of
from tests.values.test_mishaps import of

FLAGSHIP = "specs/valve-amplifier.yaml"


def without(spec: Spec, wiring: Wiring, wire: str) -> Spec:
    """The spec with one wire taken out of one wiring."""
    bare = replace(wiring, wires=tuple(w for w in wiring.wires if w.id != wire))
    return replace(spec, wirings={**spec.wirings, wiring.name: bare})


@pytest.mark.parametrize("wiring", ["as-found", "original"])
def test_a_wire_that_opens_is_a_wire_that_is_not_there(wiring: str) -> None:
    """Each wire is taken out of the spec, and the readings are done again."""
    spec = read_spec(FLAGSHIP)
    faults = {fault.what: fault for fault in of(spec, wiring)}
    compared = 0
    for wire in spec.wirings[wiring].wires:
        what = next(w for w in faults if re.match(rf"(wire|jumper) {wire.id} \(", w))
        again = values_of(without(spec, spec.wirings[wiring], wire.id), [wiring])[0]
        deflections = {r.name: r.deflection or 0.0 for r in again.readings}
        fault = faults[what]
        assert fault.reading is not None
        assert fault.times_full_scale == pytest.approx(
            deflections[fault.reading], rel=1e-9, abs=1e-9
        )
        compared += 1
    assert compared == len(spec.wirings[wiring].wires)


def edited(old: str, new: str) -> Spec:
    with open(FLAGSHIP, encoding="utf-8") as file:  # noqa: PTH123
        text = file.read()
    assert old in text
    return read_text(text.replace(old, new).encode(), FLAGSHIP)


@pytest.mark.parametrize(("what", "old", "new"), [
    ("R36 open", "resistor: 15 ohm", "resistor: 1e15 ohm"),
    ("R36 shorted", "resistor: 15 ohm", "resistor: 0 ohm"),
    ("R35 open", "resistor: 440 ohm", "resistor: 1e15 ohm"),
    ("R32 shorted", "resistor: 180 ohm + 9.1 ohm", "resistor: 0 ohm"),
])  # fmt: skip
def test_a_part_that_fails_is_a_part_of_another_value(what: str, old: str, new: str) -> None:
    fault = next(f for f in of(read_spec(FLAGSHIP), "original") if f.what == what)
    again = values_of(edited(old, new), ["original"])[0]
    deflections = {r.name: r.deflection for r in again.readings}
    assert fault.reading is not None
    assert fault.deflection == pytest.approx(deflections[fault.reading], rel=1e-6, abs=1e-9)


def test_the_flagship_says_what_kills_its_valves() -> None:
    """The bias return lost: a rule breaks and the end floats up to 58 V, which is live."""
    faults = of(read_spec(FLAGSHIP), "original")
    first = next(f for f in faults if f.what.startswith("contact S3.C–S3.C1 open"))
    assert 0 in first.rules
    assert ("BIAS_RETURN", 58.0) in first.rises
    assert faults.index(first) < next(n for n, f in enumerate(faults) if f.what == "S3 open" or (
        not f.rises and not f.overload and not f.strains
    ))  # fmt: skip


def test_worst_comes_first() -> None:
    """What burns (twice what it may) or becomes live (50 V), then rules, then errors."""
    for wiring in ("original", "as-found", "substitute"):
        faults = of(read_spec(FLAGSHIP), wiring)
        burns = [
            max([abs(f.times_full_scale or 0) * f.overload, *(s.has / s.may for s in f.strains)])
            for f in faults
        ]
        live = [max((abs(volts) for _, volts in f.rises), default=0.0) for f in faults]
        grave = [b > 2.0 or v >= 50.0 for b, v in zip(burns, live, strict=True)]
        assert grave == sorted(grave, reverse=True)
        burning = [b for b in burns[: sum(grave)] if b > 2.0]
        assert burning == sorted(burning, reverse=True)
        rules = [len(f.rules) for f in faults[sum(grave) :]]
        assert rules == sorted(rules, reverse=True)


def test_the_shunt_that_burns_the_meter_is_the_first_of_the_flagship() -> None:
    """250 mA through the 55 ohm movement's own branch: 15.6 W in R42, 250 mA of 0.5 mA."""
    first = of(read_spec(FLAGSHIP), "substitute")[0]
    assert first.what == "R31 open"
    assert first.times_full_scale == pytest.approx(500.0)
    watts = next(s for s in first.strains if s.part == "R42")
    assert watts.has == pytest.approx(0.25**2 * 249.0, rel=0.01)


def test_what_opens_only_while_the_knob_turns() -> None:
    """The break-before-make switch opens the cathode for a moment; the two others do not.

    The second try has another fault, in a step that no reading takes part in: its supply switch
    closes on both supplies at once.

    In the flagship as found the bias return is open at rest as well, beside the very position in
    which it holds: that is no effect of turning the knob.
    """
    spec = read_spec("specs/exciter-timing.yaml")
    found = {w.name: values_of(spec, [w.name])[0].switching for w in spec.others}
    assert any(0 in moment.rules for moment in found["as-found"])
    assert any(("K_OUTPUT", 110.0) in moment.rises for moment in found["as-found"])
    assert not any(0 in moment.rules or moment.rises for moment in found["second-try"])
    assert any(m.rules == (1,) and m.reading is None for m in found["second-try"])
    flagship = read_spec(FLAGSHIP)
    for wiring in ("as-found", "substitute", "original"):
        moments = values_of(flagship, [wiring])[0].switching
        assert not any(moment.rules or moment.rises for moment in moments)


SPECS = ("valve-amplifier", "relay-and-switch", "monitor-jack")


@pytest.mark.parametrize("name", SPECS)
def test_the_rules_a_lost_wire_breaks_are_those_that_check_finds_broken(name: str) -> None:
    """Against the other layer: each wire is taken out of the spec, and the wiring compared again."""
    spec = read_spec(f"specs/{name}.yaml")
    compared = 0
    for wiring in spec.others:
        faults = {fault.what: fault for fault in of(spec, wiring.name)}
        usual = rules_broken(spec, wiring.name)
        for wire in wiring.wires:
            what = next(w for w in faults if re.match(rf"(wire|jumper) {re.escape(wire.id)} \(", w))
            now = rules_broken(without(spec, wiring, wire.id), wiring.name)
            fresh = {n for n, states in now.items() if states - usual.get(n, set())}
            assert set(faults[what].rules) == fresh
            compared += 1
    assert compared > 10


def rules_broken(spec: Spec, wiring: str) -> dict[int, set[str]]:
    """Rules broken at rest, by number, each with its states."""
    found: dict[int, set[str]] = {}
    for finding in compare(spec, [wiring])[0].findings:
        if finding.rule is not None and finding.states:
            states = {str(sorted(state.as_dict().items())) for state in finding.states}
            found.setdefault(finding.rule, set()).update(states)
    return found
