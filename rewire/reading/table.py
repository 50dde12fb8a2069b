"""A drawer as a table: a line for each part, as spreadsheet programs save it.

    kind;value;tolerance;rating;quantity;note
    resistor;4k7;1 %;0,5 W;12;blue box

Commas, semicolons or tabs part the columns. Behind semicolons a comma within a number is the
decimal sign. A table becomes the same tree as a drawer in YAML, each text with its line and column.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator

from rewire.reading.faults import Nearest, Report
from rewire.reading.text import Mapping, Node, Scalar, Sequence
from rewire.records.part import Place
from rewire.words.wording import shown

LISTS = {"resistor": "resistors", "pot": "pots", "switch": "switches", "meter": "meters"}
"""Kind of part → the list of a drawer that holds it."""
_RATED = ("volts", "amps", "shaft_volts")
COLUMNS = (
    "kind", "value", "tolerance", "rating", "working_volts", "quantity", "resistance",
    "resistance_tolerance", "accuracy", "timing", "style", *_RATED, "turns", "where", "label",
    "note",
)  # fmt: skip
"""What may stand in the first line; ``value`` is what stands behind the part's kind in a spec."""
_IN_WORDS = ("where", "label", "note")
_FIRST = 4096
"""Bytes in which the first line ends."""
_DECIMAL_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9])")
_NUMBERS = re.compile(r"\s*[-+±]?[0-9]*,?[0-9]")


def is_table(data: bytes, file: str) -> bool:
    """Whether a file is a table, by its name or by the columns that its first line names."""
    lines = _lines(data[:_FIRST])
    words = {word.strip(' "').lower() for word in re.split(r"[;,\t]", lines[0])} if lines else ()
    return {"kind", "value"} <= {*words} or file.lower().endswith((".csv", ".tsv"))


def tree_of_table(data: bytes, report: Report) -> Mapping:
    """The tree that a drawer in YAML would give; what is wrong is reported.

    Raises:
        SpecError: there are no columns to go by.
    """
    lines, top = _lines(data), report.place(1, 1)
    sign = max(";,\t", key=lines[0].count) if lines else ","
    rows = csv.reader(io.StringIO("\n".join(lines)), delimiter=sign)
    lists = {key: Sequence([], top) for key in LISTS.values()}
    try:
        names = _columns(next(rows, []), report)
        for row in rows:
            line = report.place(rows.line_num, 1)
            _take_row(dict(_cells(names, row, sign == ";", line)), lists, report)
    except csv.Error as error:
        said = f"not readable as a table: {error}"
        report.fault(report.place(rows.line_num, 1), said, "save it as CSV again")
    entries: dict[str, Node] = {"rewire_drawer": Scalar("1", top), **lists}
    return Mapping(entries, {key: Scalar(key, top) for key in entries}, top)


def _columns(first: list[str], report: Report) -> list[str]:
    names = [name.strip().lower() for name in first]
    if not {"kind", "value"} <= {*names}:
        hint = "write kind, value, tolerance, rating, quantity in the first line, as far as needed"
        report.fault(report.place(1, 1), "a table of parts names its columns first", hint)
        raise report.error()
    for number, name in enumerate(names, 1):
        if name and name not in COLUMNS:
            near = Nearest(name, COLUMNS)
            report.fault(report.place(1, number), f"unknown column {shown(name)}", near)
    return names


def _take_row(cells: dict[str, Scalar], lists: dict[str, Sequence], report: Report) -> None:
    """Put one line into the list of its kind."""
    if not cells:
        return
    kind = cells.pop("kind", None)
    at = (kind or next(iter(cells.values()))).place
    said = kind.text.lower() if kind is not None else ""
    if said in LISTS:
        lists[LISTS[said]].items.append(_part(said, cells, at))
        return
    message = f"{shown(said)} is no kind of part" if said else "the kind of this part is missing"
    report.fault(at, message, f"write one of {', '.join(LISTS)}")


def _lines(data: bytes) -> list[str]:
    """The lines of a table; what is no UTF-8 is read as Western spreadsheets used to save."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", "replace")
    return text.splitlines()


def _cells(
    names: list[str], row: list[str], decimal_comma: bool, line: Place
) -> Iterator[tuple[str, Scalar]]:
    """The cells of a line that are not empty, by the names of their columns."""
    for number, (name, cell) in enumerate(zip(names, row, strict=False), 1):
        text = cell.strip()
        if decimal_comma and name not in _IN_WORDS and _NUMBERS.match(text):
            text = _DECIMAL_COMMA.sub(".", text)
        if text and name in COLUMNS:
            yield name, Scalar(text, Place(line.file, line.line, number))


def _part(kind: str, cells: dict[str, Scalar], place: Place) -> Mapping:
    keys = {kind if name == "value" else name: cell for name, cell in cells.items()}
    rated = {name: keys.pop(name) for name in _RATED if name in keys}
    entries: dict[str, Node] = {**keys}
    if rated:
        entries["rating"] = Mapping({**rated}, {name: rated[name] for name in rated}, place)
    return Mapping(entries, {name: Scalar(name, place) for name in entries}, place)
