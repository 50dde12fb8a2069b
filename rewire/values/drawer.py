"""Reading a drawer: parts on hand, in the words of a spec plus ``quantity``."""

from __future__ import annotations

from pathlib import Path

from rewire.spec import quantity
from rewire.spec.model import Place, total_ohms
from rewire.spec.pieces import read_pieces
from rewire.spec.quantity import BadQuantity, Measure
from rewire.spec.report import Fault, Nearest, Report, SpecError, shown
from rewire.spec.text import LARGEST_BYTES, Mapping, Node, Scalar, Sequence, Unreadable, parse
from rewire.values.combos import Stock

_TOP = ("rewire_drawer", "title", "resistors", "pots", "switches", "meters", "note")
_RESISTOR = (
    "resistor", "tolerance", "rating", "working_volts", "quantity", "note", "where", "label",
)  # fmt: skip
_MANY = 4
"""Pieces taken to be there where no quantity is given: as many as a combination can use."""


def read_drawer(path: str | Path) -> list[Stock]:
    """The resistors in a drawer file.

    Raises:
        SpecError: it cannot be read, or something in it is wrong; all that is wrong at once.
    """
    try:
        with Path(path).open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except OSError as error:
        reason = error.strerror or str(error)
        place = Place(str(path), 1, 1)
        raise SpecError([Fault(place, f"the drawer cannot be read: {reason}")]) from None
    report = Report(str(path))
    try:
        tree = parse(data, report)
    except Unreadable:
        raise report.error() from None
    stocks = _stocks(tree, report)
    if report:
        raise report.error()
    return stocks


def _stocks(tree: Mapping, report: Report) -> list[Stock]:
    version = tree.entries.get("rewire_drawer")
    if not isinstance(version, Scalar) or version.text.strip() != "1":
        message = "this is not a drawer: 'rewire_drawer: 1' is needed"
        report.fault(report.place(tree.line, tree.column), message, "write it on the first line")
    _refuse_unknown(tree, _TOP, report)
    listed = tree.entries.get("resistors")
    if listed is None:
        return []
    if not isinstance(listed, Sequence):
        place = report.place(listed.line, listed.column)
        report.fault(place, "a list of resistors is needed", "write - {resistor: 10 ohm, …}")
        return []
    found = [_stock(node, report) for node in listed.items]
    return [stock for stock in found if stock is not None]


def _stock(node: Node, report: Report) -> Stock | None:
    if isinstance(node, Scalar):
        return _made(node, node, None, None, _MANY, report)
    if not isinstance(node, Mapping) or "resistor" not in node.entries:
        place = report.place(node.line, node.column)
        report.fault(place, "a resistor is needed", "write {resistor: 10 ohm, quantity: 5}")
        return None
    _refuse_unknown(node, _RESISTOR, report)
    rating = _read(node, "rating", quantity.WATTS, report)
    tolerance = _read(node, "tolerance", quantity.PERCENT, report)
    return _made(node, node.entries["resistor"], rating, tolerance, _quantity(node, report), report)


def _made(
    at: Node,
    value: Node,
    rating: float | None,
    tolerance: float | None,
    count: int,
    report: Report,
) -> Stock | None:
    place = report.place(value.line, value.column)
    if not isinstance(value, Scalar):
        report.fault(place, "a resistance is needed", "write 10 ohm")
        return None
    try:
        ohms = total_ohms(read_pieces(value.text))
    except BadQuantity as error:
        report.fault(place, error.message, error.hint)
        return None
    name = f"{report.file}:{at.line}"
    return Stock(ohms, count, rating, tolerance, name)


def _quantity(node: Mapping, report: Report) -> int:
    value = node.entries.get("quantity")
    if value is None:
        return _MANY
    if isinstance(value, Scalar) and value.text.strip().isascii() and value.text.strip().isdigit():
        return min(int(value.text.strip()[:9]), 10**6)
    said = shown(value.text) if isinstance(value, Scalar) else "this"
    place = report.place(value.line, value.column)
    report.fault(place, f"{said} is no number of pieces", "write quantity: 5")
    return 0


def _read(node: Mapping, key: str, measure: Measure, report: Report) -> float | None:
    value = node.entries.get(key)
    if value is None:
        return None
    place = report.place(value.line, value.column)
    if not isinstance(value, Scalar):
        report.fault(place, f"{key}: {measure.noun} is needed", f"write {measure.example}")
        return None
    try:
        return quantity.read(value.text, measure)
    except BadQuantity as error:
        report.fault(place, f"{key}: {error.message}", error.hint)
        return None


def _refuse_unknown(node: Mapping, known: tuple[str, ...], report: Report) -> None:
    for key, at in node.keys.items():
        if key not in known:
            place = report.place(at.line, at.column)
            report.fault(place, f"unknown key {shown(key)}", Nearest(key, known))
