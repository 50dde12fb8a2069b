"""What the set's own supplies put on parts, contacts and meters, whatever is read."""

from __future__ import annotations

import re
from pathlib import Path
from random import Random

import numpy as np
import pytest

from rewire.reading import read_text
from rewire.values.answers import WiringValues
from rewire.values.wiring_values import values_of

SPECS = Path("specs")


def answered(text: str, wiring: str = "plan") -> WiringValues:
    return values_of(read_text(text.encode()), [wiring])[0]


class Bench:
    """A random circuit on its supplies, solved by the modified node equations with numpy.

    Nodes are the chassis (0), the points, and loose tags; a switch of two positions puts its
    common on one tag or another. Sources of no resistance are exact, contacts join exactly.
    """

    def __init__(self, seed: int) -> None:
        rng = Random(seed)
        self.points = [
            (
                round(rng.uniform(-300, 300), 1),
                rng.choice([0.0, 50.0, 1e3, 2e4]),
                rng.random() < 0.15,
            )
            for _ in range(rng.randint(1, 4))
        ]
        nodes = 1 + len(self.points) + rng.randint(2, 5)
        self.resistors = [
            (*rng.sample(range(nodes), 2), round(10 ** rng.uniform(2, 5), 1))
            for _ in range(rng.randint(3, 9))
        ]
        common = rng.randrange(1 + len(self.points), nodes)  # two stiff sources are never shorted
        self.throws = [common, *rng.sample([n for n in range(1, nodes) if n != common], 2)]
        self.nodes, self.rng = nodes, rng

    def watts(self) -> list[float]:
        """The most of each resistor over both positions, in operation and risen."""
        most = np.zeros(len(self.resistors))
        for throw in self.throws[1:]:
            for times in (1.0, 1.2):
                each = np.array([self._alone(n, throw, times) for n in range(len(self.points))])
                swinging = np.array([ac for *_, ac in self.points])
                dc, ac = each[~swinging].sum(axis=0), each[swinging]
                least = (
                    np.maximum(2 * np.abs(ac).max(axis=0) - np.abs(ac).sum(axis=0), 0)
                    if len(ac)
                    else 0.0
                )
                ohms = np.array([ohms for *_, ohms in self.resistors])
                most = np.maximum(most, (dc**2 + least**2) / ohms)
        return [float(one) for one in most]

    def _alone(self, source: int, throw: int, times: float) -> list[float]:
        """Volts across each resistor with one source on and the others shorted."""
        held = [(0, 0, 0.0, 0.0), (self.throws[0], throw, 0.0, 0.0)]
        for number, (volts, own, _) in enumerate(self.points):
            stands = volts * (times if own else 1.0) * (number == source)
            held.append((number + 1, 0, stands, own))
        size = self.nodes + len(held)
        matrix, right = np.zeros((size, size)), np.zeros(size)
        matrix[: self.nodes, : self.nodes] += 1e-13 * np.eye(self.nodes)  # what floats is at 0 V
        for one, other, ohms in self.resistors:
            for here, there in ((one, other), (other, one)):
                matrix[here, here] += 1 / ohms
                matrix[here, there] -= 1 / ohms
        for row, (one, other, volts, own) in enumerate(held, self.nodes):
            matrix[one, row] += 1.0
            matrix[row, one] += 1.0
            if one != other:
                matrix[other, row] -= 1.0
                matrix[row, other] -= 1.0
            matrix[row, row] -= own
            right[row] = volts
        solved = np.linalg.solve(matrix, right)
        return [solved[one] - solved[other] for one, other, _ in self.resistors]

    def spec(self, ratings: list[float]) -> str:
        names = ["CHASSIS", *(f"P{n}" for n in range(len(self.points)))]
        names += [f"T1.{n}" for n in range(1, self.nodes - len(names) + 1)]
        points = "".join(
            f", P{n}: {{volts: {volts} V, ac: {'yes' if ac else 'no'}, source_resistance: {own} ohm"
            f"{f', rises_to: {1.2 * volts} V' if own else ''}}}"
            for n, (volts, own, ac) in enumerate(self.points)
        )
        parts = "".join(
            f"      R{n}: {{resistor: {ohms} ohm, rating: {rating:.6g} W, between: [{names[one]}, {names[other]}]}}\n"
            for n, ((one, other, ohms), rating) in enumerate(
                zip(self.resistors, ratings, strict=True)
            )
        )
        lugs = zip(("S1.A", "S1.A1", "S1.A2"), self.throws, strict=True)
        wires = ", ".join(f"[{lug}, {names[node]}]" for lug, node in lugs)
        return (
            f"rewire: 1\ntitle: supplies\ncontrols: {{K: [ONE, TWO]}}\n"
            f"points: {{CHASSIS: {{chassis: yes}}{points}}}\nwirings:\n  original: {{}}\n  plan:\n"
            f"    parts:\n      T1: {{strip: 9}}\n      S1: {{switch: SPDT, control: K}}\n{parts}"
            f"    wires: [{wires}]\n"
        )


