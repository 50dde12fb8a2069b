"""Combinations: pieces from a drawer, in series, parallel or both, that make up a value."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np
import numpy.typing as npt

from rewire.circuit.dc import Array
from rewire.reading.drawer import Drawer
from rewire.records.spec import InParallel, InSeries, Piece, Pieces, total_ohms
from rewire.values.model import Combination, PieceLoad
from rewire.words.quantity import in_ohms

Numbers = npt.NDArray[np.int64]
SERIES, PARALLEL = 0, 1
_WINDOW = 6
_MOST_LOOKED_AT = 100_000
_KEPT = 100
_ALIKE = 1e-9
"""Values that differ by less than this share count as equally good."""
_MOST_SINGLES = 1000


@dataclass(frozen=True, slots=True)
class Stock:
    """One value in the drawer."""

    ohms: float
    quantity: int = 1
    rating_watts: float | None = None
    tolerance_percent: float | None = None


def stocks_of(drawer: Drawer) -> list[Stock]:
    """The resistors of a drawer; one that is built up counts as one piece."""
    return [
        Stock(total_ohms(part.pieces), one.quantity, part.rating_watts, part.tolerance_percent)
        for one in drawer.resistors
        if (part := one.part).pieces is not None
    ]


@dataclass(frozen=True, slots=True)
class _Pairs:
    """All pairs of values under both ways of joining, by rising resistance."""

    ohms: Array
    pieces: Numbers
    """Shape (pairs, 2)."""
    joined: Numbers
    stock: Numbers
    """How many there are of each value."""


def combinations(
    stocks: Sequence[Stock], target: float, most_pieces: int = 4, count: int = 10
) -> list[tuple[float, Pieces]]:
    """The combinations nearest to a value.

    Two sides are joined in series or in parallel; for the one side each choice is
    tried, for the other the nearest that complements it is looked up among sorted
    values. So a drawer of n values costs about n² look-ups and not n⁴ trials.

    Args:
        stocks: what is in the drawer; no piece is used more often than it is there.
        target: ohm, above 0.
        most_pieces: 1 to 4.
        count: how many to return.

    Returns:
        Error of the value (a share of it, with sign) and the pieces; by error, those
        within one part in 10⁹ of each other by number of pieces.

    Error: exact for small drawers. In one of hundreds of values six neighbours on
    either side are looked at, so the best may be missed where all of them would
    need a piece more often than it is there.
    """
    kept = _one_each(stocks)
    if not kept:
        return []
    ohms = np.array([stock.ohms for stock in kept])
    found: dict[tuple[object, ...], Pieces] = {}
    stock = np.array([stock.quantity for stock in kept])
    for pieces in _candidates(ohms, stock, target, most_pieces):
        counts = Counter(_numbers(pieces))
        if all(kept[number].quantity >= used for number, used in counts.items()):
            found.setdefault(_shape(pieces), _of_stock(pieces, ohms))
    ranked = sorted(
        ((total_ohms(p) / target - 1.0, p) for p in found.values()),
        key=lambda item: (round(abs(item[0]) / _ALIKE), pieces_in(item[1]), written(item[1])),
    )
    return ranked[:count]


def _one_each(stocks: Sequence[Stock]) -> list[Stock]:
    """One entry per value, the quantities added up; the poorest of its kind stands for all."""
    by_ohms: dict[float, Stock] = {}
    for stock in stocks:
        if stock.ohms <= 0.0 or stock.quantity < 1:
            continue
        known = by_ohms.get(stock.ohms)
        if known is not None:
            ratings = [r for r in (stock.rating_watts, known.rating_watts) if r is not None]
            off = (stock.tolerance_percent, known.tolerance_percent)
            stock = Stock(
                stock.ohms,
                stock.quantity + known.quantity,
                min(ratings, default=None),
                None if None in off else max(o for o in off if o is not None),
            )
        by_ohms[stock.ohms] = stock
    return sorted(by_ohms.values(), key=lambda stock: stock.ohms)[:_MOST_SINGLES]


Tree = tuple[object, ...]
"""``("piece", number)`` or ``(SERIES or PARALLEL, tree, tree)``."""


def _candidates(ohms: Array, stock: Numbers, target: float, most_pieces: int) -> Iterator[Tree]:
    order = np.argsort(np.abs(ohms / target - 1.0), kind="stable")[:20]
    yield from (("piece", int(number)) for number in order)
    if most_pieces < 2:
        return
    pairs = _pairs(ohms, stock)
    near = np.argsort(np.abs(pairs.ohms / target - 1.0), kind="stable")[:60]
    yield from (_pair(pairs, int(number)) for number in near)
    if most_pieces >= 3:
        yield from _one_and_pair(ohms, pairs, target)
    if most_pieces >= 4:
        yield from _pair_and_pair(pairs, target)
        yield from _one_and_three(ohms, pairs, target)


def _pairs(ohms: Array, stock: Numbers) -> _Pairs:
    one, other = np.triu_indices(len(ohms))
    there = (one != other) | (stock[one] > 1)
    one, other = one[there], other[there]
    a, b = ohms[one], ohms[other]
    joined = np.concatenate([a + b, a * b / (a + b)])
    order = np.argsort(joined, kind="stable")
    ways = np.repeat([SERIES, PARALLEL], len(one))
    both = np.stack([np.concatenate([one, one]), np.concatenate([other, other])], axis=1)
    return _Pairs(joined[order], both[order], ways[order], stock)


def _pair(pairs: _Pairs, number: int) -> Tree:
    one, other = (("piece", int(piece)) for piece in pairs.pieces[number])
    return (int(pairs.joined[number]), one, other)


def _complement(target: Array | float, known: Array, way: int) -> Array:
    """What completes ``known`` to ``target``; infinite or negative where nothing does."""
    if way == SERIES:
        return np.asarray(target - known)
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / (1.0 / np.asarray(target) - 1.0 / known))


def _lookup(
    pairs: _Pairs, wanted: Array, sensitivity: Array, beside: Numbers
) -> list[tuple[int, int]]:
    """Best (index into wanted, index into pairs), by what the misfit does to the whole.

    ``beside`` holds the pieces that are in use already, shape (wanted, pieces).
    """
    good = np.flatnonzero(np.isfinite(wanted) & (wanted > 0.0))
    if not len(good) or not len(pairs.ohms):
        return []
    window = int(np.clip(_MOST_LOOKED_AT // len(good), _WINDOW, 2 * len(pairs.ohms)))
    middle = np.searchsorted(pairs.ohms, wanted[good])
    offsets = np.arange(-window, window)
    at = np.clip(middle[:, None] + offsets, 0, len(pairs.ohms) - 1)
    miss = np.abs(pairs.ohms[at] - wanted[good][:, None]) * sensitivity[good][:, None]
    miss[~_in_stock(pairs, at, beside[good])] = np.inf
    flat = miss.ravel()
    best = np.argpartition(flat, min(_KEPT, len(flat) - 1))[:_KEPT]
    return [
        (int(good[i // len(offsets)]), int(at.ravel()[i])) for i in best if np.isfinite(flat[i])
    ]


def _in_stock(pairs: _Pairs, at: Numbers, beside: Numbers) -> npt.NDArray[np.bool_]:
    """Whether there are pieces enough for what is in use and a pair; shape of ``at``."""
    used = [*(pairs.pieces[at, column] for column in (0, 1))]
    used += [np.broadcast_to(column[:, None], at.shape) for column in beside.T]
    enough = np.ones(at.shape, dtype=np.bool_)
    for piece in used:
        count = sum((piece == other).astype(np.int8) for other in used)
        enough &= pairs.stock[piece] >= count
    return enough


def _slope(target: float, wanted: Array, way: int) -> Array:
    """Change of the whole per change of the complement."""
    if way == SERIES:
        return np.ones_like(wanted)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((target / wanted) ** 2)


def _one_and_pair(ohms: Array, pairs: _Pairs, target: float) -> Iterator[Tree]:
    for way in (SERIES, PARALLEL):
        wanted = _complement(target, ohms, way)
        beside = np.arange(len(ohms))[:, None]
        for single, pair in _lookup(pairs, wanted, _slope(target, wanted, way), beside):
            yield (way, ("piece", single), _pair(pairs, pair))


def _pair_and_pair(pairs: _Pairs, target: float) -> Iterator[Tree]:
    for way in (SERIES, PARALLEL):
        wanted = _complement(target, pairs.ohms, way)
        slope = _slope(target, wanted, way)
        for first, second in _lookup(pairs, wanted, slope, pairs.pieces):
            yield (way, _pair(pairs, first), _pair(pairs, second))


def _one_and_three(ohms: Array, pairs: _Pairs, target: float) -> Iterator[Tree]:
    size = len(ohms)
    beside = np.stack(np.divmod(np.arange(size * size), size), axis=1)
    for way in (SERIES, PARALLEL):
        three = _complement(target, ohms, way)
        for inner in (SERIES, PARALLEL):
            wanted = _complement(three[:, None], ohms[None, :], inner).ravel()
            felt = _slope(target, three, way)[:, None] * np.ones(size)
            if inner == PARALLEL:
                with np.errstate(divide="ignore", invalid="ignore"):
                    felt = felt * (three[:, None] / wanted.reshape(size, size)) ** 2
            wanted[np.repeat(three <= 0.0, size)] = -1.0
            for both, pair in _lookup(pairs, wanted, np.ravel(felt), beside):
                first, second = ("piece", both // size), ("piece", both % size)
                yield (way, first, (inner, second, _pair(pairs, pair)))


def _numbers(tree: Tree) -> list[int]:
    if tree[0] == "piece":
        return [tree[1]]  # type: ignore[list-item]
    return [n for side in tree[1:] for n in _numbers(side)]  # type: ignore[arg-type]


def _flat(tree: Tree, way: object) -> Iterator[Tree]:
    """Sides of a tree joined the same way, however they are bracketed."""
    if tree[0] == "piece" or tree[0] != way:
        yield tree
        return
    for side in tree[1:]:
        yield from _flat(side, way)  # type: ignore[arg-type]


def _shape(tree: Tree) -> Tree:
    """One name for all ways of writing the same network."""
    if tree[0] == "piece":
        return tree
    return (tree[0], *sorted((_shape(side) for side in _flat(tree, tree[0])), key=repr))


def _of_stock(tree: Tree, ohms: Array) -> Pieces:
    if tree[0] == "piece":
        return Piece(float(ohms[tree[1]]))  # type: ignore[call-overload]
    sides = sorted((_of_stock(side, ohms) for side in _flat(tree, tree[0])), key=total_ohms)
    return InSeries(tuple(reversed(sides))) if tree[0] == SERIES else InParallel(tuple(sides))


def pieces_in(pieces: Pieces) -> int:
    """How many pieces there are."""
    return 1 if isinstance(pieces, Piece) else sum(pieces_in(item) for item in pieces.items)


def written(pieces: Pieces, within: bool = False) -> str:
    """A combination as a spec writes it.

    >>> written(InSeries((Piece(10.0), InParallel((Piece(4700.0), Piece(22.0))))))
    '10 ohm + 4.7 kohm || 22 ohm'
    """
    if isinstance(pieces, Piece):
        return in_ohms(pieces.ohms, 6).replace("Ω", "ohm")
    if isinstance(pieces, InParallel):
        return " || ".join(written(item, within=True) for item in pieces.items)
    text = " + ".join(written(item) for item in pieces.items)
    return f"({text})" if within else text


def loads(
    pieces: Pieces, watts: float | None, ratings: dict[float, float | None]
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
    stocks: Sequence[Stock],
    target: float,
    watts: float | None,
    count: int = 5,
    most_pieces: int = 4,
) -> list[Combination]:
    """The best combinations for a value, with the load of each piece.

    Args:
        stocks: what is in the drawer.
        target: ohm, above 0.
        watts: what the whole takes; None if it is not known.
        count: how many to return.
        most_pieces: 1 to 4.
    """
    kept = _one_each(stocks)
    ratings = {stock.ohms: stock.rating_watts for stock in kept}
    tolerances = {stock.ohms: stock.tolerance_percent for stock in kept}
    return [
        Combination(
            written(pieces),
            total_ohms(pieces),
            100.0 * error,
            loads(pieces, watts, ratings),
            _tolerance(pieces, tolerances),
        )
        for error, pieces in combinations(stocks, target, most_pieces, count)
    ]


def _tolerance(pieces: Pieces, tolerances: Mapping[float, float | None]) -> float | None:
    """Percent by which the whole can be off; None if a piece's is not known.

    The whole rises with each of its pieces, so its ends are those of all pieces at once.
    """
    ends = []
    for sign in (-1.0, 1.0):
        moved = _moved(pieces, tolerances, sign)
        if moved is None:
            return None
        ends.append(abs(total_ohms(moved) / total_ohms(pieces) - 1.0))
    return 100.0 * max(ends)


def _moved(pieces: Pieces, tolerances: Mapping[float, float | None], sign: float) -> Pieces | None:
    """The pieces, each at one end of its tolerance."""
    if isinstance(pieces, Piece):
        off = tolerances.get(pieces.ohms)
        return None if off is None else Piece(pieces.ohms * (1.0 + sign * off / 100.0))
    items = [moved for item in pieces.items if (moved := _moved(item, tolerances, sign))]
    if len(items) < len(pieces.items):
        return None
    return type(pieces)(tuple(items))


def what_is_left(stocks: Sequence[Stock], used: Combination) -> list[Stock]:
    """The drawer without the pieces of a combination."""
    gone = Counter(piece.ohms for piece in used.pieces)
    left = []
    for stock in stocks:
        taken = min(stock.quantity, gone[stock.ohms])
        gone[stock.ohms] -= taken
        left.append(replace(stock, quantity=stock.quantity - taken))
    return left
