"""Who is called what: points, parts, lugs, controls; and what a wrong name was meant to be.

Names are checked while the value that has them is read: the reader knows which there are.
"""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from rewire.reading.faults import Hint, Nearest, Report
from rewire.reading.text import Mapping as MappingNode, Node, Scalar, node_at
from rewire.records.keys import LUG, two_in_one
from rewire.records.parts import Part, Place
from rewire.records.spec import Control, Reading, Spec, Wiring
from rewire.words.wording import Wrong, shown

BAD: Any = object()
"""Stands for a value that is malformed; its fault has been reported."""
MOST_CONTACTS = 2_000_000
"""Lugs, and contacts by position, that one file may have."""

Lugs = dict[str, tuple[str, ...] | None]
_MANY = 1000
_LATIN = str.maketrans(
    "АВЕЗКМНОРСТУХаеорсухіј" "ΑΒΕΖΗΙΚΜΝΟΡΤΥΧο" "−–—‐‑",
    "ABE3KMHOPCTYXaeopcyxij" "ABEZHIKMNOPTYXo" "-----",
)  # fmt: skip
"""Cyrillic and Greek letters, and dashes, that look Latin (Unicode TS 39, from memory)."""
_is_lug = re.compile(LUG).fullmatch


@dataclass(slots=True)
class Stock:
    """The points, or the parts, of one list of a file.

    ``lugs`` maps a part to its lugs, None where they are not known because the part
    is malformed; ``vague`` says that some names are not known at all.
    """

    points: set[str] = field(default_factory=set)
    lugs: Lugs = field(default_factory=dict)
    vague: bool = False
    names: set[str] = field(default_factory=set)
    """Every point, and every terminal in full."""

    def __post_init__(self) -> None:
        """List every name that is good."""
        self.names |= self.points
        for part, lugs in self.lugs.items():
            self.names.update(f"{part}.{lug}" for lug in lugs or ())


@dataclass(frozen=True, slots=True)
class Scope:
    """The names that can be used in one place of a file; lists are shared between scopes."""

    said: str
    stocks: tuple[Stock, ...]

    @property
    def vague(self) -> bool:
        """Whether there are names that are not known."""
        return any(stock.vague for stock in self.stocks)

    def points(self) -> set[str]:
        """Names of points."""
        return {point for stock in self.stocks for point in stock.points}

    def parts(self) -> list[str]:
        """Names of parts."""
        return [part for stock in self.stocks for part in stock.lugs]

    def has(self, name: str) -> bool:
        """Whether there is such a point or terminal."""
        return any(name in stock.names for stock in self.stocks)

    def has_part(self, name: str) -> bool:
        """Whether there is such a part."""
        return any(name in stock.lugs for stock in self.stocks)

    def has_unsure(self, name: str) -> bool:
        """Whether there is, or may be, such a part whose lugs are not known."""
        return self.vague or any(stock.lugs.get(name, ()) is None for stock in self.stocks)

    def check(self, name: str, place: Place, report: Report) -> bool:
        """Whether a point or a terminal exists; a fault with a way out if not."""
        if self.has(name):
            return True
        part, dot, lug = name.partition(".")
        forgotten = two_in_one(name)
        if forgotten:
            report.fault(place, *forgotten)
            return False
        if self.has_unsure(part):
            return False
        if not dot:
            report.fault(place, *self._no_point(name))
        elif not self.has_part(part):
            near = Nearest(name, self._all) if self._is_small() else Nearest(part, self.parts)
            report.fault(place, f"no part {shown(part)} {self.said}", near)
        else:
            lugs = functools.partial(self._terminals, part)
            report.fault(place, f"{shown(part)} has no lug {shown(lug)}", Nearest(name, lugs))
        return False

    def _no_point(self, name: str) -> tuple[str, Hint]:
        lugs = self._lugs(name)
        if lugs:
            return f"{shown(name)} is a part, not a terminal", f"write {name}.{lugs[0]} or the like"
        among = self._all if self._is_small() else self.points
        return f"no point {shown(name)}", Nearest(name, among)

    def _lugs(self, part: str) -> tuple[str, ...]:
        return next((s.lugs[part] or () for s in self.stocks if part in s.lugs), ())

    def _terminals(self, part: str) -> list[str]:
        return [f"{part}.{lug}" for lug in self._lugs(part)]

    def _is_small(self) -> bool:
        return sum(len(stock.names) for stock in self.stocks) <= _MANY

    def _all(self) -> set[str]:
        return {name for stock in self.stocks for name in stock.names}


