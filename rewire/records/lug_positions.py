"""Where each lug of a switch sits, as seen from behind: after its ``layout``, else as is usual.

``layout`` has its meaning here, and is checked here while the spec is read:

* ``decks``: a number of wafers, or lists of pole letters (of lugs, for a table), nearest
  the knob first;
* ``step``: degrees from one throw to the next;
* ``clock``: lug → hour, ``2`` or ``2:30``; lugs not named keep their place;
* ``inside``: lugs of the inner ring;
* ``rows``: lists of lugs, ``.`` for an empty place.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from itertools import pairwise

from rewire.records.parts import Part, Section, Switch, pole_letters
from rewire.words.wording import shown

_KEYS = ("decks", "step", "clock", "inside", "rows")
_TALLEST = 16
_TALLEST_PILE = 24
_TABLE_COLUMN = 12
_TABLE_RING = 24
_MOST_FIXED = 4
_MOST_ON_A_RING = 36
"""A pole with more throws stands in columns: a ring of them would not fit a sheet."""
_APART = 4.0
"""Least angle between two lugs of one ring, degrees."""
_ON_A_WAFER = 12
"""Places thirty degrees apart; common practice, no source."""
_NEAR = 360.0 / _ON_A_WAFER + 1.0
"""Lugs of a wafer within this angle can be bridged by a drop of solder, degrees."""


class LayoutError(ValueError):
    """A ``layout`` that cannot be; the message says what is wrong and what would do."""


@dataclass(frozen=True, slots=True)
class Position:
    """Where one lug sits, seen from behind."""

    lug: str
    deck: int = 0
    """Wafer, 0 nearest the knob."""
    clock: float | None = None
    """Degrees clockwise from twelve; None where the lugs stand in rows."""
    inner: bool = False
    row: int = 0
    column: int = 0
    given: bool = False
    """Whether the spec gives the place; else it is assumed."""


@dataclass(frozen=True, slots=True)
class Positions:
    """All lugs of one switch."""

    of: Mapping[str, Position]
    travel: tuple[tuple[str, ...], ...] = ()
    """Per pole its throws in the order of the control's positions."""

    @property
    def round(self) -> bool:
        """Whether the lugs stand on wafers."""
        return any(one.clock is not None for one in self.of.values())

    @property
    def assumed(self) -> tuple[str, ...]:
        """Lugs whose place the spec does not give."""
        return tuple(lug for lug, one in self.of.items() if not one.given)

    @property
    def decks(self) -> tuple[tuple[Position, ...], ...]:
        """The lugs wafer by wafer, nearest the knob first."""
        found: dict[int, list[Position]] = {}
        for one in self.of.values():
            found.setdefault(one.deck, []).append(one)
        return tuple(tuple(found[number]) for number in sorted(found))

    @property
    def depth(self) -> Mapping[str, int]:
        """Lug → decks between it and the person behind."""
        last = max(one.deck for one in self.of.values())
        return {lug: last - one.deck for lug, one in self.of.items()}

    @property
    def grid(self) -> tuple[tuple[str | None, ...], ...]:
        """The lugs row by row; None is an empty place."""
        at = {(one.row, one.column): one.lug for one in self.of.values()}
        rows, columns = (1 + max(place[axis] for place in at) for axis in (0, 1))
        return tuple(tuple(at.get((r, c)) for c in range(columns)) for r in range(rows))

    @property
    def against_the_knob(self) -> tuple[tuple[str, ...], ...]:
        """Throws that the spec puts clockwise as seen from behind, pole by pole.

        A knob turned clockwise runs anticlockwise there.
        """
        return tuple(throws for throws in self.travel if self._clockwise(throws))

    def _clockwise(self, throws: Sequence[str]) -> bool:
        at = [self.of[lug].clock for lug in throws if self.of[lug].given]
        steps = [(b - a) % 360 for a, b in pairwise(at) if a is not None and b is not None]
        return len(at) == len(throws) and bool(steps) and all(step < 180 for step in steps)


