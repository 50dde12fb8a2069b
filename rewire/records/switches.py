"""Switches: from a form or a table to lugs, poles and sections, and where each lug sits.

Lugs sit, as seen from behind, after the ``layout`` of a switch, else as is usual.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import singledispatch
from itertools import count, islice, pairwise, product, zip_longest
from typing import Annotated, Any, TypeVar

from rewire.records import keys
from rewire.records.keys import OHMS, TEXT, TYPED, VOLTS, Key, ValueKind, WrittenAs, word
from rewire.records.mount import SwitchMount
from rewire.records.part import Figure, Part, Section, Style
from rewire.words.quantity import with_unit
from rewire.words.wording import Wrong, listed, listing, nearest, shown

POLE_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""I and O are skipped: they read as 1 and 0 (common practice, no source)."""
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
_MOST_POLES = 60
_WORDS = {"S": 1, "D": 2, "T": 3, "Q": 4}
_FORM = re.compile(r"([SDTQ]|[0-9]{1,3})P([SDT]|[0-9]{1,3})T")

Groups = tuple[tuple[str, ...], ...]
Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the lugs of a switch sit, seen from behind; see ``lug_positions``."""

    decks: Annotated[int | tuple[tuple[str, ...], ...] | None, Key(keys.DECKS)] = None
    """How many wafers, or the pole letters (lugs, for a table) on each, nearest the knob first."""
    step: Annotated[float | None, Key(keys.STEP)] = None
    """Degrees from one throw to the next."""
    clock: Annotated[Mapping[str, float], Key(keys.CLOCK)] = field(default_factory=dict)
    """Lug → degrees clockwise from twelve; lugs not named keep their place."""
    inside: Annotated[tuple[str, ...], Key(keys.LUG_LIST)] = ()
    """Lugs of the inner ring."""
    rows: Annotated[tuple[tuple[str, ...], ...] | None, Key(keys.LUG_ROWS)] = None
    """Lugs row by row, ``.`` for an empty place."""


@dataclass(frozen=True, slots=True)
class SwitchRating:
    """Volts and amps a contact may break; volts to shaft and panel."""

    volts: Annotated[float | None, Key(VOLTS)] = None
    amps: Annotated[float | None, Key(keys.AMPS)] = None
    shaft_volts: Annotated[float | None, Key(VOLTS)] = None


def pole_letters(poles: int) -> list[str]:
    """A, B, C … for as many poles, AA, AB … after Z."""
    sizes = count(1)
    every = ("".join(one) for size in sizes for one in product(POLE_LETTERS, repeat=size))
    return list(islice(every, poles))


def _form(value: Any) -> str:
    """A form in capitals, ``table``, or whatever else was written."""
    said = str(keys.text_of(value)).strip()
    if read_form(said):
        return said.upper()
    return "table" if said.lower() == "table" else said


_TIMINGS = {"shorting": "make before break", "non-shorting": "break before make"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch(Part):
    """A switch, relay or jack: lugs, and what is closed in each position."""

    kind = "switch"
    lugs = ()
    passes_dc = False
    has_role = False
    order_at_bench = 0
    figures = (Figure("breaks_amps", "A", rated="amps"),)
    WRITTEN = WrittenAs(
        more={
            "timing": Key(keys.TIMING, default=None),
            "positions": Key(keys.THROWS, default=None),
            "lugs": Key(keys.LUGS, default=None, vital=True),
            "contacts": Key(keys.CONTACTS, default=None, vital=True),
        }
    )
    form: Annotated[str, Key(ValueKind(_form, TYPED), "switch")]
    """``3P4T`` and the like, or ``table``."""
    control: Annotated[str, Key(TEXT)]
    sections: tuple[Section, ...] = field()
    idle_lugs: tuple[str, ...]
    """Lugs in no section: no position ever closes them on another."""
    throws: int | None
    """Throws a pole has; None for a table."""
    throw_at: tuple[int | None, ...] | None
    """Per position of the control: the throw number, None for open. None for a table."""
    poles: tuple[tuple[str, ...], ...]
    """Plain forms: per pole the lugs (common, throw 1, throw 2 …); empty for a table."""
    style: Annotated[
        Style | None, Key(word("toggle", "rotary", "slide", "push", "relay", "jack"), default=None)
    ]
    layout: Annotated[Layout | None, Key(Layout, default=None)]
    rating: Annotated[SwitchRating, Key(SwitchRating, default=SwitchRating())]
    contact_resistance: Annotated[float | None, Key(OHMS, default=None)]
    mount: Annotated[SwitchMount | None, Key(SwitchMount)] = None

    @property
    def value(self) -> str:
        return "" if self.form == "table" else self.form

    @property
    def relay(self) -> bool:
        return self.style == "relay"

    @property
    def care(self) -> tuple[str, ...]:
        by_itself = self.style in ("relay", "jack")
        return () if by_itself else ("write down which position it stands in",)

    @property
    def breaks_amps(self) -> float | None:
        """Amps a contact may break, where stated."""
        return self.rating.amps

    @property
    def described(self) -> str:
        style = {"relay": "relay", "jack": "jack"}.get(self.style or "", f"{self.style} switch")
        noun = "switch" if self.style is None else style
        first = f"{self.form} {noun}"
        if self.form == "table":
            first = f"{noun} of {len(self.terminals)} lugs"
        both = ((self.rating.volts, "V"), (self.rating.amps, "A"))
        rated = (with_unit(value, unit) for value, unit in both if value is not None)
        return ", ".join([first, *self._timing(), *rated])

    def _timing(self) -> Iterator[str]:
        timings = {section.timing for section in self.sections}
        if len(timings) == 1:
            yield _TIMINGS.get(timings.pop(), "timing unknown")
        elif timings:
            each = (f"{s.pole or '/'.join(s.lugs)} {s.timing}" for s in self.sections)
            yield f"timing mixed: {'; '.join(each)}"


def read_form(form: str) -> tuple[int, int] | None:
    """Poles and throws of ``3P4T`` and the like; None if it is no such form.

    >>> read_form("DPDT"), read_form("3p11t"), read_form("table")
    ((2, 2), (3, 11), None)
    """
    match = _FORM.fullmatch(form.strip().upper())
    if match is None:
        return None
    poles, throws = (_WORDS.get(word) or int(word) for word in match.groups())
    return (poles, throws) if 0 < poles <= _MOST_POLES and 0 < throws <= _MOST_POLES else None


def form_named(poles: int, throws: int) -> str:
    """``DPDT``, ``3P4T``: one and two are said by letters."""
    few = {1: "S", 2: "D"}
    return f"{few.get(poles, poles)}P{few.get(throws, throws)}T"


def default_lugs(poles: int, throws: int) -> list[list[str]]:
    """Per pole: the common ``A``, then the throws ``A1``, ``A2`` …."""
    return [
        [letter, *(f"{letter}{throw}" for throw in range(1, throws + 1))]
        for letter in pole_letters(poles)
    ]


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
        Wrong: the layout names a lug that is not there, leaves one out, or puts two
            in one place.
    """
    layout = switch.layout or Layout()
    if layout.rows is not None:
        names = [lug for row in layout.rows for lug in row if lug != "."]
        _all_once(names, switch.terminals, "rows")
        return _in_rows([[None if lug == "." else lug for lug in row] for row in layout.rows], True)
    on_rings = style_of(switch) == "rotary" and (switch.throws or 0) <= _MOST_ON_A_RING
    if on_rings or switch.layout is not None:
        placed = _placed(switch, layout)
        _keep_apart(placed)
        used = list(dict.fromkeys(at for at in switch.throw_at or () if at is not None))
        travel = tuple(tuple(pole[at] for at in used) for pole in switch.poles)
        return Positions({one.lug: one for one in placed}, travel)
    pile = pile_column(switch)
    return _in_rows([[lug] for lug in pile] if pile else _columns(switch), False)