def refuse_look_alikes(
    names: Iterable[tuple[str, Place]],
    what: str,
    report: Report,
    seen: dict[str, str] | None = None,
) -> None:
    """Fault every name that differs from an earlier one in case alone, or looks like it."""
    first = {} if seen is None else seen
    for name, place in names:
        known = first.setdefault(_as_seen(name), name)
        if known != name:
            alike = known.casefold() == name.casefold()
            said = "differ in case alone" if alike else "look alike, and are not the same"
            message = f"{what} {_told_apart(name)} and {_told_apart(known)} {said}"
            report.fault(place, message, "choose another name for one of them")


def _as_seen(name: str) -> str:
    """A name without what the eye cannot tell: case, blanks, unseen signs, letters of a kind."""
    if name.isascii():
        return " ".join(name.casefold().split())
    plain = unicodedata.normalize("NFKC", name).translate(_LATIN)
    seen = "".join(c for c in plain if unicodedata.category(c) != "Cf")
    return " ".join(seen.casefold().split())


def _told_apart(name: str) -> str:
    """A name for a message; with the letters that are not ASCII's written out."""
    return shown(name if name.isascii() else name.encode("unicode_escape").decode())


def check_lugs(lugs: Iterable[str], place: Place, report: Report) -> None:
    """Fault every lug whose name cannot be, or stands twice, or differs in case alone."""
    seen: dict[str, str] = {}
    for lug in lugs:
        known = seen.get(lug.casefold())
        if _is_lug(lug) is None:
            hint = "a lug's name has letters, digits, _, + and - only"
            report.fault(place, f"{shown(lug)} cannot be a lug", hint)
        elif known == lug:
            report.fault(place, f"lug {shown(lug)} stands twice", "each lug needs its own name")
        refuse_look_alikes([(lug, place)], "lugs", report, seen)


@dataclass(frozen=True, slots=True)
class Original:
    """What the original has to name."""

    scope: Scope
    top: Mapping[str, Part]
    """Parts that stay in every wiring."""
    own: Mapping[str, Part] = field(default_factory=dict)
    """Parts of the original only."""

    def part(self, name: str) -> Part | None:
        """A part of the original, staying or not."""
        return self.own.get(name) or self.top.get(name)