def lug_positions(switch: Switch) -> Positions:
    """Where the lugs of a switch sit.

    Raises:
        LayoutError: the layout names a lug that is not there, leaves one out, or puts two
            in one place.
    """
    layout = _checked(switch)
    if "rows" in layout:
        return _in_rows(_written_rows(switch, layout["rows"]), True)
    if _is_round(switch) or {"decks", "clock", "step", "inside"} & set(layout):
        found = _inside(switch, _on_wafers(switch, layout), layout)
        placed = _at_hours(switch, found, layout)
        _keep_apart(placed)
        return Positions({one.lug: one for one in placed}, _travel(switch))
    pile = pile_column(switch)
    return _in_rows([[lug] for lug in pile] if pile else _columns(switch), False)


def neighbours(part: Part) -> list[tuple[str, str]]:
    """Pairs of lugs of one part that solder can bridge, or a wire can be mistaken for."""
    if part.lugs_in_a_row:
        return list(pairwise(part.terminals))
    if not isinstance(part, Switch):
        return []
    positions = lug_positions(part)
    if positions.round:
        order = part.terminals.index
        pairs = (pair for deck in positions.decks for pair in _on_a_deck(deck))
        return [(a, b) if order(a) < order(b) else (b, a) for a, b in pairs]
    rows = positions.grid
    lines = (*rows, *zip(*rows, strict=True))
    return [(a, b) for line in lines for a, b in pairwise(line) if a is not None and b is not None]


def style_of(switch: Switch) -> str:
    """The style as written, else the usual one of the form (common practice, no source)."""
    if switch.style is not None:
        return switch.style
    if switch.form == "table":
        return "table"
    return "rotary" if (switch.throws or 0) > 2 else "toggle"


def moving_lug(section: Section) -> str | None:
    """The lug that every closed group has, if the contacts are a blade among a few others."""
    groups = [group for at in section.groups for group in at]
    uses = Counter(lug for group in groups for lug in group)
    if len(section.lugs) > _MOST_FIXED + 1 or any(len(group) != 2 for group in groups):
        return None
    shared = [lug for lug in section.lugs if uses[lug] == len(groups)]
    return shared[0] if shared else None


def resting_on(section: Section, moving: str) -> list[str]:
    """Lugs that a blade touches in the control's first position, the nearest first."""
    closed = {lug for group in section.groups[0] if moving in group for lug in group}
    return [lug for lug in section.lugs if lug != moving and lug in closed]


def pile_column(switch: Switch) -> list[str | None] | None:
    """The lugs of a relay or jack from the top, None between two sections.

    None where the style is neither, or the contacts are no springs beside each other, or too many.
    """
    if style_of(switch) not in ("relay", "jack") or not switch.sections:
        return None
    column: list[str | None] = []
    for section in switch.sections:
        moving = moving_lug(section)
        if moving is None:
            return None
        resting = resting_on(section, moving)
        thrown = [lug for lug in section.lugs if lug != moving and lug not in resting]
        column += [*([None] if column else []), *resting[::-1], moving, *thrown]
    column += [None, *switch.idle_lugs] if switch.idle_lugs else []
    return column if len(column) <= _TALLEST_PILE else None


def _on_a_deck(deck: Sequence[Position]) -> Iterator[tuple[str, str]]:
    """Next to each other on a ring, or close to each other across the two rings."""
    outer, inner = ([p for p in deck if p.inner is ring] for ring in (False, True))
    for ring in (outer, inner):
        around = sorted(ring, key=lambda p: p.clock or 0.0)
        pairs = [*pairwise(around), *([(around[-1], around[0])] if len(around) > 2 else [])]
        yield from ((a.lug, b.lug) for a, b in pairs if _angle(a, b) <= _NEAR)
    yield from ((a.lug, b.lug) for a in outer for b in inner if _angle(a, b) <= _NEAR)


def _angle(one: Position, other: Position) -> float:
    turn = ((one.clock or 0.0) - (other.clock or 0.0)) % 360
    return min(turn, 360 - turn)


def _travel(switch: Switch) -> tuple[tuple[str, ...], ...]:
    used = list(dict.fromkeys(at for at in switch.throw_at or () if at is not None))
    return tuple(tuple(pole[at] for at in used) for pole in switch.poles)


def _is_round(switch: Switch) -> bool:
    return style_of(switch) == "rotary" and (switch.throws or 0) <= _MOST_ON_A_RING


