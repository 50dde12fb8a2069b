"""What goes on paper beside the wiring: document, finds, procedure, acceptance, scanned pages."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from rewire.spec.model import Acceptance, Bench, Document, Found, Page, PageNote, Task
from rewire.spec.names import Desk
from rewire.spec.report import Nearest, shown
from rewire.spec.shape import child
from rewire.spec.text import Node
from rewire.spec.written import WrittenPage, WrittenPageNote, WrittenSpec, WrittenTask


def papers(written: WrittenSpec, tree: Node, known: Collection[str], desk: Desk) -> dict[str, Any]:
    """The fields of a spec that are printed as they stand.

    Args:
        written: the file as read.
        tree: where everything stands.
        known: every point and part, for notes on scanned pages.
        desk: receives the faults.
    """
    document, bench = written.document, written.bench
    return {
        "title": written.title,
        "equipment": written.equipment,
        "summary": written.summary,
        "document": Document(document.author, document.date, document.revision, document.licence),
        "bench": Bench(bench.series_resistor, bench.rating, bench.supply_volts, bench.supply_amps),
        "cautions": tuple(written.cautions),
        "found": tuple(Found(f.what, f.where, f.plan, f.why) for f in written.found),
        "before": _tasks(written.procedure.before),
        "after": _tasks(written.procedure.after),
        "acceptance": tuple(Acceptance(a.test, a.how, a.expect) for a in written.acceptance),
        "pages": tuple(
            _page(page, child(tree, "pages", index), known, desk)
            for index, page in enumerate(written.pages)
        ),
    }


def _tasks(written: list[WrittenTask]) -> tuple[Task, ...]:
    return tuple(Task(task.do, task.where, task.caution) for task in written)


def _page(page: WrittenPage, node: Node, known: Collection[str], desk: Desk) -> Page:
    notes = tuple(
        _note(note, child(node, "notes", index), known, desk)
        for index, note in enumerate(page.notes)
    )
    return Page(page.image, page.title, notes, desk.report.place(node.line, node.column))


def _note(note: WrittenPageNote, node: Node, known: Collection[str], desk: Desk) -> PageNote:
    if note.about is not None and note.about not in known and not _may_be_cut(note.about, desk):
        place = desk.place(node, "about")
        message = f"about: no part or point {shown(note.about)}"
        desk.report.fault(place, message, Nearest(note.about, known))
    return PageNote(note.at, note.about, note.text)


def _may_be_cut(name: str, desk: Desk) -> bool:
    """Whether a part or a point of this name may have been cut out as malformed."""
    return any(
        cut[-1] in (name, "points", "parts", "wirings") or (cut[0] == "wirings" and len(cut) == 2)
        for cut in desk.broken
    )
