"""What goes on paper beside the wiring: document, finds, procedure, acceptance, scanned pages."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from rewire.spec.forms import Read
from rewire.spec.model import Page, PageNote
from rewire.spec.names import Desk
from rewire.spec.report import Nearest, shown

_AS_READ = ("title", "equipment", "summary", "document", "bench", "cautions", "found", "acceptance")


def papers(read: Read, known: Collection[str], desk: Desk) -> dict[str, Any]:
    """The fields of a spec that are printed as they stand.

    Args:
        read: the file.
        known: every point and part, for notes on scanned pages.
        desk: receives the faults.
    """
    before, after = read.procedure
    pages = tuple(_page(page, known, desk) for page in read.pages)
    own = {key: read.values[key] for key in _AS_READ}
    return {**own, "before": before, "after": after, "pages": pages}


def _page(page: Read, known: Collection[str], desk: Desk) -> Page:
    notes = tuple(_note(note, known, desk) for note in page.notes)
    return Page(page.image, page.title, notes, desk.place(page.node))


def _note(note: Read, known: Collection[str], desk: Desk) -> PageNote:
    if note.about is not None and note.about not in known and not _may_be_cut(note.about, desk):
        message = f"about: no part or point {shown(note.about)}"
        desk.report.fault(desk.place(note.node, "about"), message, Nearest(note.about, known))
    return PageNote(**note.values)


def _may_be_cut(name: str, desk: Desk) -> bool:
    """Whether a part or a point of this name may have been cut out as malformed."""
    return any(
        cut[-1] in (name, "points", "parts", "wirings") or (cut[0] == "wirings" and len(cut) == 2)
        for cut in desk.broken
    )
