"""What was chosen is written into the text of the spec: it must then read as was promised."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from rewire.cli import rewire as group
from rewire.reading import read_text
from rewire.values.answers import WiringValues
from rewire.values.wiring_values import values_of

FLAGSHIP = Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml"
SERIES = ("E12", "E24", "E48", "E96", "exact")


def rewire(*args: str) -> Result:
    return CliRunner().invoke(group, list(args), env={"COLUMNS": "80"})


def significant(rng: np.random.Generator, low: float, high: float) -> float:
    return float(f"{10 ** rng.uniform(low, high):.2g}")


def random_spec(rng: np.random.Generator) -> str:
    """One meter, a range switch, a shunt or multiplier to be fitted in each range, or a pot."""
    count, quantity = int(rng.integers(1, 5)), str(rng.choice(["current", "voltage"]))
    amps, ohms = significant(rng, -4.3, -2.5), significant(rng, 1.3, 3)
    parts, readings = [], []
    with_pot = bool(rng.integers(0, 2))
    lead = 1.3 if with_pot else 1.0
    for n in range(1, count + 1):
        factor = significant(rng, 0.6, 2.0)
        full_scale = amps * factor if quantity == "current" else amps * ohms * lead * factor
        unit = "A" if quantity == "current" else "V"
        readings.append(
            f"  r{n}: {{when: {{RANGE: P{n}}}, {quantity}: [IN, OUT], full_scale: {full_scale!r} {unit}}}"
        )
        if with_pot and n == 1:
            exact = (
                ohms * lead / (factor - 1) if quantity == "current" else ohms * lead * (factor - 1)
            )
            value = f"{exact!r} ohm"
        else:
            value = f"fit, for: r{n}, choose: {rng.choice(SERIES)}"
        parts.append(
            f"      R{n}: {{resistor: {value}, tolerance: {rng.choice([1, 2, 5])} %, between: [IN, S1.A{n}]}}"
        )
    plus = "RV1.wiper" if with_pot else ("IN" if quantity == "current" else "S1.A")
    if with_pot:
        parts.append(f"      RV1: {{pot: {ohms!r} ohm, tolerance: 10 %, setting: fit, for: r1}}")
    parts.append(
        f"      M1: {{meter: {amps!r} A, resistance: {ohms!r} ohm, resistance_tolerance: 5 %, accuracy: 2 %, between: [{plus}, OUT]}}"
    )
    parts.append(f"      S1: {{switch: 1P{max(count, 2)}T, control: RANGE}}")
    wires = ["[S1.A, OUT]"] if quantity == "current" else []
    if with_pot:
        wires.append(f"[RV1.ccw, {'IN' if quantity == 'current' else 'S1.A'}]")
    body = "\n".join(["    parts:", *parts, f"    wires: [{', '.join(wires)}]"])
    positions = ", ".join(f"P{n}" for n in range(1, max(count, 2) + 1))
    return (
        f"rewire: 1\ntitle: made\ncontrols: {{RANGE: [{positions}]}}\npoints: {{IN: {{}}, OUT: {{}}}}\n"
        "readings:\n" + "\n".join(readings) + f"\nwirings:\n  original:\n{body}\n  other:\n{body}\n"
    )


def written_back(text: str, said: WiringValues) -> str:
    """The text with every ``fit`` replaced by what was chosen for it."""
    for fit in said.fits:
        assert fit.chosen is not None
        ohms = f"{fit.chosen_ohms!r} ohm" if fit.choose in (None, "exact") else fit.chosen
        pattern = rf"({fit.part}: {{resistor: )fit, for: [a-z0-9]+(, choose: [A-Za-z0-9]+)?"
        text, count = re.subn(pattern, rf"\g<1>{ohms}", text)
        assert count > 0
    for pot in said.pots:
        text, count = re.subn(
            r"setting: fit,?\s+for: [a-z0-9]+", f"setting: {pot.setting_percent!r} %", text
        )
        assert count > 0
    return text


def assert_kept(before: WiringValues, after: WiringValues) -> None:
    assert after.fits == after.pots == ()
    for one, other in zip(before.readings, after.readings, strict=True):
        assert one.deflection is not None
        assert other.deflection == pytest.approx(one.deflection, rel=1e-9)
        assert one.worst_low_percent is not None
        assert one.worst_high_percent is not None
        assert other.error_percent is not None
        assert one.worst_low_percent - 1e-9 <= other.error_percent <= one.worst_high_percent + 1e-9


@pytest.mark.parametrize("seed", range(8))
def test_chosen_values_written_into_a_random_spec_read_as_promised(seed: int) -> None:
    text = random_spec(np.random.default_rng(seed))
    said = values_of(read_text(text.encode()))[0]
    assert all(fit.chosen_ohms for fit in said.fits)
    after = values_of(read_text(written_back(text, said).encode()))[0]
    assert_kept(said, after)


def test_chosen_values_written_into_the_flagship_read_as_promised() -> None:
    text = FLAGSHIP.read_text("utf-8")
    said = values_of(read_text(text.encode()), ["substitute"])[0]
    assert {fit.part for fit in said.fits} == {"R46"}
    assert {pot.part for pot in said.pots} == {"RV41"}
    assert_kept(said, values_of(read_text(written_back(text, said).encode()), ["substitute"])[0])


def multiplier(off: float, tolerance: float, accuracy: float, rating: float) -> str:
    """10 V on 1 mA and 100 ohm through a multiplier that is wrong by a share."""
    body = (
        "    parts:\n"
        f"      M1: {{meter: 1 mA, resistance: 100 ohm, resistance_tolerance: 0 %, accuracy: {accuracy!r} %, between: [R1.2, OUT]}}\n"
        f"      R1: {{resistor: {9900 * (1 + off)!r} ohm, tolerance: {tolerance!r} %, rating: {rating!r} W, between: [IN, M1.+]}}\n"
    )
    return (
        "rewire: 1\ntitle: made\npoints: {IN: {}, OUT: {}}\n"
        f"readings: {{v: {{voltage: [IN, OUT], full_scale: 10 V}}}}\nwirings:\n  original:\n{body}  other:\n{body}"
    )


@pytest.mark.parametrize("seed", range(8))
def test_the_exit_status_is_1_when_a_reading_may_be_too_far_off_or_a_rating_is_passed(
    seed: int, tmp_path: Path
) -> None:
    """By hand: Ohm's law at both ends of the tolerance against 5 %, and I²R against the rating."""
    rng = np.random.default_rng(seed)
    off, tolerance = float(rng.uniform(-0.06, 0.06)), float(rng.choice([1.0, 2.0, 5.0]))
    accuracy, rating = float(rng.choice([0.5, 1.5])), float(rng.choice([0.005, 0.25]))
    nominal = 9900 * (1 + off)
    ends = [100 * (10 / (nominal * (1 + s * tolerance / 100) + 100) / 1e-3 - 1) for s in (1, -1)]
    is_off = max(abs(ends[0] - accuracy), abs(ends[1] + accuracy)) > 5.0
    over = (10 / (nominal + 100)) ** 2 * nominal > rating
    path = tmp_path / "made.yaml"
    path.write_text(multiplier(off, tolerance, accuracy, rating), "utf-8")
    result = rewire("values", str(path))
    assert result.exit_code == int(is_off or over)
    assert (
        json.loads(rewire("values", str(path), "--json").stdout)["results"][0]["readings"][0]["off"]
        is is_off
    )
    assert ("a rating is exceeded at R1" in " ".join(result.stdout.split())) is over


