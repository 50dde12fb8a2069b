"""Which lug stands where on the switch, before sizes: wafers with clock angles, rows and columns.

``layout`` in a spec has its meaning here. All of it is as seen from behind:

* ``decks``: a number of wafers, or lists of pole letters (of lugs, for a table), nearest
  the knob first;
* ``step``: degrees from one throw to the next;
* ``clock``: lug → hour, ``2`` or ``2:30``; lugs not named keep their place;
* ``inside``: lugs of the inner ring;
* ``rows``: lists of lugs, ``.`` for an empty place.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

from rewire.draw.lugview.contacts import Pile, pile_of
from rewire.spec.model import Switch

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Poles in order; I and O are skipped."""
_KEYS = ("decks", "step", "clock", "inside", "rows")
_TALLEST = 16
_MOST_ON_A_RING = 36
"""A pole with more throws is drawn in columns: a ring of them would not fit a sheet."""
_NEAREST = 4.0
"""Least angle between two lugs of a wafer, degrees."""
_LUGS_ON_A_WAFER = 12
"""Places thirty degrees apart; common practice, no source."""


class LayoutError(ValueError):
    """A ``layout`` that cannot be drawn; the message says where and what would do."""


@dataclass(frozen=True, slots=True)
class Wafer:
    """One deck of a rotary switch: lugs at clock angles in degrees, as drawn."""

    title: str
    outer: tuple[tuple[str, float], ...]
    inner: tuple[tuple[str, float], ...] = ()
    tracks: int = 0
    """Jumper tracks there is room for, at least."""

    @property
    def lugs(self) -> tuple[str, ...]:
        """Outer before inner."""
        return tuple(lug for lug, _ in self.outer + self.inner)

    def mirrored(self) -> Wafer:
        """The wafer as seen from the other side."""
        turned = [tuple((lug, -at % 360) for lug, at in ring) for ring in (self.outer, self.inner)]
        return replace(self, outer=turned[0], inner=turned[1])

    def renamed(self, name: Callable[[str], str]) -> Wafer:
        """The wafer with other names for its lugs."""
        rings = [tuple((name(lug), at) for lug, at in ring) for ring in (self.outer, self.inner)]
        return replace(self, outer=rings[0], inner=rings[1])


@dataclass(frozen=True, slots=True)
class Grid:
    """Lugs in rows and columns; None is an empty place."""

    rows: tuple[tuple[str | None, ...], ...]
    pile: Pile | None = None
    """The springs of a relay or jack, whose lugs stand in one column."""
    lanes: tuple[int, ...] = ()
    """Jumpers there is room for between the columns, at least; counted from the left edge."""

    @property
    def lugs(self) -> tuple[str, ...]:
        """Row by row."""
        return tuple(lug for row in self.rows for lug in row if lug is not None)

    def mirrored(self) -> Grid:
        """The lugs as seen from the other side."""
        rows = tuple(tuple(reversed(row)) for row in self.rows)
        pile = self.pile and replace(self.pile, facing=-self.pile.facing)
        return replace(self, rows=rows, lanes=self.lanes[::-1], pile=pile)

    def renamed(self, name: Callable[[str], str]) -> Grid:
        """The same with other names for its lugs."""
        rows = tuple(tuple(None if lug is None else name(lug) for lug in row) for row in self.rows)
        return replace(self, rows=rows, pile=self.pile and self.pile.renamed(name))


Arrangement = Grid | tuple[Wafer, ...]


def arrange(switch: Switch) -> Arrangement:
    """The lugs of a switch as seen from behind, after its ``layout`` or by common practice.

    Raises:
        LayoutError: the layout names a lug that is not there, or leaves one out.
    """
    layout = _checked(switch)
    if "rows" in layout:
        return _rows(switch, layout["rows"])
    round_shown = _is_rotary(switch) and (switch.throws or 0) <= _MOST_ON_A_RING
    if round_shown or {"decks", "clock", "step", "inside"} & set(layout):
        return _wafers(switch, layout)
    return _piled(switch) or Grid(_columns(switch))


def _piled(switch: Switch) -> Grid | None:
    found = pile_of(switch, style_of(switch))
    if found is None:
        return None
    column, pile = found
    return Grid(tuple((lug,) for lug in column), pile)


def style_of(switch: Switch) -> str:
    """The style as written, else the usual one of the form (common practice, no source)."""
    if switch.style is not None:
        return switch.style
    if switch.form == "table":
        return "table"
    return "rotary" if (switch.throws or 0) > 2 else "toggle"


def _is_rotary(switch: Switch) -> bool:
    return style_of(switch) == "rotary"


