"""Write docs/commands/ anew; ``make docs`` runs it."""

from __future__ import annotations

import sys

from tests.docs.pages import PAGES, pages


def main() -> None:
    """Write each page that is new or different, remove what is no command any longer."""
    PAGES.mkdir(parents=True, exist_ok=True)
    made = pages()
    for name, text in made.items():
        place = PAGES / name
        if not place.exists() or place.read_text("utf-8") != text:
            place.write_text(text, "utf-8")
            sys.stdout.write(f"docs/commands/{name}\n")
    for place in sorted(PAGES.glob("*.md")):
        if place.name not in made:
            place.unlink()
            sys.stdout.write(f"docs/commands/{place.name} removed\n")


if __name__ == "__main__":
    main()