@dataclass(slots=True)
class Reader:
    """What is known while a file is read, and what was found wrong with it."""

    report: Report
    controls: dict[str, Control | None] = field(default_factory=dict)
    """None for one that is malformed."""
    all_controls: bool = True
    """Whether these are all."""
    scope: Scope = Scope("", ())
    original: Original = Original(Scope("", ()), {})
    readings: dict[str, Reading] = field(default_factory=dict)
    """Of the whole file."""
    lugs: Lugs = field(default_factory=dict)
    """Lugs of parts that may be malformed otherwise."""
    texts: dict[str, list[Scalar]] = field(default_factory=dict)
    """What stands behind some keys, all over the file."""
    own: Scope = Scope("", ())
    """The names of the wiring that is read."""
    ids: dict[str, str] = field(default_factory=dict)
    """Of its wires, in lower case → as written."""
    known: set[str] | None = None
    """Every point and part of the file; None where some cannot be known."""
    chassis: str | None = None
    spec: Spec | None = None
    wiring: Wiring | None = None
    """What a bench log is of."""
    contacts: int = 0
    """Lugs, and contacts by position, of all parts so far."""

    def place(self, node: Node) -> Place:
        """Where a node stands."""
        return self.report.place(node.line, node.column)

    def fault(self, at: Node, message: str, hint: Hint = None) -> None:
        """Report what is wrong at a node."""
        self.report.fault(self.place(at), message, hint)

    def refuse(self, node: Node, key: str | None, wrong: Wrong) -> Any:
        """Report what is wrong with a value, with the name of the key that it is about."""
        hint = wrong.hint
        if isinstance(node, Scalar) and node.bare and node.cut:
            hint = "' #' begins a comment: put the text in quotes"
        self.fault(node, wrong.message if key is None else f"{key}: {wrong.message}", hint)
        return BAD

    def doubt(self, key: str | None, node: Scalar, doubts: Iterable[str]) -> None:
        """Note what a value may mean that it does not say."""
        self.texts.setdefault(key or "", []).append(node)
        for said in doubts:
            self.report.notice(self.place(node), said)

    def affords(self, contacts: int, at: Node) -> bool:
        """Whether a part with so many lugs and contacts still fits; a fault if not."""
        self.contacts += contacts
        if self.contacts <= MOST_CONTACTS:
            return True
        message = f"more than {MOST_CONTACTS} lugs and contacts up to here"
        self.fault(at, message, "split the file, or leave out what is not used")
        return False

    def check(self, names: str, value: Any, node: Node) -> None:
        """Look up the names in a value: see ``Field.names``."""
        if names == "state":
            for control, position in value.items():
                self.check_positions(control, (position,), node)
        elif names == "when":
            for control, positions in value.items():
                self.check_positions(control, positions, node)
        else:
            for number, name in enumerate(value):
                if not self.scope.has(name):
                    at = self.place(node_at(node, (number,))[0])
                    self.scope.check(name, at, self.report)
                elif names == "anchor":
                    self._check_anchor(name, node_at(node, (number,))[0])

    def _check_anchor(self, name: str, at: Node) -> None:
        """An anchor is a point, or a terminal of the original that is no lug."""
        part = self.original.part(name.partition(".")[0])
        if "." in name and part is not None and not part.has_role:
            hint = "name a point, or a terminal of another part, that it is wired to"
            message = f"{shown(name)} is a lug of a {part.kind}, which another wiring need not have"
            self.fault(at, message, hint)

    def check_positions(self, name: str, positions: Iterable[str], node: Node) -> None:
        """Fault a control that is not there, or positions that it does not have."""
        value, key = node_at(node, (name,))
        if self.has_control(name, key or value):
            for position in positions:
                self.has_position(name, position, value)

    def has_control(self, name: str, at: Node) -> bool:
        """Whether there is such a control; a fault if not."""
        if name not in self.controls and self.all_controls:
            known = [name for name, one in self.controls.items() if one is not None]
            hint: Hint = Nearest(name, known)
            if not known:
                hint = f"list it under controls: {{{name}: [ONE, OTHER]}}"
            self.fault(at, f"no control {shown(name)}", hint)
        return self.controls.get(name) is not None

    def has_position(self, name: str, position: str, at: Node) -> bool:
        """Whether a control has such a position; a fault if not."""
        control = self.controls[name]
        positions = control.positions if control is not None else ()
        if position in positions:
            return True
        message = f"control {shown(name)} has no position {shown(position)}"
        whole = next((other for other in positions if position in other.split()), None)
        missing = f"is a comma missing in {shown(whole)}?"
        self.fault(at, message, Nearest(position, positions) if whole is None else missing)
        return False


def stock_of_parts(node: Node | None, lugs: Lugs) -> Stock:
    """Names of the parts of one list; the lugs of those that are malformed are not known."""
    if node is None:
        return Stock()
    if not isinstance(node, MappingNode):
        return Stock(vague=not isinstance(node, Scalar) or bool(node.text) or node.torn)
    return Stock(lugs={name: lugs.get(name) for name in node.entries}, vague=node.torn)


def names_in(node: Node | None) -> tuple[str, ...]:
    """The names of the user's choice in a mapping, of malformed things too."""
    return tuple(node.entries) if isinstance(node, MappingNode) else ()
