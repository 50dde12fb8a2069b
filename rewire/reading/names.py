"""Who is called what: points, parts, lugs, controls; and what a wrong name was meant to be.

Names are checked while the value that has them is read: the reader knows which there are.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from rewire.reading.faults import Hint, Nearest, Report
from rewire.records.keys import LUG
from rewire.records.part import Part, Place
from rewire.words.wording import listed, printable, shown, two_in_one

Lugs = dict[str, tuple[str, ...] | None]
"""Part → its lugs; None where they are not known because the part is malformed."""
_MANY = 1000
_FEW = 12
_LATIN = str.maketrans(
    "АВЕЗКМНОРСТУХаеорсухіј" "ΑΒΕΖΗΙΚΜΝΟΡΤΥΧο" "−–—‐‑",
    "ABE3KMHOPCTYXaeopcyxij" "ABEZHIKMNOPTYXo" "-----",
)  # fmt: skip
"""Cyrillic and Greek letters, and dashes, that look Latin (Unicode TS 39, from memory)."""
_is_lug = re.compile(LUG).fullmatch


@dataclass(slots=True)
class Scope:
    """The names that can be used in one place of a file."""

    said: str
    points: set[str] = field(default_factory=set)
    lugs: Lugs = field(default_factory=dict)
    names: set[str] = field(default_factory=set)
    """Every point, and every terminal in full."""

    def __post_init__(self) -> None:
        """List every name."""
        terminals = (f"{part}.{lug}" for part, lugs in self.lugs.items() for lug in lugs or ())
        self.names = {*self.points, *terminals}

    def with_parts(self, said: str, lugs: Lugs) -> Scope:
        """The same names and those of more parts."""
        return Scope(said, self.points, self.lugs | lugs)

    def has_unsure(self, part: str) -> bool:
        """Whether there is such a part whose lugs are not known."""
        return self.lugs.get(part, ()) is None

    def check(self, name: str, place: Place, report: Report) -> bool:
        """Whether a point or a terminal exists; a fault with a way out if not."""
        if name in self.names:
            return True
        part, dot, lug = name.partition(".")
        forgotten = two_in_one(name)
        among = self.names if len(self.names) <= _MANY else None
        if forgotten:
            report.fault(place, *forgotten)
        elif self.has_unsure(part):
            return False
        elif not dot and self.lugs.get(name):
            hint = f"write {name}.{(self.lugs[name] or ())[0]} or the like"
            report.fault(place, f"{shown(name)} is a part, not a terminal", hint)
        elif not dot:
            owner = next((part for part, lugs in self.lugs.items() if name in (lugs or ())), None)
            near = Nearest(name, among or self.points, "list it under points, or mend the name")
            report.fault(
                place,
                f"no point {shown(name)}",
                f"a lug is named with its part: {owner}.{name}" if owner else near,
            )
        elif part not in self.lugs:
            near = Nearest(name, among) if among else Nearest(part, self.lugs)
            report.fault(place, f"no part {shown(part)} {self.said}", near)
        else:
            report.fault(
                place, f"{shown(part)} has no lug {shown(lug)}", self._lug_meant(part, lug)
            )
        return False

    def _lug_meant(self, part: str, lug: str) -> Hint:
        """The lug that differs in case alone, else all of them, or the nearest of many."""
        lugs = self.lugs[part] or ()
        alike = next((one for one in lugs if one.casefold() == lug.casefold()), None)
        if alike is not None:
            return f"write {part}.{alike}"
        if len(lugs) <= _FEW and any(letter.isdigit() for letter in lug):
            return f"its lugs are {listed(printable(one)[:20] for one in lugs)}"
        return Nearest(f"{part}.{lug}", [f"{part}.{one}" for one in lugs])


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
    """The names and the parts of the original."""

    scope: Scope
    top: Mapping[str, Part]
    """Parts that stay in every wiring."""
    own: Mapping[str, Part] = field(default_factory=dict)
    """Parts of the original only."""
    meters: tuple[str, ...] = ()

    def part(self, name: str) -> Part | None:
        """A part of the original, staying or not."""
        return self.own.get(name) or self.top.get(name)