def layout_doubt(switch: Switch) -> str | None:
    """What nobody wrote of where the lugs sit, and what to go by; None where all is given."""
    positions = lug_positions(switch)
    assumed, throws = positions.assumed, [lug for pole in switch.poles for lug in pole[1:]]
    if not assumed:
        return None
    lugs = throws or switch.terminals
    by = "names" if any(lug[0].isdigit() for lug in lugs) else "letters"
    by = "numbers" if all(lug.isdigit() for lug in lugs) else by
    whole = len(assumed) == len(switch.terminals)
    what = "lug layout" if whole else f"lug layout {', '.join(assumed)}"
    if whole and positions.round and switch.layout is not None and switch.layout.step is not None:
        first = [pole[1] for pole in switch.poles]
        what = f"place of {'lugs' if len(first) > 1 else 'lug'} {listing(first)}"
    return f"{what} assumed: go by the {by}"


@singledispatch
def neighbours(part: Part) -> list[tuple[str, str]]:
    """Pairs of lugs of one part that solder can bridge, or a wire can be mistaken for."""
    return list(pairwise(part.terminals)) if part.lugs_in_a_row else []


@neighbours.register
def _(switch: Switch) -> list[tuple[str, str]]:
    positions = lug_positions(switch)
    if positions.round:
        order = switch.terminals.index
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


def _in_rows(rows: Sequence[Sequence[str | None]], given: bool) -> Positions:
    return Positions({
        lug: Position(lug, row=r, column=c, given=given)
        for r, row in enumerate(rows) for c, lug in enumerate(row) if lug is not None
    })  # fmt: skip


