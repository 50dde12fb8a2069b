"""How long the packets of the shipped specs are: ``python -m tests.sheet``, or ``make packets``."""

from __future__ import annotations

import io
from pathlib import Path

import pypdf

from rewire.compare import compare
from rewire.reading import read_spec
from rewire.report.packet import packet_of
from rewire.report.pdf import pdf
from tests.figures import AIMS, Row, write_rows
from tests.sheet.printed import words

COMMAND = "make packets"


def pages_and_words(path: Path) -> tuple[int, int]:
    """Pages of a packet with its card; words of its text, those in pictures too."""
    spec = read_spec(path)
    data = pdf(packet_of(spec, compare(spec)))
    return len(pypdf.PdfReader(io.BytesIO(data)).pages), len(words(data).split())


def main() -> None:
    specs = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
    found = {path.stem: pages_and_words(path) for path in specs}
    flagship, longest = found["valve-amplifier"], max(found, key=lambda stem: found[stem])
    numbers = (*flagship, *found[longest])
    rows = [
        Row(what, number, longest if "longest" in what else "")
        for what, number in zip(AIMS[COMMAND], numbers, strict=True)
    ]
    write_rows(COMMAND, rows)


if __name__ == "__main__":
    main()