def _columns(switch: Switch) -> tuple[tuple[str | None, ...], ...]:
    """One column to a pole; where there are two throws, the common stands between them."""
    stacks = [part for pole in switch.poles for part in _stack(pole)] or _table_columns(switch)
    deepest = max(len(stack) for stack in stacks)
    padded = [[*stack, *[None] * (deepest - len(stack))] for stack in stacks]
    return tuple(tuple(column[row] for column in padded) for row in range(deepest))


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
    return [stack[n : n + 12] for stack in stacks for n in range(0, len(stack), 12)]


def _wafers(switch: Switch, layout: Mapping[str, object]) -> tuple[Wafer, ...]:
    step = _step(switch, layout)
    decks = _decks(switch, layout, step)
    wafers = []
    for number, units in enumerate(decks, start=1):
        title = _deck_title(number, len(decks), _letters_on(switch, units))
        wafers.append(_poles_on(title, units, step) if switch.poles else _ring(title, units[0]))
    placed = [_at_hours(switch, w, layout) for w in _inside(switch, wafers, layout)]
    for wafer in placed:
        _apart(switch, wafer)
    return tuple(placed)


def _apart(switch: Switch, wafer: Wafer) -> None:
    """Refuse lugs in one direction from the shaft: no leader could leave the inner of them."""
    ring = sorted((at, lug) for lug, at in wafer.outer + wafer.inner)
    for (at, lug), (next_at, other) in zip(ring, [*ring[1:], *ring[:1]], strict=True):
        if lug != other and (next_at - at) % 360 < _NEAREST:
            first, second = sorted((lug, other))
            raise _wrong(switch, f"{first} and {second} stand in one direction from the shaft; "
                                 f"keep them {_NEAREST:g} degrees apart")  # fmt: skip


def _letters_on(switch: Switch, poles: Sequence[tuple[str, ...]]) -> str:
    letters = [a for a, pole in zip(LETTERS, switch.poles, strict=False) if pole in poles]
    if not letters:
        return ""
    return f": pole{'s' if len(letters) > 1 else ''} {', '.join(letters)}"


def _deck_title(number: int, count: int, poles: str) -> str:
    if count == 1:
        return ""
    near = " (nearest the knob)" if number == 1 else ""
    return f"deck {number} of {count}{near}{poles}"


