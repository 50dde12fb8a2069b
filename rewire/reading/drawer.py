"""Reading a drawer: parts on hand, with the keys of a spec and ``quantity``, in YAML or a table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from rewire.reading import entries as entries, switches as switches  # who makes parts
from rewire.reading.faults import Nearest, Report
from rewire.reading.forms import BAD, At, Reader, keys_of
from rewire.reading.table import LISTS, is_table, tree_of_table
from rewire.reading.text import Mapping, Node, Scalar, Sequence, bytes_of, is_nothing, marked_tree
from rewire.records.meanings import example_of
from rewire.records.part import KINDS, Part
from rewire.records.parts import Meter, Pot, Resistor
from rewire.records.spec import Control
from rewire.records.switches import Switch, read_form
from rewire.words.wording import nearest, shown

Kind = TypeVar("Kind", bound=Part)

_KINDS = {listed: kind for kind, listed in LISTS.items()}
TOP = ("rewire_drawer", "title", "note", *_KINDS)
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
    """Read and check a drawer that is already in memory; see ``read_drawer``."""
    report = Report(file)
    if is_table(data, file):
        tree = tree_of_table(data, report)
    else:
        tree = marked_tree(data, report, "rewire_drawer", "a drawer")
    reader = Reader(report)
    for key, at in tree.keys.items():
        if key not in TOP:
            reader.fault(at, f"unknown key {shown(key)}", Nearest(key, TOP))
    lists: dict[str, Any] = {listed: tuple(_stocked(tree, listed, reader)) for listed in _KINDS}
    if report:
        raise report.error()
    return Drawer(file, **lists)


def _stocked(tree: Mapping, listed: str, reader: Reader) -> Iterator[Stocked[Any]]:
    """Every part of one list, each under a name made of its list and its number."""
    node, kind = tree.entries.get(listed), _KINDS[listed]
    if node is None or is_nothing(node):
        return
    if not isinstance(node, Sequence):
        reader.fault(node, f"a list of {listed} is needed", example_of(listed))
        return
    for number, item in enumerate(node.items, 1):
        if not isinstance(item, Mapping) or kind not in item.entries:
            reader.fault(item, f"a {kind} is needed in this list", example_of(listed))
            continue
        name = Scalar(f"{listed}-{number}", item.place)
        mine = Mapping(dict(item.entries), dict(item.keys), item.place)
        quantity = _quantity(mine, reader)
        _refuse_wired(mine, reader)
        if kind == "switch":
            _wire_up(name, mine, reader)
        part = keys_of(KINDS[kind]).take(mine, At(name.text, name), reader)
        if part is not BAD:
            yield Stocked(part, quantity)


def _quantity(node: Mapping, reader: Reader) -> int:
    """How many there are; the key is taken out of the node."""
    for key in [key for key in node.keys if key != "quantity" and nearest(key, ["quantity"])]:
        del node.entries[key]
        reader.fault(node.keys.pop(key), f"unknown key {shown(key)}", "nearest is 'quantity'")
    value = node.entries.pop("quantity", None)
    node.keys.pop("quantity", None)
    if value is None:
        return 1
    text = value.text.strip() if isinstance(value, Scalar) else ""
    if text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS:
        return int(text)
    said = shown(value.text) if isinstance(value, Scalar) else "this"
    reader.fault(value, f"{said} is no number of pieces", "write quantity: 5")
    return 0


def _refuse_wired(node: Mapping, reader: Reader) -> None:
    for key in [key for key in _WIRED if key in node.entries]:
        del node.entries[key]
        message = f"{shown(key)} says how a part is wired; it has no place in a drawer"
        reader.fault(node.keys.pop(key), message, "take it out")
    for key in ("resistor", "pot"):
        value = node.entries.get(key)
        if isinstance(value, Scalar) and value.text.strip() == "fit":
            message = f"{key}: a part in a drawer has a value; 'fit' is for specs"
            reader.fault(value, message, "write the value")
            node.entries[key] = Scalar("1 ohm", value.place)


def _wire_up(name: Scalar, node: Mapping, reader: Reader) -> None:
    """Give a switch what only a wired one has: a control with a position for each throw."""
    node.entries["control"] = node.keys["control"] = name
    positions = _positions(node)
    if positions == ("1", "open"):
        texts = {p: Scalar(p, node.place) for p in positions}
        entries: dict[str, Node] = {**texts}
        node.entries["positions"] = Mapping(entries, texts, node.place)
        node.keys["positions"] = name
    reader.controls[name.text] = Control(name.text, positions, False, False, None, node.place)


def _positions(node: Mapping) -> tuple[str, ...]:
    contacts = node.entries.get("contacts")
    if isinstance(contacts, Mapping) and contacts.entries:
        return tuple(contacts.entries)
    value = node.entries["switch"]
    form = read_form(value.text) if isinstance(value, Scalar) else None
    if form is None or form[1] == 1:
        return ("1", "open")
    return tuple(str(throw) for throw in range(1, form[1] + 1))
