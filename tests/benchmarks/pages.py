"""The peer of pictures and sheet: matplotlib writes as many pages, lines and words into a PDF.

python pages.py count MADE.pdf COUNTS.json
python pages.py write COUNTS.json PEER.pdf
"""

from __future__ import annotations

import json
import sys
from pathlib import Path


def counted(file: str) -> list[tuple[list[str], int]]:
    """Of each page: its lines of text, and how many paths are stroked or filled on it."""
    import pypdf

    found = []
    for page in pypdf.PdfReader(file).pages:
        content = page.get_contents()
        operators = content.get_data().split() if content is not None else []
        strokes = sum(
            word in (b"S", b"B", b"f", b"b", b"s", b"b*", b"B*", b"f*") for word in operators
        )
        texts = max(sum(word == b"BT" for word in operators), 1)
        words = page.extract_text().split() or ["x"]
        each = max(len(words) // texts, 1)
        lines = [" ".join(words[at : at + each]) for at in range(0, len(words), each)]
        found.append((lines, strokes))
    return found


def write(pages: list[tuple[list[str], int]], file: str) -> None:
    """Texts and lines in rows, in the simplest way that matplotlib has."""
    import matplotlib as mpl

    mpl.use("pdf")
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    with PdfPages(file) as document:
        for lines, strokes in pages:
            figure = Figure(figsize=(8.27, 11.69))
            axes = figure.add_axes((0, 0, 1, 1))
            axes.set_axis_off()
            for number in range(strokes):
                height = number / max(strokes, 1)
                axes.plot([0.1, 0.9], [height, height], lw=0.5, color="black")
            for number, line in enumerate(lines):
                axes.text(0.1, number / len(lines), line.replace("$", "S"), fontsize=7)
            document.savefig(figure)


if __name__ == "__main__":
    asked, given, wanted = sys.argv[1:]
    if asked == "count":
        Path(wanted).write_text(json.dumps(counted(given)), "utf-8")
    else:
        write(json.loads(Path(given).read_text("utf-8")), wanted)
