"""Write docs/commands/ and the answers in docs/guide.md anew; ``make docs`` runs it."""

from __future__ import annotations

import contextlib
import sys
import tempfile
from pathlib import Path

from tests.docs.guide import GUIDE, told_anew
from tests.docs.pages import PAGES, pages


def renewed(place: Path, text: str) -> None:
    """Write a page if it is new or different, and say so."""
    if not place.exists() or place.read_text("utf-8") != text:
        place.write_text(text, "utf-8")
        sys.stdout.write(f"{place.name} written\n")


def main() -> None:
    """Write what is new or different, remove the pages of what is no command any longer."""
    PAGES.mkdir(parents=True, exist_ok=True)
    made = pages()
    for name, text in made.items():
        renewed(PAGES / name, text)
    for place in sorted(PAGES.glob("*.md")):
        if place.name not in made:
            place.unlink()
            sys.stdout.write(f"{place.name} removed\n")
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        renewed(GUIDE, told_anew(Path(folder)))


if __name__ == "__main__":
    main()
