"""Reading on past a line in which YAML is broken: its entry gives way to a stand-in."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from rewire.spec.slips import Spot, indent_of

_ITEM = re.compile(r"( *)- ")
_KEYED = re.compile(r"""( *)("[^"]*"|'[^']*'|[A-Za-z0-9_][^:#'"\[\]{}]*):(?= |$)""")
_WORD = re.compile(r"( *)([A-Za-z][A-Za-z0-9_-]*)")
_STAND_IN = "gap"


@dataclass(frozen=True, slots=True)
class Gap:
    """The lines of a file with one entry taken out, and where its stand-in stands, if it has one.

    Every other line keeps its number.
    """

    lines: list[str]
    at: Spot | None


def without(lines: Sequence[str], culprit: int) -> Gap | None:
    """The lines without the key or the item that a line belongs to; None if there is no such.

    Args:
        lines: of the file.
        culprit: the line, from 0, in which that begins which cannot be read.
    """
    start = _entry(lines, culprit)
    if start is None:
        return None
    left = list(lines)
    end = _end(lines, start)
    left[start:end] = [""] * (end - start)
    head = _head(lines[start])
    # Where the stand-in itself is met, it was the place of the entry that is wrong.
    if head is None or lines[start] == f"{head}{_STAND_IN}":
        return Gap(left, None)
    left[start] = f"{head}{_STAND_IN}"
    return Gap(left, (start, len(head)))


def _head(line: str) -> str | None:
    """A line as far as the value: up to the dash of an item, or the colon of a key."""
    item = _ITEM.match(line)
    if item:
        return item[0]
    keyed = _KEYED.match(line) or _WORD.match(line)
    return f"{keyed[1]}{keyed[2]}: " if keyed else None


def _entry(lines: Sequence[str], culprit: int) -> int | None:
    """The line in which the entry begins: this one, or one above that stands less deep."""
    if culprit >= len(lines):
        return None
    deep = indent_of(lines[culprit]) + 1
    for number in range(culprit, -1, -1):
        line = lines[number]
        if not line.strip() or indent_of(line) >= deep:
            continue
        if _head(line) is not None:
            return number
        deep = indent_of(line)
        if deep == 0:
            return culprit
    return None


def _end(lines: Sequence[str], start: int) -> int:
    """The line after an entry: the first that stands no deeper."""
    deep = indent_of(lines[start])
    holds_items = _ITEM.match(lines[start]) is None
    for number in range(start + 1, len(lines)):
        line = lines[number]
        if not line.strip() or line.lstrip().startswith("#") or indent_of(line) > deep:
            continue
        is_item = holds_items and indent_of(line) == deep and _ITEM.match(line) is not None
        if not is_item and line.strip()[0] not in "]}":
            return number
    return len(lines)