@pytest.mark.parametrize("seed", range(20))
def test_a_part_is_over_its_rating_where_the_node_equations_put_it(seed: int) -> None:
    """Ratings a hair beside what each part takes: those below are told, and no others."""
    bench = Bench(seed)
    watts = bench.watts()
    shares = [bench.rng.choice([0.3, 0.999, 1.001, 3.0]) for _ in watts]
    ratings = [w * share if w > 1e-6 else 1.0 for w, share in zip(watts, shares, strict=True)]
    over = {f"R{n}" for n, (w, may) in enumerate(zip(watts, ratings, strict=True)) if w > may}
    found = {
        part.part: part.why for part in answered(bench.spec(ratings)).parts if part.ok is False
    }
    assert found.keys() == over
    for name, why in found.items():
        said = re.match(r"takes ([\d.]+) (n|µ|m|k|)W from P", why or "")
        assert said, why
        scale = {"n": 1e-9, "µ": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3}[said[2]]
        assert float(said[1]) * scale == pytest.approx(watts[int(name[1:])], rel=6e-3)


def portable(old: str, new: str) -> WiringValues:
    text = (SPECS / "portable-battery-check.yaml").read_text(encoding="utf-8")
    assert text.count(old) == 1
    return answered(text.replace(old, new), "substitute")


def test_a_load_on_the_wrong_battery_is_told_though_no_reading_names_it() -> None:
    """By hand: 96 V behind 60 ohm into 7.5 ohm: 1.422 A, 15.2 W."""
    found = portable("from: S2.C2, to: R13.1,", "from: HT_FEED, to: R13.1,")
    (part,) = (part for part in found.parts if part.part == "R13")
    assert part.why == "takes 15.2 W from HT_FEED (up to 96 V behind 60 Ω), rated 2 W"
    assert "R13" in found.exceeded


def test_a_meter_that_a_wrong_wire_puts_on_another_supply_is_told() -> None:
    """By hand: tied, 1.5 V behind 0.6 ohm and 90 V behind 60 ohm stand at 2.38 V; over 2 kohm."""
    found = portable("from: S2.C, to: A_PLUS", "from: B_PLUS, to: A_PLUS")
    (said,) = (w for w in found.warnings if w.kind == "supply")
    assert said.bad
    assert said.message.startswith("M2 takes 1.2 times full scale from A_PLUS")
    assert said.message.endswith("with CHECK at A_BATT")


@pytest.mark.parametrize("spec", sorted(SPECS.glob("*.yaml")), ids=lambda path: path.stem)
def test_no_shipped_wiring_burns_on_its_own_supplies(spec: Path) -> None:
    """They are sets that work; a point between coils or in a plate lead is no source for it."""
    read = read_text(spec.read_bytes(), str(spec))
    for found in values_of(read):
        assert [w.message for w in found.warnings if " from " in w.message] == []
        assert [part.why for part in found.parts if part.why and " from " in part.why] == []


SET = """
rewire: 1
title: set
controls: {{K: [STANDBY, ON]}}
points: {{CHASSIS: {{chassis: yes}}, {points}}}
{more}wirings:
  original:
    parts: {{S1: {{switch: SPDT, control: K, rating: {{amps: 1 A}}}}, M1: {{meter: 1 mA}}{old}}}
    wires: [[S1.A, {at}], [S1.A1, CHASSIS]]
  plan:
    parts: {{S1: {{switch: SPDT, control: K, rating: {{amps: 1 A}}}}, M1: {{meter: 1 mA}}, R1: {{resistor: {ohms}, rating: 1 W, between: [{at}, CHASSIS]}}}}
    wires: [[S1.A, {at}], [S1.A1, CHASSIS]]
"""


def told(points: str, ohms: str, at: str = "HT", old: str = "", more: str = "") -> list[str]:
    """What is said of R1 on its supply."""
    found = answered(SET.format(points=points, ohms=ohms, at=at, old=old, more=more))
    return [w.message for w in found.warnings if " from " in w.message]


def test_what_is_not_given_of_a_source_is_said() -> None:
    """100 V over 1 kohm; in standby the original discharges it, and nothing is there."""
    said = "R1 takes 10 W from HT (100 V, source resistance not given) with K at ON, rated 1 W"
    assert told("HT: {volts: 100 V}", "1 kohm") == [said]


def test_a_current_source_gives_at_most_its_full_scale() -> None:
    """3 kV that drive 10 mA at the most: nothing in 1 ohm; half of both, 7.5 W, in 300 kohm."""
    more = "readings: {i: {current: [K1, CHASSIS], full_scale: 10 mA}}\n"
    point = "K1: {volts: 1 V, rises_to: 3 kV, source_resistance: 50 ohm}"
    assert told(point, "1 ohm", "K1", more=more) == []
    (said,) = told(point, "300 kohm", "K1", more=more)
    assert said.startswith("R1 takes 7.5 W from K1 (up to 3 kV behind 50 Ω)")


