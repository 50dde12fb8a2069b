"""Branches of a board as the parts a person sees: one resistor, one closed contact, a pot's leg."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from rewire.circuit.dc import Array, Ends
from rewire.circuit.graph import NO_SECTION
from rewire.records.spec import (
    Capacitor,
    Choke,
    Diode,
    Fuse,
    InParallel,
    InSeries,
    Lamp,
    Meter,
    Part,
    Piece,
    Pieces,
    Pot,
    Resistor,
)
from rewire.values.board import Board, Branch
from rewire.words.quantity import in_ohms, with_unit


@dataclass(frozen=True, slots=True)
class Item:
    """One symbol: its place on the board, and the branch or branches it stands for."""

    kind: str
    part: str
    terminals: tuple[str, str]
    ends: Ends
    value: str
    ohms: float | None
    branches: tuple[Branch, ...]


def items_of(
    board: Board, branches: Sequence[Branch], values: Sequence[Array | None]
) -> list[Item]:
    """Branches of a board as symbols, in order of the board.

    Args:
        board: the wiring.
        branches: some of its branches.
        values: the board's values, each of shape (1,) or None.
    """
    pieces: dict[str, list[Branch]] = {}
    contacts: list[Branch] = []
    items: list[Item] = []
    for branch in branches:
        if branch.control is not None:
            contacts.append(branch)
        elif isinstance(board.parts[branch.part], Resistor):
            pieces.setdefault(branch.part, []).append(branch)
        else:
            items.append(_item(board, branch, branches, values))
    items.extend(_resistor(board, name, theirs, values) for name, theirs in pieces.items())
    return [*items, *_contacts(board, contacts, values)]


def _ohms(branches: Iterable[Branch], values: Sequence[Array | None]) -> list[float | None]:
    return [_ohms_of(branch, values) for branch in branches]


def _ohms_of(branch: Branch, values: Sequence[Array | None]) -> float | None:
    needed = [n for n in (branch.value, branch.share) if n is not None]
    if NO_SECTION in needed or any(values[n] is None for n in needed):
        return None
    known = [np.array([np.nan]) if v is None else v for v in values]
    return float(branch.ohms(known)[0])


def _item(
    board: Board, branch: Branch, every: Sequence[Branch], values: Sequence[Array | None]
) -> Item:
    part = board.parts[branch.part]
    ohms = _ohms_of(branch, values)
    if isinstance(part, Pot):
        lugs = part.terminals[1:] if branch.upper else part.terminals[:2]
        legs = sum(other.part == part.name for other in every)
        said = _pot_words(part, branch, ohms, legs, values)
    else:
        lugs, said = part.terminals, _words(part, ohms)
    ends = (part.terminal(lugs[0]), part.terminal(lugs[1]))
    return Item(part.kind, part.name, ends, branch.ends, said, ohms, (branch,))


def _pot_words(
    part: Pot, branch: Branch, ohms: float | None, legs: int, values: Sequence[Array | None]
) -> str:
    share = values[branch.share] if branch.share is not None else None
    at = "" if share is None else f" at {100.0 * float(share[0]):.3g} %"
    leg = "wiper–cw" if branch.upper else "ccw–wiper"
    now = "" if ohms is None else f": {in_ohms(ohms)}"
    whole = f"{in_ohms(part.ohms)} pot{at}"
    return f"{whole}, {leg}{now}" if legs > 1 else f"{whole}{now}"


def _words(part: Part, ohms: float | None) -> str:
    """The value as one writes it beside the symbol."""
    if isinstance(part, Meter):
        amps, volts = part.full_scale_amps, part.full_scale_volts
        scale = with_unit(volts, "V") if amps is None else with_unit(amps, "A")
        scale += " AC" if part.ac else ""
        return f"{scale}, {'? Ω' if part.resistance is None else in_ohms(part.resistance)}"
    if isinstance(part, Lamp):
        hot = "" if ohms is None else f", {in_ohms(ohms)} hot"
        return f"{with_unit(part.rated_volts, 'V')}{hot}"
    if isinstance(part, Fuse):
        return f"{with_unit(part.rated_amps, 'A')}{f', {in_ohms(ohms)}' if ohms else ''}"
    if isinstance(part, Choke):
        return f"{with_unit(part.henries, 'H')}, {in_ohms(part.resistance)}"
    if isinstance(part, Capacitor):
        return with_unit(part.farads, "F")
    if isinstance(part, Diode):
        return part.material or with_unit(part.forward_volts, "V")
    return "" if ohms is None else in_ohms(ohms)


def _resistor(
    board: Board, name: str, theirs: Sequence[Branch], values: Sequence[Array | None]
) -> Item:
    """A built-up resistor is one part, whatever it is built of."""
    part = board.parts[name]
    assert isinstance(part, Resistor)
    ends = (part.terminal(part.terminals[0]), part.terminal(part.terminals[1]))
    at = (board.node(ends[0]), board.node(ends[1]))
    if part.pieces is None or isinstance(part.pieces, Piece):
        ohms = _ohms_of(theirs[0], values)
        said = "value open" if ohms is None else in_ohms(ohms)
        return Item(part.kind, name, ends, at, said, ohms, tuple(theirs))
    known = iter([o for o in _ohms(theirs, values) if o is not None])
    ohms = _total(part.pieces, known)
    return Item(part.kind, name, ends, at, _pieces(part.pieces), ohms, tuple(theirs))


def _total(pieces: Pieces, known: Iterator[float]) -> float:
    """Resistance of pieces from their values in the order in which the board took them."""
    if isinstance(pieces, Piece):
        return next(known)
    ohms = [_total(item, known) for item in pieces.items]
    if isinstance(pieces, InSeries):
        return sum(ohms)
    return 0.0 if 0.0 in ohms else 1.0 / sum(1.0 / one for one in ohms)


def _pieces(pieces: Pieces, inside: bool = False) -> str:
    if isinstance(pieces, Piece):
        return in_ohms(pieces.ohms)
    if isinstance(pieces, InParallel):
        return " || ".join(_pieces(item, inside=True) for item in pieces.items)
    said = " + ".join(_pieces(item) for item in pieces.items)
    return f"({said})" if inside else said


def _contacts(
    board: Board, contacts: Sequence[Branch], values: Sequence[Array | None]
) -> Iterator[Item]:
    """Closed contacts; two legs that meet at a bar nobody else uses are one contact."""
    nets = len(board.nets.members)
    met = Counter(end for branch in contacts for end in branch.ends if end >= nets)
    waiting: dict[int, Branch] = {}
    for branch in contacts:
        inner = branch.ends[1]
        if inner < nets or met[inner] != 2:
            yield _contact(board, branch, values)
        elif inner in waiting:
            yield _joined(board, waiting.pop(inner), branch, values)
        else:
            waiting[inner] = branch


def _lugs(board: Board, branch: Branch) -> tuple[str, str]:
    """The lugs at its two ends, from the name of its value; a leg has but one."""
    first, leg, _ = board.values[branch.value].name.partition(" in ")
    if leg:
        return first, ""
    one, _, other = first.partition("–")
    return one, other


def _contact(board: Board, branch: Branch, values: Sequence[Array | None]) -> Item:
    lugs, ohms = _lugs(board, branch), _ohms_of(branch, values)
    return Item("contact", branch.part, lugs, branch.ends, "", ohms, (branch,))


def _joined(board: Board, first: Branch, second: Branch, values: Sequence[Array | None]) -> Item:
    lugs = (_lugs(board, first)[0], _lugs(board, second)[0])
    ohms = sum(o for o in _ohms((first, second), values) if o is not None)
    ends = (first.ends[0], second.ends[0])
    return Item("contact", first.part, lugs, ends, "", ohms, (first, second))
