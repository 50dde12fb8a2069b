"""Resistors built up of pieces: ``0.22 ohm + 0.18 ohm``, ``10 ohm || (4k7 + 330R)``."""

from __future__ import annotations

import re
from collections import deque
from dataclasses import dataclass

from rewire.words.quantity import OHMS, BadQuantity, in_ohms, read
from rewire.words.wording import shown

_MOST_PIECES = 100
_DEEPEST = 20
_LONGEST = 10_000
"""Letters of one; the pattern below takes a hundred times as many bytes."""
_TOKEN = re.compile(r"\s*(\|\||[()+|]|(?:\d\.?[eE]\+\d|[^()+|])+)")


@dataclass(frozen=True, slots=True)
class Piece:
    """One bought value in a built-up resistor."""

    ohms: float


@dataclass(frozen=True, slots=True)
class InSeries:
    """Pieces end to end."""

    items: tuple[Pieces, ...]


@dataclass(frozen=True, slots=True)
class InParallel:
    """Pieces side by side."""

    items: tuple[Pieces, ...]


Pieces = Piece | InSeries | InParallel


def total_ohms(pieces: Pieces) -> float:
    """Resistance of a built-up resistor, in ohm; 0 if any parallel piece is 0.

    >>> total_ohms(InSeries((Piece(0.22), Piece(0.18))))
    0.4
    >>> total_ohms(InParallel((Piece(10.0), Piece(10.0))))
    5.0
    """
    if isinstance(pieces, Piece):
        return pieces.ohms
    values = [total_ohms(item) for item in pieces.items]
    if isinstance(pieces, InSeries):
        return sum(values)
    if 0.0 in values:
        return 0.0
    return 1.0 / sum(1.0 / value for value in values)


def pieces_said(pieces: Pieces) -> str:
    """A built-up resistor in words: ``10 Ω || (4.7 kΩ + 330 Ω)``."""
    if isinstance(pieces, Piece):
        return in_ohms(pieces.ohms)
    each = [pieces_said(p) if isinstance(p, Piece) else f"({pieces_said(p)})" for p in pieces.items]
    return (" + " if isinstance(pieces, InSeries) else " || ").join(each)


def read_pieces(text: str) -> Pieces:
    """The pieces of a resistor, ``+`` in series and ``||`` (binds tighter) in parallel.

    Raises:
        BadQuantity: a piece is not a resistance, or the signs do not fit together.

    >>> read_pieces("1 ohm + 10 ohm || 10 ohm")
    InSeries(items=(Piece(ohms=1.0), InParallel(items=(Piece(ohms=10.0), Piece(ohms=10.0)))))
    """
    if len(text) > _LONGEST:
        raise BadQuantity(f"{shown(text)} is longer than {_LONGEST} letters")
    tokens = parts_of(text)
    if not tokens:
        read(text, OHMS)
    if len(tokens) > 4 * _MOST_PIECES:
        raise BadQuantity(f"{shown(text)} has over {_MOST_PIECES} pieces")
    left = deque(tokens)
    result = _series(left, text, 0)
    if left:
        raise BadQuantity(f"{shown(text)} has {shown(left[0])} where '+' or '||' should be")
    return result


def parts_of(text: str) -> list[str]:
    """The values and signs of a built-up resistor, in order."""
    return [found for token in _TOKEN.findall(text) if (found := token.strip())]


def _series(left: deque[str], text: str, depth: int) -> Pieces:
    items = [_parallel(left, text, depth)]
    while left and left[0] == "+":
        left.popleft()
        items.append(_parallel(left, text, depth))
    return items[0] if len(items) == 1 else InSeries(tuple(items))


def _parallel(left: deque[str], text: str, depth: int) -> Pieces:
    items = [_one(left, text, depth)]
    while left and left[0] == "||":
        left.popleft()
        items.append(_one(left, text, depth))
    return items[0] if len(items) == 1 else InParallel(tuple(items))


def _one(left: deque[str], text: str, depth: int) -> Pieces:
    if not left:
        raise BadQuantity(f"{shown(text)} ends where a value should be")
    token = left.popleft()
    if token == "|":
        raise BadQuantity(f"{shown(text)} has a single '|'", "parallel is written '||'")
    if token == "(":
        return _bracket(left, text, depth)
    if token in ("+", "||", ")"):
        raise BadQuantity(f"{shown(text)} has {shown(token)} where a value should be")
    return Piece(read(token, OHMS))


def _bracket(left: deque[str], text: str, depth: int) -> Pieces:
    if depth >= _DEEPEST:
        raise BadQuantity(f"{shown(text)} has brackets over {_DEEPEST} deep")
    inner = _series(left, text, depth + 1)
    if not left or left.popleft() != ")":
        raise BadQuantity(f"{shown(text)} has a bracket that is not closed")
    return inner
