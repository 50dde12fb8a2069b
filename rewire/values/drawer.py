"""What resistors can be had: preferred values, and pieces of a drawer that make up a value."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

import eseries
import numpy as np
import numpy.typing as npt

from rewire.circuit.dc import Array
from rewire.records.parts import Resistor
from rewire.values.answers import Combination, PieceLoad
from rewire.words.quantity import InParallel, InSeries, Piece, Pieces, in_ohms, total_ohms

SERIES = {series.name: series for series in eseries.ESeries}
"""Preferred values of IEC 60063 by the names of their series."""
Numbers = npt.NDArray[np.int64]
Join = type[InSeries] | type[InParallel]
_JOINS: tuple[Join, Join] = (InSeries, InParallel)
_WINDOW = 6
_MOST_LOOKED_AT = 100_000
_KEPT = 100
_ALIKE = 1e-9
"""Values that differ by less than this share count as equally good."""
_MOST_SINGLES = 1000
_GOOD_ENOUGH = 1.0
"""Percent that a combination may be off where the part states no tolerance."""


@dataclass(frozen=True, slots=True)
class Stock:
    """One value in the drawer."""

    ohms: float
    quantity: int = 1
    rating_watts: float | None = None
    tolerance_percent: float | None = None


def preferred_near(name: str, ohms: float) -> tuple[float, ...]:
    """The preferred values on either side of a value, one if it is one itself.

    Source: IEC 60063, through the library eseries.

    >>> preferred_near("E12", 5.0)
    (4.7, 5.6)
    """
    if ohms <= 0.0:
        return (ohms,)
    below = float(eseries.find_less_than_or_equal(SERIES[name], ohms * (1 + 1e-12)))
    above = float(eseries.find_greater_than_or_equal(SERIES[name], ohms * (1 - 1e-12)))
    return tuple(dict.fromkeys((below, above)))


def stocks_of(resistors: Iterable[tuple[Resistor, int]]) -> list[Stock]:
    """The resistors of a drawer, each with its quantity; one that is built up is one piece."""
    return [
        Stock(total_ohms(part.pieces), quantity, part.rating_watts, part.tolerance_percent)
        for part, quantity in resistors
        if part.pieces is not None
    ]


def combinations(
    stocks: Sequence[Stock], target: float, most_pieces: int = 4, count: int = 10
) -> list[tuple[float, Pieces]]:
    """The combinations nearest to a value, each with its error as a share, the nearest first.

    Two sides are put in series or in parallel: for each choice of one side the nearest pair that
    completes it is looked up among sorted values, n² look-ups and not n⁴ trials.

    Error: exact for small drawers. Of hundreds of values six neighbours on either side are looked
    at, so the best may be missed where all of them need a piece more often than it is there.
    """
    there = {stock.ohms: stock.quantity for stock in _one_each(stocks)}
    if not there:
        return []
    found = dict.fromkeys(
        pieces
        for pieces in _candidates(_Pairs.of(there), target, most_pieces)
        if all(there[ohms] >= used for ohms, used in Counter(_each(pieces)).items())
    )
    ranked = sorted(
        ((total_ohms(pieces) / target - 1.0, pieces) for pieces in found),
        key=lambda item: (round(abs(item[0]) / _ALIKE), pieces_in(item[1]), written(item[1])),
    )
    return ranked[:count]


def _one_each(stocks: Sequence[Stock]) -> list[Stock]:
    """One entry per value, the quantities added up; the poorest of its kind stands for all."""
    by_ohms: dict[float, Stock] = {}
    for stock in (one for one in stocks if one.ohms > 0.0 and one.quantity > 0):
        known = by_ohms.get(stock.ohms, replace(stock, quantity=0))
        ratings = [r for r in (stock.rating_watts, known.rating_watts) if r is not None]
        off = [t for t in (stock.tolerance_percent, known.tolerance_percent) if t is not None]
        by_ohms[stock.ohms] = Stock(
            stock.ohms,
            stock.quantity + known.quantity,
            min(ratings, default=None),
            max(off) if len(off) == 2 else None,
        )
    return sorted(by_ohms.values(), key=lambda stock: stock.ohms)[:_MOST_SINGLES]


@dataclass(frozen=True, slots=True)
class _Pairs:
    """All pairs of the values of a drawer, put together either way, by rising resistance."""

    singles: Array
    stock: Numbers
    """How many there are of each value."""
    ohms: Array
    pieces: Numbers
    """Numbers of the two values, shape (pairs, 2)."""
    parallel: Numbers
    """Whether they are in parallel."""

    @classmethod
    def of(cls, there: Mapping[float, int]) -> _Pairs:
        """Of a drawer: value → how many of it."""
        singles, stock = np.array(list(there)), np.array(list(there.values()))
        one, other = np.triu_indices(len(singles))
        twice = (one != other) | (stock[one] > 1)
        both = np.stack([one[twice], other[twice]], axis=1)
        a, b = singles[both.T]
        ohms = np.concatenate([a + b, a * b / (a + b)])
        order = np.argsort(ohms, kind="stable")
        ways = np.repeat([0, 1], len(both))
        return cls(singles, stock, ohms[order], np.tile(both, (2, 1))[order], ways[order])

    def single(self, number: int) -> Pieces:
        """One value."""
        return Piece(float(self.singles[number]))

    def pair(self, number: int) -> Pieces:
        """One pair."""
        one, other = (self.single(piece) for piece in self.pieces[number])
        return _put_together(_JOINS[self.parallel[number]], one, other)

    def completing(self, wanted: Array, slope: Array, beside: Numbers) -> list[tuple[int, int]]:
        """Best (index into wanted, number of a pair), by the misfit times ``slope``, of the whole.

        ``beside`` holds the pieces that are in use already, shape (wanted, pieces).
        """
        good = np.flatnonzero(np.isfinite(wanted) & (wanted > 0.0))
        if not len(good) or not len(self.ohms):
            return []
        window = int(np.clip(_MOST_LOOKED_AT // len(good), _WINDOW, 2 * len(self.ohms)))
        offsets = np.arange(-window, window)
        middle = np.searchsorted(self.ohms, wanted[good])[:, None]
        at = np.clip(middle + offsets, 0, len(self.ohms) - 1)
        miss = np.abs(self.ohms[at] - wanted[good][:, None]) * slope[good][:, None]
        miss[~self._in_stock(at, beside[good])] = np.inf
        flat = miss.ravel()
        best = np.argpartition(flat, min(_KEPT, len(flat) - 1))[:_KEPT]
        return [
            (int(good[i // len(offsets)]), int(at.ravel()[i])) for i in best if np.isfinite(flat[i])
        ]

    def _in_stock(self, at: Numbers, beside: Numbers) -> npt.NDArray[np.bool_]:
        """Whether there are pieces enough for what is in use and a pair; shape of ``at``."""
        used = [*(self.pieces[at, column] for column in (0, 1))]
        used += [np.broadcast_to(column[:, None], at.shape) for column in beside.T]
        enough = np.ones(at.shape, dtype=np.bool_)
        for piece in used:
            count = sum((piece == other).astype(np.int8) for other in used)
            enough &= self.stock[piece] >= count
        return enough


def _candidates(pairs: _Pairs, target: float, most_pieces: int) -> Iterator[Pieces]:
    for kind, ohms, count in ((pairs.single, pairs.singles, 20), (pairs.pair, pairs.ohms, 60)):
        if count == 20 or most_pieces > 1:
            near = np.argsort(np.abs(ohms / target - 1.0), kind="stable")[:count]
            yield from map(kind, map(int, near))
    sides = [(pairs.single, pairs.singles, np.arange(len(pairs.singles))[:, None])]
    sides.append((pairs.pair, pairs.ohms, pairs.pieces))
    for way in _JOINS:
        for side, ohms, beside in sides[: max(most_pieces - 2, 0)]:
            for number, pair in pairs.completing(*_complement(target, ohms, way), beside):
                yield _put_together(way, side(number), pairs.pair(pair))
        if most_pieces > 3:
            yield from _one_and_three(pairs, way, target)


def _one_and_three(pairs: _Pairs, way: Join, target: float) -> Iterator[Pieces]:
    """One piece, and beside it another one with a pair."""
    size = len(pairs.singles)
    beside = np.stack(np.divmod(np.arange(size * size), size), axis=1)
    three, slope = _complement(target, pairs.singles, way)
    for inner in _JOINS:
        wanted, steeper = _complement(three[:, None], pairs.singles[None, :], inner)
        wanted[three <= 0.0] = -1.0
        with np.errstate(invalid="ignore"):
            felt = np.ravel(slope[:, None] * steeper)
        for both, pair in pairs.completing(wanted.ravel(), felt, beside):
            first, second = map(pairs.single, divmod(both, size))
            yield _put_together(way, first, _put_together(inner, second, pairs.pair(pair)))


def _complement(target: Array | float, known: Array, way: Join) -> tuple[Array, Array]:
    """What completes ``known`` to ``target``, and the change of the whole per change of it."""
    if way is InSeries:
        wanted = np.asarray(target - known)
        return wanted, np.ones_like(wanted)
    with np.errstate(divide="ignore", invalid="ignore"):
        wanted = np.asarray(1.0 / (1.0 / np.asarray(target) - 1.0 / known))
        return wanted, np.asarray((target / wanted) ** 2)


def _put_together(way: Join, *sides: Pieces) -> Pieces:
    """Sides put together, however they are bracketed, the largest of a series first."""
    flat = [one for side in sides for one in (side.items if isinstance(side, way) else (side,))]
    return way(tuple(sorted(flat, key=lambda p: (total_ohms(p), repr(p)), reverse=way is InSeries)))


def _each(pieces: Pieces) -> list[float]:
    """Ohms of every piece."""
    if isinstance(pieces, Piece):
        return [pieces.ohms]
    return [ohms for item in pieces.items for ohms in _each(item)]


def pieces_in(pieces: Pieces) -> int:
    """How many pieces there are."""
    return len(_each(pieces))


def written(pieces: Pieces) -> str:
    """A combination as a spec writes it, bracketed, so that nobody must know what binds tighter.

    >>> written(InSeries((Piece(10.0), InParallel((Piece(4700.0), Piece(22.0))))))
    '10 ohm + (4.7 kohm || 22 ohm)'
    """
    if isinstance(pieces, Piece):
        return in_ohms(pieces.ohms, 6).replace("Ω", "ohm")
    each = [written(p) if isinstance(p, Piece) else f"({written(p)})" for p in pieces.items]
    return (" || " if isinstance(pieces, InParallel) else " + ").join(each)


def loads(
    pieces: Pieces, watts: float | None, ratings: Mapping[float, float | None]
) -> tuple[PieceLoad, ...]:
    """Watts in each piece of what takes ``watts``: by ohms in series, by siemens in parallel."""
    if isinstance(pieces, Piece):
        return (PieceLoad(pieces.ohms, watts, ratings.get(pieces.ohms)),)
    sizes = [total_ohms(item) for item in pieces.items]
    if isinstance(pieces, InParallel):
        sizes = [1.0 / size if size else inf for size in sizes]
    whole = sum(sizes)
    return tuple(
        load
        for item, size in zip(pieces.items, sizes, strict=True)
        for load in loads(item, None if watts is None else watts * size / whole, ratings)
    )


def from_drawer(
    stocks: Sequence[Stock], target: float, watts: float | None, count: int = 5, most: int = 4
) -> list[Combination]:
    """The best combinations of 1 to ``most`` pieces for a value, with the watts of each piece."""
    kept = _one_each(stocks)
    ratings = {stock.ohms: stock.rating_watts for stock in kept}
    tolerances = {stock.ohms: stock.tolerance_percent for stock in kept}
    found = []
    for error, pieces in combinations(stocks, target, most, count):
        load, off, whole = loads(pieces, watts, ratings), None, total_ohms(pieces)
        known = {ohms: t for ohms in _each(pieces) if (t := tolerances[ohms]) is not None}
        if known.keys() >= set(_each(pieces)):
            # the whole rises with each of its pieces: its ends are those of all pieces at once
            ends = (total_ohms(_moved(pieces, known, sign)) for sign in (-1.0, 1.0))
            off = 100.0 * max(abs(end / whole - 1.0) for end in ends)
        found.append(Combination(written(pieces), whole, 100.0 * error, load, off))
    return found


def in_stock(
    stocks: Sequence[Stock], ohms: float, watts: float | None, within: float | None = None
) -> list[Combination]:
    """The combinations that are off by no more than ``within`` percent, the fewest pieces first.

    Overloaded ones come last; the nearest ones where none is good enough.
    """
    if ohms <= 0.0:
        return []
    by_count = [c for most in (1, 2, 3, 4) for c in from_drawer(stocks, ohms, watts, 2, most)]
    found = list(dict.fromkeys(by_count))
    limit = (_GOOD_ENOUGH if within is None else within) + 100.0 * _ALIKE
    good = [one for one in found if abs(one.error_percent) <= limit]
    if good:
        return sorted(good, key=lambda c: (c.overloaded, len(c.pieces), abs(c.error_percent)))
    return sorted(found, key=lambda c: (c.overloaded, abs(c.error_percent)))[:3]


def _moved(pieces: Pieces, tolerances: Mapping[float, float], sign: float) -> Pieces:
    """The pieces, each at one end of its tolerance."""
    if isinstance(pieces, Piece):
        return Piece(pieces.ohms * (1.0 + sign * tolerances[pieces.ohms] / 100.0))
    return type(pieces)(tuple(_moved(item, tolerances, sign) for item in pieces.items))


def what_is_left(stocks: Sequence[Stock], used: Combination) -> list[Stock]:
    """The drawer without the pieces of a combination."""
    gone = Counter(piece.ohms for piece in used.pieces)
    left = []
    for stock in stocks:
        taken = min(stock.quantity, gone[stock.ohms])
        gone[stock.ohms] -= taken
        left.append(replace(stock, quantity=stock.quantity - taken))
    return left
