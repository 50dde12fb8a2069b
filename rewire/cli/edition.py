"""What ``rewire watch`` shows of a save: what is said of it first, then pictures as they come.

The program of the process that draws; the one that serves stays light without it.
"""

from __future__ import annotations

import pickle
import sys
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from functools import partial

from rewire.bench.wire_plan import renumbered
from rewire.circuit import LimitReached
from rewire.cli.answers import SpecAnswers, answers_of
from rewire.cli.board import SavedPage, SaveTold, line_faults
from rewire.cli.check import compared_and_mended, judged_by
from rewire.cli.trouble import trouble_of
from rewire.compare import compare
from rewire.reading import SpecError, read_text
from rewire.report.card import CARD
from rewire.report.checked import Checked, short_sections
from rewire.report.contents import EVIDENCE, SECTIONS
from rewire.report.packet import Sources, packet_of
from rewire.report.page import page
from rewire.report.section import ReportSection, note

_FIRST = ("lugs", CARD)
"""Drawn before the rest: what is soldered to the switches and what it reads, then the card."""
_WHOLE = {*SECTIONS} - EVIDENCE | {"table", "pages"}
"""The packet's sections, and scanned pages, on which spots for notes are found by clicking."""


def edition(source: bytes, file: str) -> Iterator[SaveTold | SavedPage]:
    """All that is shown of a save, in the order in which it is ready.

    Args:
        source: the spec, good to read.
        file: its name; scanned pages are read from its folder.
    """
    spec = read_text(source, file)
    outcome = answers_of(file, partial(judged_by, compared_and_mended, ()), spec)
    told = SaveTold(line_faults(outcome.trouble, source), tuple(_said(outcome)))
    yield told
    if told.faults:
        return
    try:
        spec = renumbered(spec)
        packet, sources = packet_of(spec, compare(spec)), Sources(source)
        for first in _FIRST:
            yield SavedPage(page(packet, sources, sections=[first]), spec.digest, whole=False)
        whole = page(packet, sources, sections=_WHOLE)
    except (SpecError, LimitReached) as error:  # a scanned page is missing, say
        yield replace(told, faults=line_faults(trouble_of(error, file), source))
        return
    yield SavedPage(whole, spec.digest, whole=True)


def _said(outcome: SpecAnswers[Checked]) -> Iterator[ReportSection]:
    """The report of ``rewire check``, then what the reader took note of."""
    if outcome.answers:
        yield from short_sections(list(outcome.answers.values()), outcome.file)
    limits = [f"{name} left out: {limit}" for name, limit in outcome.limits.items()]
    notes = [f"line {one.place.line}: {one.message}" for one in outcome.notices]
    blocks = tuple(map(note, (*limits, *notes)))
    yield ReportSection("notes", "Notes", blocks)


def main() -> None:
    """With everything imported, wait for one save, send it piece by piece, and end.

    Ends as well when nobody is at the other end any more.
    """
    with suppress(EOFError, BrokenPipeError):
        for piece in edition(*pickle.load(sys.stdin.buffer)):
            pickle.dump(piece, sys.stdout.buffer)
            sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
