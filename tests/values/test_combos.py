"""Combinations from a drawer against trying them all; what each piece takes; how fast."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import combinations_with_replacement

import numpy as np
import pytest

from rewire.reading.drawer import read_drawer_text
from rewire.values.drawer import (
    Stock,
    combinations,
    from_drawer,
    in_stock,
    loads,
    pieces_in,
    stocks_of,
    written,
)
from rewire.words.quantity import InParallel, InSeries, Piece, Pieces, read_pieces, total_ohms


def networks(values: tuple[float, ...]) -> Iterator[float]:
    """Resistances of every series-parallel network of some pieces."""
    if len(values) == 1:
        yield values[0]
        return
    rest = values[1:]
    for mask in range(1, 2 ** len(rest)):
        near = (values[0], *(v for i, v in enumerate(rest) if not mask >> i & 1))
        far = tuple(v for i, v in enumerate(rest) if mask >> i & 1)
        for a in networks(near):
            for b in networks(far):
                yield a + b
                yield a * b / (a + b)


def all_pieces(pieces: Pieces) -> list[float]:
    if isinstance(pieces, Piece):
        return [pieces.ohms]
    return [ohms for item in pieces.items for ohms in all_pieces(item)]


@pytest.mark.parametrize("seed", range(10))
def test_the_best_is_as_good_as_the_best_of_all(seed: int) -> None:
    rng = np.random.default_rng(seed)
    values = sorted({float(f"{10 ** rng.uniform(0, 3):.2g}") for _ in range(7)})
    stock = {value: int(rng.integers(1, 5)) for value in values}
    target = float(10 ** rng.uniform(-0.5, 3.3))
    for most in (1, 2, 3, 4):
        wanted = min(
            abs(ohms / target - 1)
            for count in range(1, most + 1)
            for pieces in combinations_with_replacement(values, count)
            if all(stock[v] >= n for v, n in Counter(pieces).items())
            for ohms in networks(pieces)
        )
        found = combinations([Stock(v, n) for v, n in stock.items()], target, most)
        assert abs(found[0][0]) == pytest.approx(wanted, rel=1e-6, abs=1e-9)
        for error, pieces in found:
            assert total_ohms(pieces) / target - 1 == pytest.approx(error, abs=1e-12)
            assert pieces_in(pieces) <= most
            assert all(stock[v] >= n for v, n in Counter(all_pieces(pieces)).items())
        ranks = [(round(abs(error) / 1e-9), pieces_in(pieces)) for error, pieces in found]
        assert ranks == sorted(ranks)


def test_what_is_there_itself_comes_before_what_makes_it_up() -> None:
    found = combinations([Stock(ohms, 4) for ohms in (50.0, 100.0, 200.0)], 100.0)
    assert found[0] == (0.0, Piece(100.0))
    assert pieces_in(found[1][1]) == 2


@pytest.mark.parametrize("seed", range(8))
def test_the_fewest_pieces_that_are_good_enough_come_first(seed: int) -> None:
    """Held against every series-parallel network of the drawer's pieces."""
    rng = np.random.default_rng(seed)
    values = sorted({float(f"{10 ** rng.uniform(0, 3):.2g}") for _ in range(6)})
    target, within = float(10 ** rng.uniform(0.5, 2.8)), float(rng.choice([0.5, 2.0, 10.0]))
    enough = [
        count for count in (1, 2, 3, 4)
        if any(abs(ohms / target - 1) <= within / 100
               for pieces in combinations_with_replacement(values, count)
               for ohms in networks(pieces))
    ]  # fmt: skip
    found = in_stock([Stock(value, 4) for value in values], target, None, within)
    if not enough:
        assert all(abs(one.error_percent) > within for one in found)
        return
    assert len(found[0].pieces) == enough[0]
    assert all(abs(one.error_percent) <= within + 1e-6 for one in found)
    counts = [len(one.pieces) for one in found]
    assert counts == sorted(counts)


def test_a_combination_is_bracketed() -> None:
    """Nobody need know that || binds tighter than +."""
    one = InSeries((Piece(10.0), InParallel((InSeries((Piece(4.7), Piece(3.3))), Piece(22.0)))))
    assert written(one) == "10 ohm + ((4.7 ohm + 3.3 ohm) || 22 ohm)"


@pytest.mark.parametrize("seed", range(10))
def test_written_combinations_are_read_back_as_the_same(seed: int) -> None:
    rng = np.random.default_rng(seed)
    stocks = [Stock(float(f"{10 ** rng.uniform(-1, 6):.3g}")) for _ in range(12)]
    for error, pieces in combinations(stocks, float(10 ** rng.uniform(0, 5))):
        assert total_ohms(read_pieces(written(pieces))) == pytest.approx(
            total_ohms(pieces), rel=1e-6
        )
        assert abs(error) < 10


@pytest.mark.parametrize("seed", range(10))
def test_loads_add_up_and_follow_from_currents_and_voltages(seed: int) -> None:
    """One ampere through the whole: the watts of a piece by its own current."""
    rng = np.random.default_rng(seed)
    pieces = random_pieces(rng, 3)
    wanted: list[float] = []
    _watts(pieces, 1.0, wanted)
    found = [load.watts for load in loads(pieces, total_ohms(pieces), {})]
    assert found == pytest.approx(wanted)


def random_pieces(rng: np.random.Generator, depth: int) -> Pieces:
    if depth == 0 or rng.random() < 0.2:
        return Piece(float(rng.integers(1, 1000)))
    kind = InSeries if rng.random() < 0.5 else InParallel
    return kind(tuple(random_pieces(rng, depth - 1) for _ in range(int(rng.integers(2, 4)))))


def _watts(pieces: Pieces, amps: float, found: list[float]) -> None:
    if isinstance(pieces, Piece):
        found.append(amps * amps * pieces.ohms)
    elif isinstance(pieces, InSeries):
        for item in pieces.items:
            _watts(item, amps, found)
    else:
        volts = amps * total_ohms(pieces)
        for item in pieces.items:
            _watts(item, volts / total_ohms(item), found)


def test_a_drawer_of_200_values_comes_within_a_percent() -> None:
    rng = np.random.default_rng(0)
    values = {float(f"{ohms:.3g}") for ohms in 10 ** rng.uniform(0, 6, 400)}
    picked = rng.choice(sorted(values), 200, replace=False)
    stocks = [Stock(float(v), int(rng.integers(1, 5)), 0.5) for v in picked]
    assert len(stocks) == 200
    for target in 10 ** rng.uniform(0, 5, 5):
        best = from_drawer(stocks, float(target), 0.1)[0]
        assert best.ohms == pytest.approx(target, rel=0.01)


def test_stocks_are_the_resistors_of_a_drawer() -> None:
    text = b"rewire_drawer: 1\nresistors:\n  - {resistor: 4k7, rating: 0.5 W, tolerance: 1 %, quantity: 3}\n  - {resistor: 10 ohm || 10 ohm}\npots: [{pot: 1k}]\n"
    there = read_drawer_text(text).resistors
    assert stocks_of((one.part, one.quantity) for one in there) == [
        Stock(4700.0, 3, 0.5, 1.0),
        Stock(5.0, 1),
    ]
