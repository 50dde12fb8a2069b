"""How the published figures are known: ``python -m tests.published``, or ``make published``."""

from __future__ import annotations

from collections import Counter

from tests.figures import AIMS, Row, write_rows
from tests.published.page import records

COMMAND = "make published"


def main() -> None:
    known = Counter(f"of these: {record.known}" for record in records())
    first, *others = AIMS[COMMAND]
    write_rows(COMMAND, [Row(first, known.total()), *(Row(how, known[how]) for how in others)])


if __name__ == "__main__":
    main()
