"""gallery/published.md: every check against a published figure, from the records of the tests."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path
from typing import get_args

from tests.published.known import known
from tests.published.range_switches import range_switches
from tests.published.record import Known, Record
from tests.published.worked import worked

PAGE = Path(__file__).parents[2] / "gallery" / "published.md"
HOW = "gallery/published.md is not what the records give: run `make gallery` and commit it"
_HEAD = """<!-- rewire-made, by `make gallery` from the records in tests/published -->

# Checked against published figures

Every line is a test. *Ours* is what the program itself answers, most of the time through a whole
spec and its solver. A printed figure counts as met within half a unit of its last digit and within
2 %; where it may be off by more, the line says by how much and why. Where a print is off, exact
arithmetic was done apart from both, and the line says so.

How we know the published figure: **seen in print** and **standard seen** (the page itself was
read), **worksheet to the book** (an open worksheet to that example was), **secondary copy** (a copy
or a table made after it was), **standard, from memory** (written down without the standard at
hand), **mathematics** (a theorem that can be proved again), **common practice, no source**.
"""
_TITLES = {
    "ayrton": "Universal shunt (tapped)", "swamping": "Warmth, and swamping resistors",
    "loading": "A voltmeter loads what it measures", "insertion": "An ammeter takes its share",
    "range switch": "Range switches, whole", "vu": "Volume indicator", "class": "Class index",
}  # fmt: skip


def records() -> tuple[Record, ...]:
    """All of them, in the order of the page."""
    return (*worked(), *range_switches(), *known())


def published_page() -> str:
    """The whole page."""
    found = records()
    off = sum(record.departs is not None for record in found)
    told = [
        _HEAD,
        f"{len(found)} figures; {off} prints that are off themselves.",
        "",
        *_known(found),
    ]
    for topic, some in groupby(found, key=lambda record: record.topic):
        told += [
            f"## {_TITLES.get(topic, topic.capitalize())}",
            "",
            "| what | source | known | published | ours | difference |",
        ]
        told += ["| --- | --- | --- | ---: | ---: | --- |", *map(_row, some), ""]
    return "\n".join(told)


def _known(found: Sequence[Record]) -> list[str]:
    """How many are known in which way."""
    count = Counter(record.known for record in found)
    rows = [f"| {how} | {count[how]} |" for how in get_args(Known)]
    return ["| known | figures |", "| --- | ---: |", *rows, ""]


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
    if record.departs is not None:
        return f"{told}: the print is off. {record.departs}"
    if record.looser is not None:
        return f"{told}; {record.within:.2g} {record.unit} allowed: {record.looser}"
    return told
