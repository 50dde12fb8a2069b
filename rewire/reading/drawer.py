"""Reading a drawer: parts on hand, in the words of a spec plus ``quantity``.

A drawer's parts are judged by the same models as a spec's: the file is laid out as
the parts of one, each under a name made of its list and its number.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from rewire.reading.build_parts import Parts, build_parts
from rewire.reading.faults import Nearest, Report
from rewire.reading.forms import Reader
from rewire.reading.load import bytes_of, is_marked, whole_tree_of
from rewire.reading.names import Desk
from rewire.reading.parts import PARTS
from rewire.reading.text import Mapping, Node, Scalar, Sequence
from rewire.records.spec import Control, Meter, Part, Pot, Resistor, Switch
from rewire.records.switches import read_form
from rewire.words.wording import nearest, shown

Kind = TypeVar("Kind", bound=Part)

_LISTS = {"resistors": "resistor", "pots": "pot", "switches": "switch", "meters": "meter"}
_EXAMPLES = {
    "resistor": "- {resistor: 10 ohm, quantity: 5}",
    "pot": "- {pot: 1 kohm, quantity: 2}",
    "switch": "- {switch: 3P4T, timing: shorting}",
    "meter": "- {meter: 1 mA, resistance: 60 ohm}",
}
_TOP = ("rewire_drawer", "title", "note", *_LISTS)
_WIRED = ("between", "replaces", "control", "positions", "for", "choose", "setting")
"""Keys that say how a part is used, and what lies in a drawer is not used."""
_MOST_DIGITS = 6


@dataclass(frozen=True, slots=True)
class Stocked(Generic[Kind]):
    """A part in the drawer, and how many there are of it."""

    part: Kind
    quantity: int


@dataclass(frozen=True, slots=True)
class Drawer:
    """Parts on hand. A switch's control bears the part's name, with one position per throw."""

    file: str
    resistors: tuple[Stocked[Resistor], ...] = ()
    pots: tuple[Stocked[Pot], ...] = ()
    switches: tuple[Stocked[Switch], ...] = ()
    meters: tuple[Stocked[Meter], ...] = ()


def read_drawer(path: str | Path) -> Drawer:
    """Read and check a drawer file.

    Raises:
        SpecError: it cannot be read, or something in it is wrong; all that is wrong at once.
    """
    return read_drawer_text(bytes_of(path, "the drawer"), str(path))


def read_drawer_text(data: bytes, file: str = "<text>") -> Drawer:
    """Read and check a drawer that is already in memory.

    Args:
        data: the bytes of a file, UTF-8.
        file: its name, for messages.

    Raises:
        SpecError: something in it is wrong; all that is wrong at once.
    """
    report = Report(file)
    tree = whole_tree_of(data, report, "rewire_drawer: 1")
    drawer = _drawer(tree, report)
    if report:
        raise report.error()
    return drawer


def _drawer(tree: Mapping, report: Report) -> Drawer:
    if not is_marked(tree, report, "rewire_drawer", "a drawer"):
        return Drawer(report.file)
    for key, at in tree.keys.items():
        if key not in _TOP:
            place = report.place(at.line, at.column)
            report.fault(place, f"unknown key {shown(key)}", Nearest(key, _TOP))
    quantities: dict[str, int] = {}
    controls: dict[str, Control] = {}
    laid_out = Mapping({}, {}, tree.line, tree.column)
    for name, kind, node in _items(tree, report):
        quantities[name] = _quantity(node, report)
        _refuse_wired(node, report)
        if kind == "switch":
            controls[name] = _as_if_wired(name, node, report)
        laid_out.entries[name] = node
        laid_out.keys[name] = Scalar(name, node.line, node.column)
    parts = _built(laid_out, controls, report)
    return Drawer(
        report.file,
        tuple(_stocked(parts, quantities, Resistor)),
        tuple(_stocked(parts, quantities, Pot)),
        tuple(_stocked(parts, quantities, Switch)),
        tuple(_stocked(parts, quantities, Meter)),
    )


def _items(tree: Mapping, report: Report) -> Iterator[tuple[str, str, Mapping]]:
    """Every part that is listed: a name for it, its kind, and where it stands."""
    for listed, kind in _LISTS.items():
        node = tree.entries.get(listed)
        if node is None or (isinstance(node, Scalar) and node.bare):
            continue
        if not isinstance(node, Sequence):
            place = report.place(node.line, node.column)
            report.fault(place, f"a list of {listed} is needed", f"write {_EXAMPLES[kind]}")
            continue
        for number, item in enumerate(node.items, 1):
            if isinstance(item, Mapping) and kind in item.entries:
                yield f"{listed}-{number}", kind, item
                continue
            place = report.place(item.line, item.column)
            report.fault(place, f"a {kind} is needed in this list", f"write {_EXAMPLES[kind]}")


def _quantity(node: Mapping, report: Report) -> int:
    """How many there are; the key is taken out of the node."""
    for key in [key for key in node.keys if key != "quantity" and nearest(key, ["quantity"])]:
        at = node.keys.pop(key)
        del node.entries[key]
        place = report.place(at.line, at.column)
        report.fault(place, f"unknown key {shown(key)}", "nearest is 'quantity'")
    value = node.entries.pop("quantity", None)
    node.keys.pop("quantity", None)
    if value is None:
        return 1
    text = value.text.strip() if isinstance(value, Scalar) else ""
    if text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS:
        return int(text)
    said = shown(value.text) if isinstance(value, Scalar) else "this"
    place = report.place(value.line, value.column)
    report.fault(place, f"{said} is no number of pieces", "write quantity: 5")
    return 0


def _refuse_wired(node: Mapping, report: Report) -> None:
    for key in [key for key in _WIRED if key in node.entries]:
        at = node.keys.pop(key)
        del node.entries[key]
        message = f"{shown(key)} says how a part is wired; it has no place in a drawer"
        report.fault(report.place(at.line, at.column), message, "take it out")
    for key in ("resistor", "pot"):
        value = node.entries.get(key)
        if isinstance(value, Scalar) and value.text.strip() == "fit":
            message = f"{key}: a part in a drawer has a value; 'fit' is for specs"
            report.fault(report.place(value.line, value.column), message, "write the value")
            node.entries[key] = Scalar("1 ohm", value.line, value.column)


def _as_if_wired(name: str, node: Mapping, report: Report) -> Control:
    """Give a switch what only a wired one has: a control with a position for each throw."""
    here = Scalar(name, node.line, node.column)
    node.entries["control"] = here
    node.keys["control"] = here
    positions = _positions(node)
    if positions == ("1", "open"):
        entries: dict[str, Node] = {p: Scalar(p, node.line, node.column) for p in positions}
        keys = {p: Scalar(p, node.line, node.column) for p in positions}
        node.entries["positions"] = Mapping(entries, keys, node.line, node.column)
        node.keys["positions"] = here
    place = report.place(node.line, node.column)
    return Control(name, positions, wraps=False, moves_any=False, note=None, place=place)


def _positions(node: Mapping) -> tuple[str, ...]:
    contacts = node.entries.get("contacts")
    if isinstance(contacts, Mapping) and contacts.entries:
        return tuple(contacts.entries)
    value = node.entries["switch"]
    form = read_form(value.text) if isinstance(value, Scalar) else None
    if form is None or form[1] == 1:
        return ("1", "open")
    return tuple(str(throw) for throw in range(1, form[1] + 1))


def _built(parts: Mapping, controls: dict[str, Control], report: Report) -> Parts:
    """The parts, judged and built as those of a spec are."""
    reader = Reader(report)
    read = PARTS.take(parts, (None, "parts", None), reader)
    return build_parts(read, parts, Desk(report, reader.broken, controls))[0]


def _stocked(parts: Parts, quantities: dict[str, int], kind: type[Kind]) -> Iterator[Stocked[Kind]]:
    for name, part in parts.items():
        if isinstance(part, kind):
            yield Stocked(part, quantities[name])