def _columns(switch: Switch) -> list[list[str | None]]:
    """One column to a pole; where there are two throws, the common stands between them.

    A very tall one goes on in further columns.
    """
    poles = [[p[1], p[0], p[2]] if len(p) == 3 else p for p in switch.poles]
    stacks = [stack for pole in poles for stack in _cut(pole, _TALLEST)]
    if not stacks:
        pieces = [section.lugs for section in switch.sections]
        stacks = [s for lugs in (*pieces, switch.idle_lugs) for s in _cut(lugs, _TABLE_COLUMN)]
    return [list(row) for row in zip_longest(*stacks)]


def _cut(whole: Sequence[Item], size: int) -> list[Sequence[Item]]:
    return [whole[n : n + size] for n in range(0, len(whole), size)]


def _placed(switch: Switch, layout: Layout) -> list[Position]:
    """Every lug on its wafer, where the layout says and else where it is usual."""
    _known(layout.inside, switch, "inside")
    _known(layout.clock, switch, "clock")
    found = [
        one
        for number, units in enumerate(_decks(switch, layout))
        for one in (_poles(number, units, layout) if switch.poles else _ring(number, units[0]))
    ]
    if layout.inside:
        found = [replace(one, inner=one.lug in layout.inside) for one in found]
    at = layout.clock
    return [replace(p, clock=at[p.lug], given=True) if p.lug in at else p for p in found]


def _poles(deck: int, poles: Sequence[Sequence[str]], layout: Layout) -> Iterator[Position]:
    """Throws anticlockwise from the pole's first place: clockwise at the knob, from behind.

    More poles than have room at the usual step stand closer.
    """
    step = layout.step or min(30.0, 360.0 / sum(len(pole) - 1 for pole in poles))
    starts = [-360.0 / len(poles) * number for number in range(len(poles))]
    for start, (_, *throws) in zip(starts, poles, strict=True):
        yield from (Position(lug, deck, (start - step * n) % 360) for n, lug in enumerate(throws))
    for start, (common, *throws) in zip(starts, poles, strict=True):
        middle = start - step * ((len(throws) - 1) // 2 + 0.5)
        yield Position(common, deck, middle % 360, inner=True)


def _ring(deck: int, lugs: Sequence[str]) -> Iterator[Position]:
    step = 360.0 / max(_ON_A_WAFER, len(lugs))
    return (Position(lug, deck, (-step * n) % 360) for n, lug in enumerate(lugs))


def _decks(switch: Switch, layout: Layout) -> list[Sequence[Sequence[str]]]:
    """Per deck the poles on it (each with its lugs), or for a table one list of lugs."""
    poles, decks, lugs = switch.poles, layout.decks, switch.terminals
    throws = max(1, switch.throws or 1)
    if layout.step is not None and layout.step * throws > 360:
        raise Wrong(
            f"step is {layout.step:g}; write the degrees between two throws, "
            f"at most {360 / throws:g} for {throws} throws"
        )
    if isinstance(decks, tuple):
        letters = dict(zip(pole_letters(len(poles)), poles, strict=True))
        _all_once([name for deck in decks for name in deck], letters or lugs, "decks")
        return [[letters[name] for name in deck] if poles else [deck] for deck in decks]
    if not poles:
        return [[ring] for ring in _cut(lugs, _TABLE_RING)]
    if decks is not None and decks > len(poles):
        said = f"decks is {decks}; write a number from 1 to {len(poles)}"
        raise Wrong(f"{said}, or the poles deck by deck")
    each = max(1, int(360 // ((layout.step or 30.0) * throws)))
    each = each if decks is None else -(-len(poles) // decks)
    return _cut(poles, each)


def _keep_apart(placed: Sequence[Position]) -> None:
    rings: dict[tuple[int, bool], list[Position]] = {}
    for one in placed:
        rings.setdefault((one.deck, one.inner), []).append(one)
    for ring in rings.values():
        around = sorted(ring, key=lambda p: p.clock or 0.0)
        for one, other in zip(around, [*around[1:], *around[:1]], strict=True):
            if one is not other and _angle(one, other) < _APART:
                first, second = sorted((one.lug, other.lug))
                raise Wrong(
                    f"{first} and {second} are in one place; keep them {_APART:g} degrees apart, "
                    "or name the one nearer the shaft in 'inside'"
                )


def _known(names: Iterable[str], switch: Switch, key: str) -> None:
    for name in sorted({*names} - {*switch.terminals}):
        near = nearest(name, switch.terminals)
        hint = f"nearest is {shown(near)}" if near else None
        raise Wrong(f"{key} names {shown(name)}, which is no lug of it", hint)


def _all_once(names: Sequence[str], known: Collection[str], key: str) -> None:
    for name, times in Counter(names).items():
        if name not in known or times > 1:
            said = f"{key} names {shown(name)} wrongly"
            raise Wrong(f"{said}: each of {listed(sorted(known))} stands there once")
    missing = sorted({*known} - {*names})
    if missing:
        raise Wrong(f"{key} leaves out {listed(missing)}")
