"""The worst case: never beaten by sampling, met in the limit; random circuits, pots that divide."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import minimize

from rewire.circuit import LimitReached
from rewire.reading import read_text
from rewire.values.answers import WiringValues
from rewire.values.dc_network import WORN_CONTACT
from rewire.values.meter_circuit import answer
from rewire.values.solved import solved_of
from rewire.values.tolerance import Draw, bands_of, directions
from rewire.values.wiring_values import values_of
from tests.values.reference import Bar, Made, dense

FULL_SCALE = 1e-3


def random_made(seed: int, pots: int, contacts: int) -> Made:
    """A random circuit around a meter, a bridge as often as not, with tolerances."""
    rng = np.random.default_rng(seed)
    nodes = int(rng.integers(3, 6))

    def ends() -> tuple[int, int]:
        a, b = rng.choice(nodes, 2, replace=False)
        return int(a), int(b)

    def ohms() -> Fraction:
        return Fraction(float(f"{10 ** rng.uniform(0, 3):.3g}"))

    ring = [(n, (n + 1) % nodes) for n in range(nodes)]
    places = [*ring, *(ends() for _ in range(int(rng.integers(0, 4))))]
    meter, *others = [places[i] for i in rng.permutation(len(places))]
    values, bars = {"M1": ohms()}, [Bar("M1", meter)]
    for n, place in enumerate(others):
        values[f"R{n}"] = ohms()
        bars.append(Bar(f"R{n}", place))
    made = Made(
        nodes, bars, values, {name: int(rng.integers(1, 21)) for name in values},
        ends(), Fraction(1, 10), bool(rng.random() < 0.5), Fraction(int(rng.integers(0, 60))),
    )  # fmt: skip
    for n in range(pots):
        trio = tuple(int(x) for x in rng.choice(nodes, 3, replace=False))
        at = Fraction(int(rng.integers(5, 96)), 100)
        name = f"RV{n}"
        made.ohms[name], made.tolerance[name] = ohms(), int(rng.integers(10, 31))
        made.pots[name] = (trio, at)
        made.bars += [Bar(name, trio[:2], at), Bar(name, trio[1:], 1 - at)]
    made.contacts += [ends() for _ in range(contacts)]
    return made


def answered(made: Made) -> tuple[WiringValues, tuple[float, float]] | None:
    """The program's answer and its least and greatest deflection; None where there is no sum."""
    result = values_of(read_text(made.spec(worn=True)))[0]
    one = result.readings[0]
    if one.deflection is None or one.worst_low_percent is None or one.deflection == 0.0:
        return None
    assert one.worst_high_percent is not None
    return result, (1 + one.worst_low_percent / 100, 1 + one.worst_high_percent / 100)


def box(made: Made) -> tuple[list[str], np.ndarray, np.ndarray]:
    """Names of what may be off, contacts last, with their least and most."""
    names = [name for name, off in made.tolerance.items() if off]
    low = [float(made.ohms[n]) * (1 - made.tolerance[n] / 100) for n in names]
    high = [float(made.ohms[n]) * (1 + made.tolerance[n] / 100) for n in names]
    count = len(made.contacts)
    return names, np.array(low + [0.0] * count), np.array(high + [WORN_CONTACT] * count)


def deflection(made: Made, names: list[str], x: np.ndarray) -> float:
    worn = [float(v) for v in x[len(names) :]]
    return dense(made, dict(zip(names, x, strict=False)), worn) / FULL_SCALE


@pytest.mark.parametrize("seed", range(8))
def test_no_sample_beats_the_worst_case_and_some_meet_it(seed: int) -> None:
    made = random_made(seed, pots=seed % 3, contacts=seed % 2)
    found = answered(made)
    if found is None:
        assert abs(dense(made, {}, [0.0] * len(made.contacts))) < 1e-12 * float(made.amount)
        return
    _, (least, greatest) = found
    names, low, high = box(made)
    rng = np.random.default_rng(seed)
    inside = [low + rng.random(len(low)) * (high - low) for _ in range(300)]
    corners = [low + c * (high - low) for c in rng.integers(0, 2, (300, len(low)))]
    values = np.array([deflection(made, names, x) for x in (*inside, *corners)])
    slack = 1e-9 * max(abs(least), abs(greatest))
    assert values.min() >= least - slack
    assert values.max() <= greatest + slack
    points = [*inside, *corners]
    for sense, bound in ((1.0, least), (-1.0, greatest)):
        start = points[int(np.argmin(sense * values))]
        best = climbed(made, names, start, low, high, sense)
        assert best == pytest.approx(sense * bound, rel=1e-5, abs=slack)