@pytest.mark.parametrize(("times", "status"), [(4.9, 0), (5.1, 1)])
def test_an_overload_that_a_part_does_not_stand_is_a_bad_answer(
    times: float, status: int, tmp_path: Path
) -> None:
    """9.9 mW at full scale, rated 0.2475 W: 25 times, so 5 times the voltage."""
    path = tmp_path / "made.yaml"
    path.write_text(multiplier(0.0, 1.0, 2.0, 0.2475), "utf-8")
    result = rewire("values", str(path), "--overload", str(times))
    assert result.exit_code == status
    assert f"at {times:g}×" in result.stdout


@pytest.mark.parametrize("seed", range(5))
def test_eighty_columns_hold_whatever_the_names_are(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = np.random.default_rng(seed)
    text = random_spec(rng)
    for name in ("r1", "r2", "r3", "M1", "R1", "R2", "RV1", "S1", "RANGE", "P1", "P2", "IN", "OUT"):
        longer = name + "".join(rng.choice(list("abcdefgh_-"), int(rng.integers(0, 22)))) + "x"
        text = re.sub(rf"\b{name}\b(?!\.)", longer, text) if "." not in name else text
        text = re.sub(rf"\b{name}\.", f"{longer}.", text)
    monkeypatch.chdir(tmp_path)  # a file is named in one piece, however long its folder's name is
    path = Path("made.yaml")
    path.write_text(text, "utf-8")
    result = rewire("values", str(path))
    assert result.exit_code in (0, 1), result.output
    assert max(map(len, result.stdout.splitlines())) <= 80
    document = json.loads(rewire("values", str(path), "--json").stdout)
    assert len(document["results"][0]["readings"]) == text.count("full_scale")
