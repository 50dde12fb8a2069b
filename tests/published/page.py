"""gallery/published.md: every check against a published figure, from the records of the tests."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from tests.published.known import known
from tests.published.record import Record
from tests.published.worked import worked

PAGE = Path(__file__).parents[2] / "gallery" / "published.md"
HOW = "gallery/published.md is not what the records give: run `make gallery` and commit it"
_HEAD = """<!-- rewire-made, by `make gallery` from the records in tests/published -->

# Checked against published figures

Every line is a test. *Ours* is what the program itself answers, most of the time through a whole
spec and its solver. A printed figure counts as met within half a unit of its last digit; where a
print is off, exact arithmetic was done apart from both, and the line says so.

How we know the published figure: **as printed** (in a book, or read from an open worksheet to it);
**standard**; **standard, from memory** (written down without the standard at hand); **mathematics**
(a theorem that can be proved again); **common practice, no source**.
"""
_TITLES = {
    "ayrton": "Universal shunt (tapped)", "swamping": "Warmth, and swamping resistors",
    "loading": "A voltmeter loads what it measures", "insertion": "An ammeter takes its share",
    "vu": "Volume indicator", "class": "Class index",
}  # fmt: skip


def records() -> tuple[Record, ...]:
    """All of them, in the order of the page."""
    return (*worked(), *known())


def published_page() -> str:
    """The whole page."""
    found = records()
    off = sum(record.departs is not None for record in found)
    told = [_HEAD, f"{len(found)} figures; {off} prints that are off themselves.", ""]
    for topic, some in groupby(found, key=lambda record: record.topic):
        told += [
            f"## {_TITLES.get(topic, topic.capitalize())}",
            "",
            "| what | source | known | published | ours | difference |",
        ]
        told += ["| --- | --- | --- | ---: | ---: | --- |", *map(_row, some), ""]
    return "\n".join(told)


def _row(record: Record) -> str:
    ours = record.ours()
    cells = (
        record.what, record.source, record.known, _said(record.published, record.unit),
        _said(ours, record.unit), _difference(record, ours),
    )  # fmt: skip
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _said(value: float | str, unit: str) -> str:
    """Seven digits tell all that there is to see, and hide the last bits of a float."""
    return value if isinstance(value, str) else f"{value:.7g} {unit}".strip()


def _difference(record: Record, ours: float | str) -> str:
    if isinstance(ours, str) or isinstance(record.published, str):
        return "none" if ours == record.published else "**differs**"
    off = 100.0 * (ours / record.published - 1.0)
    told = "none" if abs(off) < 1e-4 else f"{off:+.2g} %"
    return told if record.departs is None else f"{told}: the print is off. {record.departs}"