@pytest.mark.parametrize(("rating", "ends"), [
    ("rating: 6 W, ", None),
    ("", "so in the original, which gives no rating: see that it stood that"),
    ("rating: 20 W, ", "rated 1 W"),
])  # fmt: skip
def test_what_the_original_has_too_is_judged_by_what_that_stands(
    rating: str, ends: str | None
) -> None:
    """10 W: burnt in the original too, so the volts cannot be so; not known; and too weak now."""
    said = told("HT: {volts: 100 V}", "1 kohm", old=OLD % rating)
    assert [one.endswith(ends or "") for one in said] == [True] * (ends is not None)


OLD = ", R1: {resistor: 1 kohm, %sbetween: [HT, CHASSIS]}"


@pytest.mark.parametrize("both", [True, False])
def test_diodes_that_hold_ac_down_are_counted(both: bool) -> None:
    """90 V behind 1 kohm is 2 W in 1 kohm; but not with diodes across it, one for each half."""
    pair = "D1: {diode: silicon, between: [HT, CHASSIS]}, "
    pair += "D2: {diode: silicon, between: [CHASSIS, HT]}, "
    point = "HT: {volts: 90 V, ac: yes, source_resistance: 1 kohm}"
    text = SET.format(points=point, ohms="1 kohm", at="HT", old="", more="")
    found = answered(text.replace("R1: {", f"{pair if both else ''}R1: {{"))
    said = [w.message for w in found.warnings if w.message.startswith("R1 takes 2.0")]
    assert len(said) == (not both)


def test_a_standing_current_does_not_limit_its_supply() -> None:
    """By hand: 100 V behind 1 ohm over 1 kohm are 9.98 W, whatever 5 mA flow there anyway."""
    more = (
        "readings: {i: {current: [K1, CHASSIS], full_scale: 10 mA, "
        "also: [{current: [HT, CHASSIS], amount: 5 mA}]}}\n"
    )
    (said,) = told("HT: {volts: 100 V, source_resistance: 1 ohm}, K1: {}", "1 kohm", more=more)
    assert said.startswith("R1 takes 9.98 W from HT")


def test_a_meter_over_full_scale_when_its_point_rises_is_told_once() -> None:
    """By hand: 60 V over 10 kohm are 6 mA through 1 mA; 9 V in operation are less than it."""
    point = "HT: {volts: 9 V, rises_to: 60 V, source_resistance: 1 mohm}"
    more = "readings: {v: {when: {K: ON}, voltage: [HT, CHASSIS], full_scale: 10 V}}\n"
    text = SET.format(points=point, ohms="1 Mohm", at="HT", old="", more=more)
    meter = "M1: {meter: 1 mA, resistance: 10 kohm, between: [HT, CHASSIS]}"
    original, plan = text.split("  plan:")
    found = answered(f"{original}  plan:{plan.replace('M1: {meter: 1 mA}', meter)}")
    over = [w.message for w in found.warnings if "6 times" in w.message]
    assert over == ["M1 is driven to 6 times full scale in v if HT rises to 60 V"]


def test_more_positions_than_are_looked_at_are_said() -> None:
    """Ten switches of two positions: 1024."""
    knobs = ", ".join(f"K{n}: [OFF, ON]" for n in range(10))
    text = SET.format(points="HT: {volts: 100 V}", ohms="1 kohm", at="HT", old="", more="")
    found = answered(text.replace("controls: {", f"controls: {{{knobs}, "))
    said = [w.message for w in found.warnings if w.kind == "supplies-unknown"]
    assert said == [
        "the controls have more than 512 positions together: what the set's own supplies put on "
        "parts, contacts and meters was not worked out, nor every short between them; rewire "
        "check finds those"
    ]


def test_a_point_without_source_resistance_stays_where_it_is_when_its_mate_rises() -> None:
    """By hand: 200 V behind 1 kohm into 10 kohm is 181.8 V, 3.31 W; the stiff 100 V gives 1 W."""
    (part,) = answered("""
rewire: 1
title: two supplies on one tag
points:
  CHASSIS: {chassis: yes}
  A: {volts: 100 V, rises_to: 300 V}
  B: {volts: 90 V, rises_to: 200 V, source_resistance: 1 kohm}
wirings:
  original:
    wires: [[A, B]]
  plan:
    parts: {R1: {resistor: 10 kohm, rating: 2 W, between: [B, CHASSIS]}}
    wires: [[A, B]]
""").parts
    assert part.why == "takes 3.31 W from B (up to 200 V behind 1 kΩ), rated 2 W"
