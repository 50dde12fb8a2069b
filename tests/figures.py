"""docs/figures.md: every figure in one table, each row written by the command that stands in it.

``python -m tests.figures 'make coverage' 'lines and branches that the tests run, %=96.1'`` writes
rows by hand of a makefile; `make bench` and others call `write_rows` themselves.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import get_args

from tests.published.record import Known

TABLE = Path(__file__).parents[1] / "docs" / "figures.md"
HEAD = """# Figures

Each row is written by the command in it, on whatever machine that was run; do not edit. Those of
`make bench` are ratios to a peer that does its share in the same run, unless they name a unit.

| command | figure | is | aim | kept | made of |
| --- | --- | ---: | --- | --- | --- |
"""


@dataclass(frozen=True)
class Aim:
    """What a figure may be at most, or must be at least."""

    most: float | None = None
    least: float | None = None
    told: str = ""

    def __str__(self) -> str:
        if self.most is not None:
            return f"at most {self.most:,g}"
        return f"at least {self.least:,g}" if self.least is not None else self.told

    def keeps(self, value: float | str) -> str:
        """Whether a figure keeps it, as the table says it."""
        if isinstance(value, str) or (self.most is None and self.least is None):
            return ""
        kept = value <= self.most if self.most is not None else value >= (self.least or 0.0)
        return "yes" if kept else "**no**"


NONE = Aim()
AIMS: Mapping[str, Mapping[str, Aim]] = {
    "make times": {
        "`make test`, minutes": Aim(most=6.0),
        "`make quick`, seconds": Aim(most=60.0),
    },
    "make bench": {
        "measured on": NONE,
        "start: `--help`": Aim(most=1.5),
        "start: `check` of the flagship": Aim(most=1.8),
        "1,000 lugs on 1 knobs of 24: times faster than networkx in each state": Aim(least=1.0),
        "1,000 lugs on 2 knobs of 24: times faster than networkx in each state": Aim(least=1.0),
        "1,000 lugs on 3 knobs of 24: times faster than networkx in each state": Aim(least=20.0),
        "1,000 lugs: asked in step as well": Aim(most=1.2),
        "card of the flagship": Aim(most=1.5),
        "sheet of the flagship": Aim(most=1.5),
        "page of the flagship": Aim(most=1.5),
        "a thousand flagships: all cores to one": Aim(most=0.6),
        "checking 10,000 lugs, seconds": Aim(most=10.0),
        "checking 10,000 lugs after 1,000: power of n": Aim(most=1.15),
        "reading 10,000 lugs after 1,000: power of n": Aim(most=1.15),
        "memory of 10,000 lugs after 1,000: power of n": Aim(most=1.1),
    },
    "make house": {
        "lines": Aim(most=25_000),
        "rooms": Aim(most=90),
        "rooms over 500 lines": Aim(most=0),
        "rooms under 60 lines": NONE,
        "functions with 6 parameters or more": Aim(most=9),
        "names defined on two floors": Aim(most=0),
        "sites that ask for a kind of part": Aim(most=19),
        "rooms in the longest chain of imports": Aim(most=12),
        "circles of imports": Aim(most=0),
        "lines of the tests": Aim(most=30_000),
    },
    "make packets": {
        "pages of the flagship's packet": Aim(most=6),
        "words of the flagship's packet": Aim(most=2_500),
        "pages of the longest shipped packet": Aim(most=10),
        "words of the longest shipped packet": NONE,
    },
    "make published": {
        "published figures held": NONE,
        **{f"of these: {how}": NONE for how in get_args(Known)},
    },
    "make coverage": {"lines and branches that the tests run, %": Aim(least=95.0)},
    "make mutants": {
        "small changes that a quick test notices, %": Aim(least=90.0),
        "small changes tried": Aim(least=300),
    },
    "make fuzz": {"inputs tried in one run, none of which broke a reader": NONE},
    "make versions": {"quick tests pass on Python": Aim(told="3.11 to 3.13")},
}
"""Command → its figures, each with its aim; the table has these rows and no others."""


@dataclass(frozen=True)
class Row:
    """A figure as it was measured, and what it was made of."""

    what: str
    value: float | str
    made_of: str = ""


def write_rows(command: str, rows: Sequence[Row]) -> None:
    """Put the rows of one command in place of those that it wrote before."""
    named, wanted = [row.what for row in rows], list(AIMS[command])
    if named != wanted:
        raise ValueError(f"{command} gave {named}, the table has {wanted}")
    lines = known_rows()
    for row in rows:
        aim = AIMS[command][row.what]
        lines[command, row.what] = (
            command, row.what, _said(row.value), str(aim), aim.keeps(row.value), row.made_of
        )  # fmt: skip
    ordered = [lines[c, what] for c, own in AIMS.items() for what in own if (c, what) in lines]
    body = "".join(f"| {' | '.join(cells)} |\n" for cells in ordered)
    TABLE.write_text(HEAD + body, "utf-8")


def known_rows() -> dict[tuple[str, str], tuple[str, ...]]:
    """Command and figure → the cells of the table as it is."""
    text = TABLE.read_text("utf-8") if TABLE.exists() else ""
    rows = [line[2:-2].split(" | ") for line in text.splitlines() if line.startswith("| make ")]
    return {(cells[0], cells[1]): tuple(cells) for cells in rows}


def _said(value: float | str) -> str:
    if isinstance(value, str):
        return value
    return f"{value:,.0f}" if value >= 1000 or value == int(value) else f"{value:.3g}"


def main(command: str, *figures: str) -> None:
    """Rows told as WHAT=VALUE; a value that is no number is text."""
    rows = []
    for figure in figures:
        what, _, value = figure.rpartition("=")
        is_number = value.replace(".", "", 1).isdigit()
        rows.append(Row(what, float(value) if is_number else value))
    write_rows(command, rows)


if __name__ == "__main__":
    main(*sys.argv[1:])
