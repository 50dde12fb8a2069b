"""Values that are read as written, though something else was probably meant."""

from __future__ import annotations

import re
from collections.abc import Iterator

from rewire.reading.faults import Report
from rewire.reading.pieces import parts_of
from rewire.reading.text import Mapping, Node, Scalar
from rewire.words.quantity import doubt
from rewire.words.wording import shown

_HOLDERS = frozenset({"points", "parts", "readings", "rules", "bench"})
_VALUES = ("resistor", "pot")
"""Values that come in ohms, kilohms and megohms side by side."""
_OHMS = frozenset(
    {*_VALUES, "resistance", "contact_resistance", "source_resistance", "series_resistor",
     "within", "beyond"}
)  # fmt: skip
_OTHERS = frozenset(
    {"meter", "full_scale", "current", "amount", "fuse", "lamp", "diode", "rating", "volts",
     "amps", "shaft_volts", "rises_to", "working_volts", "supply_volts", "supply_amps",
     "capacitor"}
)  # fmt: skip
_SHARES = frozenset({"tolerance", "resistance_tolerance", "accuracy", "accept"})
_TWENTIETH = 0.2
"""A bare percentage up to here may be a fraction: 0.05 for 5 %."""
_BARE = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*")
_PREFIXED = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+)\s*([kKM])(?:\s?(?:ohm|Ω|Ω))?\s*")

Entry = tuple[str, Scalar]


def notice_doubts(tree: Mapping, report: Report) -> None:
    """Note every value that may not mean what is written.

    Args:
        tree: the whole file, without what was malformed.
        report: receives the notes.
    """
    entries = [entry for root in _roots(tree) for entry in _entries(root)]
    for key, value in entries:
        for said in _doubts(key, value.text):
            report.notice(report.place(value.line, value.column), said)
    for key in _VALUES:
        _notice_unlike([value for other, value in entries if other == key], report)


def _roots(tree: Mapping) -> Iterator[Node]:
    wirings = tree.entries.get("wirings")
    own = wirings.entries.values() if isinstance(wirings, Mapping) else ()
    for holder in (tree, *own):
        if isinstance(holder, Mapping):
            yield from (v for k, v in holder.entries.items() if k in _HOLDERS)


def _entries(root: Node) -> Iterator[Entry]:
    """Every key with a text of its own below a node."""
    waiting = [root]
    while waiting:
        node = waiting.pop()
        if isinstance(node, Mapping):
            yield from ((k, v) for k, v in node.entries.items() if isinstance(v, Scalar))
            waiting += [v for v in node.entries.values() if not isinstance(v, Scalar)]
        elif not isinstance(node, Scalar):
            waiting += [item for item in node.items if isinstance(item, Mapping)]


def _doubts(key: str, text: str) -> Iterator[str]:
    if key in _OHMS:
        yield from filter(None, (doubt(piece, "ohm") for piece in parts_of(text)))
    elif key in _OTHERS:
        yield from filter(None, [doubt(text, "F" if key == "capacitor" else "")])
    elif key in _SHARES and _BARE.fullmatch(text) and 0 < float(text) <= _TWENTIETH:
        percent = f"{100 * float(text):g}"
        yield f"{shown(text)} is read as {text.strip()} %; write {percent} % if that is meant"


def _notice_unlike(values: list[Scalar], report: Report) -> None:
    """A plain number beside the same one with a prefix, or the only one without a unit."""
    prefixed = {m[1]: value for value in values if (m := _PREFIXED.fullmatch(value.text))}
    bare = [(m[1], value) for value in values if (m := _BARE.fullmatch(value.text))]
    lettered = {value.text for value in values} - {value.text for _, value in bare}
    alone = len({value.text for _, value in bare}) == 1 and len(lettered - {"fit"}) > 1
    for number, value in bare:
        place = report.place(value.line, value.column)
        if number in prefixed:
            like = prefixed[number].text.strip()
            said = f"{shown(value.text)} is read as ohms, and {shown(like)} stands elsewhere"
            report.notice(place, f"{said}: write {number} ohm, or {like}")
        elif alone and float(number):
            said = f"{shown(value.text)} is read as ohms; all others have a unit or a prefix"
            report.notice(place, f"{said}: write {number} ohm, or the prefix that is missing")
