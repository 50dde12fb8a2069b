"""Write docs/spec.md, and the answers in docs/guide.md and README.md; ``make docs`` runs it."""

from __future__ import annotations

import contextlib
import sys
import tempfile
from pathlib import Path

from tests.docs.guide import GUIDE, README, told_anew
from tests.docs.reference import PAGE, reference


def main() -> None:
    """Write a page if something in it is new or different, and say so."""
    PAGE.write_text(reference(), "utf-8")
    for page in (GUIDE, README):
        with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
            text = told_anew(page, Path(folder))
        if page.read_text("utf-8") != text:
            page.write_text(text, "utf-8")
            sys.stdout.write(f"{page.name} written\n")


if __name__ == "__main__":
    main()
