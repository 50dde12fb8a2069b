"""The simulator and the exact fractions against figures that can be had by hand."""

import random
from fractions import Fraction

import pytest

from tests.simulator import engine, exact
from tests.simulator.netlist import Circuit, Source
from tests.simulator.quantities import built, quantity

BRIDGE = {
    "R1": (("a", "b"), Fraction(100)),
    "R2": (("a", "c"), Fraction(200)),
    "R3": (("b", "d"), Fraction(300)),
    "R4": (("c", "d"), Fraction(600)),
    "R5": (("b", "c"), Fraction(50)),
}


def test_a_bridge_in_balance() -> None:
    circuit = Circuit(BRIDGE, (), Source(("a", "d"), Fraction(12)))
    [simulated] = engine.volts([circuit])
    for volts in (simulated, exact.volts(circuit)):
        assert float(volts["b"] - volts["d"]) == pytest.approx(9.0, rel=1e-12)
        assert float(volts["b"] - volts["c"]) == pytest.approx(0.0, abs=1e-12)


def test_a_source_behind_a_resistance_and_a_current_beside_it() -> None:
    """10 V behind 1 kΩ into 1 kΩ is 5 V; 2 mA more into the 500 Ω of both is 1 V more."""
    circuit = Circuit(
        {"R": (("p", "g"), Fraction(1000))},
        [(("p", "g"), Fraction(2, 1000))],
        Source(("p", "g"), Fraction(10), Fraction(1000)),
    )
    [simulated] = engine.volts([circuit])
    exactly = exact.volts(circuit)
    assert simulated["p"] - simulated["g"] == pytest.approx(6.0, rel=1e-12)
    assert exactly["p"] - exactly["g"] == 6


def test_both_agree_on_random_meshes() -> None:
    dice, circuits = random.Random(3), []
    for _ in range(200):
        nodes = "abcdef"
        ring = zip(nodes, nodes[1:] + nodes[:1], strict=True)
        pairs = [*ring, *(tuple(dice.sample(nodes, 2)) for _ in range(4))]
        ohms = {
            f"R{n}": (ends, Fraction(dice.randint(1, 10**6), 100)) for n, ends in enumerate(pairs)
        }
        circuits.append(Circuit(ohms, [(("a", "d"), Fraction(1, 1000))]))
    for circuit, simulated in zip(circuits, engine.volts(circuits), strict=True):
        for node, volts in exact.volts(circuit).items():
            assert simulated[node] == pytest.approx(float(volts), rel=1e-7, abs=1e-12)


@pytest.mark.parametrize(
    ("written", "meant"),
    [("4k7", "4700"), ("0R22", "0.22"), ("R47", "0.47"), ("50 uA", "0.00005"), ("2 %", "2"),
     ("9.1 ohm", "9.1"), ("1e-5 A", "0.00001"), ("-38 V", "-38"), ("2.2 Mohm", "2200000")],
)  # fmt: skip
def test_quantities(written: str, meant: str) -> None:
    assert quantity(written) == Fraction(meant)


def test_a_resistor_of_pieces() -> None:
    """Two of 10 Ω side by side are 5 Ω; || binds tighter than +."""
    how, pieces = built("1 ohm + 10 ohm || 10 ohm")
    assert how.ohms(pieces) == 6
    how, pieces = built("(1 ohm + 9 ohm) || 10 ohm")
    assert how.ohms(pieces) == 5
