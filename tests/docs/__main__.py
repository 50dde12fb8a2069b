"""Write the answers in docs/guide.md anew; ``make docs`` runs it."""

from __future__ import annotations

import contextlib
import sys
import tempfile
from pathlib import Path

from tests.docs.guide import GUIDE, told_anew


def main() -> None:
    """Write the guide if an answer in it is new or different, and say so."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        text = told_anew(Path(folder))
    if GUIDE.read_text("utf-8") != text:
        GUIDE.write_text(text, "utf-8")
        sys.stdout.write(f"{GUIDE.name} written\n")


if __name__ == "__main__":
    main()
