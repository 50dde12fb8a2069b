"""How many mutants of each file were made, killed and left alive: the table of docs/mutants.md.

``python -m tests.mutants.counts`` writes it between the page's two marks, from what mutmut left
in ``mutants/``.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from mutmut.stats import status_by_exit_code

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "mutants.md"
MARKS = ("<!-- counts -->\n", "<!-- end of counts -->\n")
COLUMNS = ("killed", "caught by type check", "timeout", "survived", "no tests", "not checked")
HEADS = ("killed by a test", "by mypy", "timed out", "survived", "met by no test", "not tried")


def counts() -> Iterator[tuple[str, Counter[str]]]:
    """Per mutated file the number of mutants of each status."""
    for path in sorted((ROOT / "mutants" / "rewire").rglob("*.meta")):
        found = json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"]
        name = str(path.relative_to(ROOT / "mutants")).removesuffix(".meta")
        yield name, Counter(status_by_exit_code[code] for code in found.values())


def table() -> str:
    """The counts in Markdown, a row for each file and one for all."""
    rows = [*counts()]
    rows.append(("all", sum((row for _, row in rows), Counter[str]())))
    lines = [f"| file | made | {' | '.join(HEADS)} |", "| --- |" + " ---: |" * (len(HEADS) + 1)]
    for name, row in rows:
        shown = [row["killed"] + row["segfault"], *(row[column] for column in COLUMNS[1:])]
        lines.append(f"| {name} | {row.total()} | {' | '.join(map(str, shown))} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Put the table into the page."""
    before, _, rest = PAGE.read_text(encoding="utf-8").partition(MARKS[0])
    after = rest.partition(MARKS[1])[2]
    PAGE.write_text(before + MARKS[0] + table() + MARKS[1] + after, encoding="utf-8")


if __name__ == "__main__":
    main()