def _in_rows(rows: Sequence[Sequence[str | None]], given: bool) -> Positions:
    return Positions({
        lug: Position(lug, row=r, column=c, given=given)
        for r, row in enumerate(rows) for c, lug in enumerate(row) if lug is not None
    })  # fmt: skip


def _columns(switch: Switch) -> list[list[str | None]]:
    """One column to a pole; where there are two throws, the common stands between them."""
    stacks = [part for pole in switch.poles for part in _stack(pole)] or _table_columns(switch)
    deepest = max(len(stack) for stack in stacks)
    return [[stack[row] if row < len(stack) else None for stack in stacks]
            for row in range(deepest)]  # fmt: skip


def _stack(pole: Sequence[str]) -> list[list[str]]:
    """A pole's column; a very tall one goes on in further columns."""
    if len(pole) != 3:
        return [list(pole[n : n + _TALLEST]) for n in range(0, len(pole), _TALLEST)]
    common, first, second = pole
    return [[first, common, second]]


def _table_columns(switch: Switch) -> list[list[str]]:
    stacks = [list(section.lugs) for section in switch.sections]
    if switch.idle_lugs:
        stacks.append(list(switch.idle_lugs))
    return [stack[n : n + _TABLE_COLUMN] for stack in stacks
            for n in range(0, len(stack), _TABLE_COLUMN)]  # fmt: skip


def _on_wafers(switch: Switch, layout: Mapping[str, object]) -> list[Position]:
    step = _step(switch, layout)
    return [
        one
        for number, units in enumerate(_decks(switch, layout, step))
        for one in (_poles(number, units, step) if switch.poles else _ring(number, units[0]))
    ]