def climbed(
    made: Made, names: list[str], start: np.ndarray, low: np.ndarray, high: np.ndarray, sense: float
) -> float:
    """The least a general-purpose search finds from a good start (scipy, L-BFGS-B), then corners."""
    width = np.where(high > low, high - low, 1.0)

    def cost(u: np.ndarray) -> float:
        return sense * deflection(made, names, low + u * width)

    scale = max(abs(cost((start - low) / width)), 1e-12)
    search = minimize(lambda u: cost(u) / scale, (start - low) / width, bounds=[(0, 1)] * len(low),
                      method="L-BFGS-B", options={"ftol": 1e-15, "gtol": 1e-12})  # fmt: skip
    u = np.where(search.x < 1e-3, 0.0, np.where(search.x > 1 - 1e-3, 1.0, search.x))
    best = min(cost(u), float(search.fun * scale))
    for _ in range(3):
        for i in range(len(u)):
            tries = [np.concatenate([u[:i], [v], u[i + 1 :]]) for v in (0.0, 1.0)]
            costs = [cost(one) for one in tries]
            if min(costs) < best:
                best, u = min(costs), tries[int(np.argmin(costs))]
    return best


def divider(series: int, meter: int, at: int, tolerance: int) -> Made:
    """A source behind a resistor, a pot across it, the meter from wiper to the foot."""
    return Made(
        4,
        [Bar("M1", (2, 3)), Bar("R1", (0, 1)), Bar("RV1", (1, 2), Fraction(at, 100)),
         Bar("RV1", (2, 3), 1 - Fraction(at, 100))],
        {"M1": Fraction(meter), "R1": Fraction(series), "RV1": Fraction(100)},
        {"RV1": tolerance},
        (0, 3), Fraction(1, 10), True,
        pots={"RV1": ((1, 2, 3), Fraction(at, 100))},
    )  # fmt: skip


