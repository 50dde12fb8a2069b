"""From a switch's form or table to lugs, poles and sections."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from rewire.records.part import Section, Timing
from rewire.records.parts import pole_letters

_MOST = 60
_WORDS = {"S": 1, "D": 2, "T": 3, "Q": 4}
_FORM = re.compile(r"([SDTQ]|[0-9]{1,3})P([SDT]|[0-9]{1,3})T")

Groups = tuple[tuple[str, ...], ...]


def read_form(form: str) -> tuple[int, int] | None:
    """Poles and throws of ``3P4T`` and the like; None if it is no such form.

    >>> read_form("DPDT"), read_form("3P11T"), read_form("table")
    ((2, 2), (3, 11), None)
    """
    match = _FORM.fullmatch(form)
    if match is None:
        return None
    poles, throws = (_WORDS.get(word) or int(word) for word in match.groups())
    return (poles, throws) if 0 < poles <= _MOST and 0 < throws <= _MOST else None


def default_lugs(poles: int, throws: int) -> list[list[str]]:
    """Per pole: the common ``A``, then the throws ``A1``, ``A2`` …."""
    return [
        [letter, *(f"{letter}{throw}" for throw in range(1, throws + 1))]
        for letter in pole_letters(poles)
    ]


def linked(lugs: Sequence[str], groups: Sequence[Groups]) -> list[list[str]]:
    """Lugs that the groups of any position link together, two or more, in the order of ``lugs``."""
    above = {lug: lug for lug in lugs}
    for group in (group for at_position in groups for group in at_position):
        first = _top(above, group[0])
        for lug in group[1:]:
            above[_top(above, lug)] = first
    pieces: dict[str, list[str]] = {}
    for lug in lugs:
        pieces.setdefault(_top(above, lug), []).append(lug)
    return [piece for piece in pieces.values() if len(piece) > 1]


def _top(above: dict[str, str], lug: str) -> str:
    while above[lug] != lug:
        above[lug] = above[above[lug]]
        lug = above[lug]
    return lug


def sections_of_poles(
    poles: Mapping[str, Sequence[str]],
    throw_at: Sequence[int | None],
    timings: Mapping[str, Timing],
) -> list[Section]:
    """One section for each pole that closes in some position.

    Args:
        poles: pole letter → its lugs, the common first.
        throw_at: per position of the control the throw, None for open.
        timings: pole letter → timing, where stated.
    """
    used = sorted({throw for throw in throw_at if throw is not None})
    if not used:
        return []
    return [
        Section(
            lugs=(lugs[0], *(lugs[throw] for throw in used)),
            groups=tuple(() if t is None else ((lugs[0], lugs[t]),) for t in throw_at),
            timing=timings.get(letter, "non-shorting"),
            timing_stated=letter in timings,
            pole=letter,
        )
        for letter, lugs in poles.items()
    ]


def sections_of_table(
    pieces: Sequence[Sequence[str]],
    groups: Sequence[Groups],
    timings: Mapping[int, Timing],
) -> list[Section]:
    """One section for each connected piece.

    Args:
        pieces: the lugs of each, as ``linked`` gives them.
        groups: per position of the control the groups closed there.
        timings: index of the piece → timing, where stated.
    """
    owner = {lug: index for index, piece in enumerate(pieces) for lug in piece}
    closed: list[list[list[tuple[str, ...]]]] = [[[] for _ in groups] for _ in pieces]
    for position, at_position in enumerate(groups):
        for group in at_position:
            closed[owner[group[0]]][position].append(group)
    return [
        Section(
            lugs=tuple(piece),
            groups=tuple(tuple(at_position) for at_position in closed[index]),
            timing=timings.get(index, "non-shorting"),
            timing_stated=index in timings,
            pole=None,
        )
        for index, piece in enumerate(pieces)
    ]