def _poles_on(title: str, poles: Sequence[Sequence[str]], step: float) -> Wafer:
    """Throws anticlockwise from the pole's first place: clockwise at the knob, from behind."""
    sector = 360.0 / len(poles)
    outer: list[tuple[str, float]] = []
    inner: list[tuple[str, float]] = []
    for number, (common, *throws) in enumerate(poles):
        start = -sector * number
        outer.extend((lug, (start - step * n) % 360) for n, lug in enumerate(throws))
        middle = start - step * ((len(throws) - 1) // 2 + 0.5)
        inner.append((common, middle % 360))
    return Wafer(title, tuple(outer), tuple(inner))


def _ring(title: str, lugs: Sequence[str]) -> Wafer:
    step = 360.0 / max(_LUGS_ON_A_WAFER, len(lugs))
    return Wafer(title, tuple((lug, (-step * n) % 360) for n, lug in enumerate(lugs)))


def _step(switch: Switch, layout: Mapping[str, object]) -> float:
    throws = max(1, switch.throws or 1)
    if "step" not in layout:
        return 30.0 if throws <= _LUGS_ON_A_WAFER else 360.0 / throws
    try:
        step = float(str(layout["step"]).removesuffix("°"))
    except ValueError:
        step = 0.0
    if not 0 < step * throws <= 360:
        raise _wrong(switch, f"step is {layout['step']}; write the degrees between two throws, "
                             f"at most {360 / throws:g} for {throws} throws")  # fmt: skip
    return step


def _decks(
    switch: Switch, layout: Mapping[str, object], step: float
) -> list[list[tuple[str, ...]]]:
    """Per deck the poles on it (each with its lugs), or for a table one list of lugs."""
    units = list(switch.poles)
    written = layout.get("decks")
    if isinstance(written, (list, tuple)):
        return _named_decks(switch, written)
    if not units:
        return [[group] for group in _table_decks(switch)]
    throws = max(1, switch.throws or 1)
    each = max(1, int(360 // (step * throws)))
    if written is not None:
        count = str(written)
        if not count.isdigit() or not 1 <= int(count) <= len(units):
            raise _wrong(switch, f"decks is {count}; write a number from 1 to {len(units)}, "
                                 "or the poles deck by deck")  # fmt: skip
        each = -(-len(units) // int(count))
    return [units[n : n + each] for n in range(0, len(units), each)]


def _table_decks(switch: Switch) -> list[tuple[str, ...]]:
    lugs = tuple(switch.terminals)
    return [lugs[n : n + 24] for n in range(0, len(lugs), 24)]


def _named_decks(switch: Switch, written: Sequence[object]) -> list[list[tuple[str, ...]]]:
    named = [[str(name) for name in _listed(switch, deck)] for deck in written]
    letters = dict(zip(LETTERS, switch.poles, strict=False))
    known = set(letters) if switch.poles else set(switch.terminals)
    _all_once(switch, [name for deck in named for name in deck], known, "decks")
    if not switch.poles:
        return [[tuple(deck)] for deck in named]
    return [[letters[name] for name in deck] for deck in named]


def _rows(switch: Switch, written: object) -> Grid:
    rows = [[str(name) for name in _listed(switch, row)] for row in _listed(switch, written)]
    _all_once(switch, [n for row in rows for n in row if n != "."], set(switch.terminals), "rows")
    wide = max(len(row) for row in rows)
    return Grid(
        tuple(
            tuple(None if n == "." else n for n in [*row, *["."] * (wide - len(row))])
            for row in rows
        )
    )


def _inside(switch: Switch, wafers: Sequence[Wafer], layout: Mapping[str, object]) -> list[Wafer]:
    if "inside" not in layout:
        return list(wafers)
    inside = {str(name) for name in _listed(switch, layout["inside"])}
    _known(switch, inside, "inside")
    return [
        Wafer(
            w.title,
            tuple((lug, at) for lug, at in w.outer + w.inner if lug not in inside),
            tuple((lug, at) for lug, at in w.outer + w.inner if lug in inside),
        )
        for w in wafers
    ]


def _at_hours(switch: Switch, wafer: Wafer, layout: Mapping[str, object]) -> Wafer:
    hours = layout.get("clock", {})
    if not isinstance(hours, Mapping):
        raise _wrong(switch, "clock is a mapping from lug to hour, such as {A1: 12, A2: 1:30}")
    _known(switch, {str(lug) for lug in hours}, "clock")
    placed = {str(lug): _degrees(switch, str(lug), str(hour)) for lug, hour in hours.items()}
    return Wafer(
        wafer.title,
        tuple((lug, placed.get(lug, at)) for lug, at in wafer.outer),
        tuple((lug, placed.get(lug, at)) for lug, at in wafer.inner),
    )


def _degrees(switch: Switch, lug: str, hour: str) -> float:
    match = re.fullmatch(r"(\d{1,2})(?::([0-5]\d))?", hour.strip())
    if match is None or not 0 <= int(match[1]) <= 12:
        raise _wrong(switch, f"clock of {lug} is {hour}; write an hour such as 12, 3 or 1:30")
    return (int(match[1]) % 12) * 30.0 + int(match[2] or 0) * 0.5


def _checked(switch: Switch) -> Mapping[str, object]:
    if switch.layout is None:
        return {}
    if not isinstance(switch.layout, Mapping):
        raise _wrong(switch, f"layout is a mapping with {', '.join(_KEYS)}")
    for key in switch.layout:
        if key not in _KEYS:
            near = get_close_matches(str(key), _KEYS, 1)
            hint = f"; did you mean {near[0]}?" if near else f"; known: {', '.join(_KEYS)}"
            raise _wrong(switch, f"layout has no {key}{hint}")
    return switch.layout


def _listed(switch: Switch, written: object) -> list[object]:
    if not isinstance(written, (list, tuple)) or not written:
        raise _wrong(switch, f"a list is wanted where layout says {written!r}")
    return list(written)


def _known(switch: Switch, names: set[str], key: str) -> None:
    for name in sorted(names - set(switch.terminals)):
        near = get_close_matches(name, switch.terminals, 1)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise _wrong(switch, f"{key} names {name}, which is no lug of it{hint}")


def _all_once(switch: Switch, names: list[str], known: set[str], key: str) -> None:
    if key == "rows" or not switch.poles:
        _known(switch, set(names), key)
    for name in names:
        if name not in known or names.count(name) > 1:
            raise _wrong(switch, f"{key} names {name} wrongly: each of {', '.join(sorted(known))} "
                                 "stands there once")  # fmt: skip
    missing = sorted(known - set(names))
    if missing:
        raise _wrong(switch, f"{key} leaves out {', '.join(missing)}")


def _wrong(switch: Switch, message: str) -> LayoutError:
    return LayoutError(f"{switch.place}: layout of {switch.name}: {message}")