def test_a_pot_that_divides_is_worst_inside_its_band() -> None:
    """Most current at P = sqrt(Rs Rm / (s (1 - s))), by hand; no corner sees it.

    I = V s P / ((Rs + (1 - s) P) (Rm + s P) + s P Rm): its derivative by P is zero where
    Rs Rm = s (1 - s) P², with s the share from wiper to foot.
    """
    made = divider(series=100, meter=25, at=50, tolerance=30)
    stationary = math.sqrt(100 * 25 / 0.25)
    assert 70 < stationary < 130
    found = answered(made)
    assert found is not None
    _, (least, greatest) = found
    top = dense(made, {"RV1": stationary}) / FULL_SCALE
    ends = [dense(made, {"RV1": ohms}) / FULL_SCALE for ohms in (70.0, 130.0)]
    assert greatest == pytest.approx(top, rel=1e-12)
    assert greatest > max(ends) * (1 + 1e-4)
    assert least == pytest.approx(min(ends), rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_pots_that_divide_against_a_fine_sweep(seed: int) -> None:
    rng = np.random.default_rng(seed)
    made = divider(*(int(x) for x in rng.integers(5, 300, 2)), int(rng.integers(10, 91)), 40)
    found = answered(made)
    assert found is not None
    sweep = [dense(made, {"RV1": p}) / FULL_SCALE for p in np.linspace(60, 140, 4001)]
    assert found[1] == pytest.approx((min(sweep), max(sweep)), rel=1e-7)
    assert found[1][0] <= min(sweep) * (1 + 1e-12)
    assert found[1][1] >= max(sweep) * (1 - 1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_a_proved_direction_holds_everywhere(seed: int) -> None:
    made = random_made(seed, pots=0, contacts=0)
    spec = read_text(made.spec())
    worked = solved_of(spec, spec.original)
    circuit = worked.setups["r"].circuit
    if circuit.meter is None:
        return
    proved = {worked.network.values[n].name: way for n, way in directions(circuit).items()}
    rng = np.random.default_rng(seed)
    for _ in range(25):
        values = {name: float(10 ** rng.uniform(-1, 4)) for name in made.ohms}
        here = dense(made, values)
        for name, way in proved.items():
            moved = dense(made, {**values, name: values[name] * 1.3})
            assert way * (moved - here) >= -1e-9 * abs(here)
            if way == 0:
                assert moved == pytest.approx(here, rel=1e-7, abs=1e-12)


def test_a_ladder_is_proved_as_a_whole() -> None:
    """Series and parallel alone: every direction follows from the shape, so 60 values are no limit."""
    rungs = "\n".join(
        f"      A{n}: {{resistor: 100 ohm, tolerance: 5 %, between: [P{n}, P{n + 1}]}}\n"
        f"      B{n}: {{resistor: 1 kohm, tolerance: 5 %, between: [P{n + 1}, OUT]}}"
        for n in range(30)
    )
    points = ", ".join(f"P{n}: {{}}" for n in range(31))
    result = values_of(read_text(one_wiring(points, rungs, "P30").encode()))[0]
    one = result.readings[0]
    assert one.worst_low_percent is not None
    assert one.deflection is not None
    assert one.worst_low_percent < 100 * (one.deflection - 1)


def one_wiring(points: str, parts: str, meter_at: str) -> str:
    wiring = (
        f"    parts:\n{parts}\n      M1: {{meter: 1 mA, resistance: 50 ohm, resistance_tolerance: 0 %, "
        f"between: [{meter_at}, OUT]}}\n"
    )
    return (
        f"rewire: 1\ntitle: many\npoints: {{OUT: {{}}, {points}}}\n"
        "readings:\n  r: {voltage: [P0, OUT], full_scale: 10 V}\n"
        f"wirings:\n  original:\n{wiring}  other:\n{wiring}"
    )


def test_too_many_unproved_values_are_refused_by_name() -> None:
    """A lattice in which every value may move the reading either way."""
    rng = np.random.default_rng(5)
    parts = []
    for n in range(5):
        for m in range(5):
            here = f"P{5 * n + m}"
            for other in ([f"P{5 * n + m + 1}"] if m < 4 else []) + (
                [f"P{5 * n + m + 5}"] if n < 4 else []
            ):
                parts.append(
                    f"      R{len(parts)}: {{resistor: {int(rng.integers(10, 99))} ohm, "
                    f"tolerance: 1 %, between: [{here}, {other}]}}"
                )
    points = ", ".join(f"P{n}: {{}}" for n in range(25))
    text = one_wiring(points, "\n".join(parts), "P12").replace(
        "between: [P12, OUT]", "between: [P11, P17]"
    )
    text = text.replace("voltage: [P0, OUT]", "voltage: [P0, P24]")
    with pytest.raises(LimitReached, match=r"worst case of reading r: \d+ values .* more than 20"):
        values_of(read_text(text.encode()))


@pytest.mark.parametrize("seed", range(5))
def test_shares_are_what_each_value_does_alone(seed: int) -> None:
    made = random_made(seed, pots=1, contacts=0)
    found = answered(made)
    if found is None:
        return
    here = dense(made, {}) / FULL_SCALE
    for share in found[0].readings[0].shares:
        off = made.tolerance[share.value] / 100
        for percent, factor in ((share.low_percent, 1 - off), (share.high_percent, 1 + off)):
            moved = dense(made, {share.value: float(made.ohms[share.value]) * factor}) / FULL_SCALE
            assert percent == pytest.approx(100 * (moved - here), rel=1e-6, abs=1e-7 * abs(here))


def test_chance_is_seeded_and_inside_the_worst_case() -> None:
    made = random_made(3, pots=1, contacts=0)
    spec = read_text(made.spec())
    worked = solved_of(spec, spec.original)
    setup = worked.setups["r"]
    one, same, other = (
        answer(setup.circuit, drawn).amps
        for seed in (7, 7, 8)
        for drawn in [
            Draw(500, seed).values(worked.network, setup.circuit.values, worked.known, "uniform")
        ]
    )
    assert (one == same).all()
    assert (one != other).any()
    bands = bands_of(worked.network, setup.circuit.values, worked.known)
    assert len(bands) == len([n for n, off in made.tolerance.items() if off])
    result = values_of(spec)[0].readings[0]
    assert result.spread is not None
    assert result.worst_low_percent is not None
    assert result.worst_high_percent is not None
    for low, high in (result.spread.uniform_percent, result.spread.normal_percent):
        assert result.worst_low_percent - 1e-9 <= low < high <= result.worst_high_percent + 1e-9


def test_pieces_are_off_one_by_one() -> None:
    """Two equal pieces of 1 % in series are 1 % at worst, as one is; each counts half."""
    text = one_wiring(
        "P0: {}, P1: {}",
        "      R1: {resistor: 500 ohm + 500 ohm, tolerance: 1 %, between: [P0, P1]}",
        "P1",
    )
    one = values_of(read_text(text.encode()))[0].readings[0]
    corners = [
        10 / (50 + 500 * a + 500 * b) / 1e-3 for a, b in itertools.product((0.99, 1.01), repeat=2)
    ]
    assert one.worst_low_percent == pytest.approx(100 * (min(corners) - 1))
    assert one.worst_high_percent == pytest.approx(100 * (max(corners) - 1))
    assert len(one.shares) == 2
    assert one.shares[0].size == pytest.approx(one.shares[1].size)