def _poles(deck: int, poles: Sequence[Sequence[str]], step: float | None) -> Iterator[Position]:
    """Throws anticlockwise from the pole's first place: clockwise at the knob, from behind.

    More poles than have room at the usual step stand closer.
    """
    if step is None:
        step = min(30.0, 360.0 / sum(len(pole) - 1 for pole in poles))
    starts = [-360.0 / len(poles) * number for number in range(len(poles))]
    for start, (_, *throws) in zip(starts, poles, strict=True):
        yield from (Position(lug, deck, (start - step * n) % 360) for n, lug in enumerate(throws))
    for start, (common, *throws) in zip(starts, poles, strict=True):
        middle = start - step * ((len(throws) - 1) // 2 + 0.5)
        yield Position(common, deck, middle % 360, inner=True)


def _ring(deck: int, lugs: Sequence[str]) -> Iterator[Position]:
    step = 360.0 / max(_ON_A_WAFER, len(lugs))
    return (Position(lug, deck, (-step * n) % 360) for n, lug in enumerate(lugs))


def _step(switch: Switch, layout: Mapping[str, object]) -> float | None:
    if "step" not in layout:
        return None
    throws = max(1, switch.throws or 1)
    try:
        step = float(str(layout["step"]).removesuffix("°"))
    except ValueError:
        step = 0.0
    if not 0 < step * throws <= 360:
        raise LayoutError(
            f"step is {layout['step']}; write the degrees between two throws, "
            f"at most {360 / throws:g} for {throws} throws"
        )
    return step


def _decks(
    switch: Switch, layout: Mapping[str, object], step: float | None
) -> list[list[tuple[str, ...]]]:
    """Per deck the poles on it (each with its lugs), or for a table one list of lugs."""
    units = list(switch.poles)
    written = layout.get("decks")
    if isinstance(written, list | tuple):
        return _named_decks(switch, written)
    if not units:
        lugs = switch.terminals
        return [[lugs[n : n + _TABLE_RING]] for n in range(0, len(lugs), _TABLE_RING)]
    throws = max(1, switch.throws or 1)
    each = max(1, int(360 // ((step or 30.0) * throws)))
    if written is not None:
        count = str(written)
        if not count.isdecimal() or not 1 <= int(count) <= len(units):
            raise LayoutError(
                f"decks is {shown(count)}; write a number from 1 to {len(units)}, "
                "or the poles deck by deck"
            )
        each = -(-len(units) // int(count))
    return [units[n : n + each] for n in range(0, len(units), each)]


def _named_decks(switch: Switch, written: Sequence[object]) -> list[list[tuple[str, ...]]]:
    named = [[str(name) for name in _listed(deck)] for deck in written]
    letters = dict(zip(pole_letters(len(switch.poles)), switch.poles, strict=True))
    known = letters if switch.poles else switch.terminals
    _all_once(switch, [name for deck in named for name in deck], known, "decks")
    if not switch.poles:
        return [[tuple(deck)] for deck in named]
    return [[letters[name] for name in deck] for deck in named]


def _written_rows(switch: Switch, written: object) -> list[list[str | None]]:
    rows = [[str(name) for name in _listed(row)] for row in _listed(written)]
    _all_once(switch, [n for row in rows for n in row if n != "."], switch.terminals, "rows")
    return [[None if n == "." else n for n in row] for row in rows]


def _inside(
    switch: Switch, found: Sequence[Position], layout: Mapping[str, object]
) -> list[Position]:
    if "inside" not in layout:
        return list(found)
    inside = {str(name) for name in _listed(layout["inside"])}
    _known(switch, inside, "inside")
    return [replace(one, inner=one.lug in inside) for one in found]


def _at_hours(
    switch: Switch, found: Sequence[Position], layout: Mapping[str, object]
) -> list[Position]:
    hours = layout.get("clock", {})
    if not isinstance(hours, Mapping):
        raise LayoutError("clock is a mapping from lug to hour, such as {A1: 12, A2: 1:30}")
    _known(switch, {str(lug) for lug in hours}, "clock")
    at = {str(lug): _degrees(str(lug), str(hour)) for lug, hour in hours.items()}
    return [replace(p, clock=at[p.lug], given=True) if p.lug in at else p for p in found]


def _degrees(lug: str, hour: str) -> float:
    match = re.fullmatch(r"(\d{1,2})(?::([0-5]\d))?", hour.strip(), re.ASCII)
    if match is None or not 0 <= int(match[1]) <= 12:
        raise LayoutError(f"clock of {lug} is {hour}; write an hour such as 12, 3 or 1:30")
    return (int(match[1]) % 12) * 30.0 + int(match[2] or 0) * 0.5


def _keep_apart(placed: Sequence[Position]) -> None:
    rings: dict[tuple[int, bool], list[Position]] = {}
    for one in placed:
        rings.setdefault((one.deck, one.inner), []).append(one)
    for ring in rings.values():
        around = sorted(ring, key=lambda p: p.clock or 0.0)
        for one, other in zip(around, [*around[1:], *around[:1]], strict=True):
            if one is not other and _angle(one, other) < _APART:
                first, second = sorted((one.lug, other.lug))
                raise LayoutError(
                    f"{first} and {second} are in one place; keep them {_APART:g} degrees apart, "
                    "or name the one nearer the shaft in 'inside'"
                )


def _checked(switch: Switch) -> Mapping[str, object]:
    if switch.layout is None:
        return {}
    if not isinstance(switch.layout, Mapping):
        raise LayoutError(f"layout is a mapping with {', '.join(_KEYS)}")
    for key in switch.layout:
        if key not in _KEYS:
            near = get_close_matches(str(key), _KEYS, 1)
            hint = f"; did you mean {near[0]}?" if near else f"; known: {', '.join(_KEYS)}"
            raise LayoutError(f"layout has no {key}{hint}")
    return switch.layout


def _listed(written: object) -> list[object]:
    if not isinstance(written, list | tuple) or not written:
        raise LayoutError(f"a list is wanted where layout says {shown(str(written))}")
    return list(written)


def _known(switch: Switch, names: set[str], key: str) -> None:
    for name in sorted(names - set(switch.terminals)):
        near = get_close_matches(name, switch.terminals, 1)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise LayoutError(f"{key} names {name}, which is no lug of it{hint}")


def _all_once(
    switch: Switch, names: Sequence[str], known: Mapping[str, object] | Sequence[str], key: str
) -> None:
    if key == "rows" or not switch.poles:
        _known(switch, set(names), key)
    for name, count in Counter(names).items():
        if name not in known or count > 1:
            raise LayoutError(
                f"{key} names {name} wrongly: each of {', '.join(sorted(known))} stands there once"
            )
    missing = sorted(set(known) - set(names))
    if missing:
        raise LayoutError(f"{key} leaves out {', '.join(missing)}")
