"""What was found on the bench besides the wiring."""

from __future__ import annotations

from rewire.records.spec import Found, Spec, Wiring
from rewire.report.section import Cell, Section, Table, Words, used_columns

_PLANS = {"keep": "keep", "remove": "take out", "replace": "replace"}


def found_section(spec: Spec, wirings: tuple[Wiring, ...]) -> Section:
    """The list of finds, and what each shown wiring's author noted of it."""
    table = Table(
        ("", "plan", "what", "where", "why"),
        tuple(_find(item) for item in spec.found),
        (5, 18, 70, 45, 50),
    )
    notes = tuple(Words(f"{w.name}: {w.note}") for w in wirings if w.note)
    tables = (used_columns(table, ("what",)),) if spec.found else ()
    return Section("found", "As found", (*tables, *notes))


def _find(item: Found) -> tuple[Cell, ...]:
    return (
        Cell(box=True),
        Cell(_PLANS.get(item.plan or "", ""), bold=True),
        Cell(item.what),
        Cell(item.where or ""),
        Cell(item.why or ""),
    )
