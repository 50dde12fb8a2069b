"""What ``rewire watch`` shows of a save: what is said of it first, then pictures as they come.

The program of the process that draws; the one that serves stays light without it.
"""

from __future__ import annotations

import pickle
import sys
from collections.abc import Iterator
from contextlib import suppress
from functools import partial

from rewire.bench.wire_plan import renumbered
from rewire.circuit import LimitReached
from rewire.cli.answers import SpecAnswers, answers_of
from rewire.cli.board import Piece, line_faults
from rewire.cli.check import compared_and_mended, judged_by
from rewire.cli.trouble import trouble_of
from rewire.compare import compare
from rewire.reading import SpecError, read_text
from rewire.report.card import CARD
from rewire.report.checked import Checked, short_sections
from rewire.report.contents import EVIDENCE, SECTIONS
from rewire.report.machine import as_json
from rewire.report.packet import Sources, packet_of
from rewire.report.page import page
from rewire.report.section import ReportSection, note

_DRAWN = (["lugs"], [CARD], {*SECTIONS} - EVIDENCE | {"table", "pages"})
"""What is soldered to the switches and what it reads comes first, then the card, then the packet
with the scanned pages, on which spots for notes are found by clicking."""


def edition(source: bytes, file: str) -> Iterator[Piece]:
    """All that is shown of a save, in the order in which it is ready.

    Args:
        source: the spec, good to read.
        file: its name; scanned pages are read from its folder.
    """
    spec = read_text(source, file)
    outcome = answers_of(file, partial(judged_by, compared_and_mended, ()), spec)
    faults = line_faults(outcome.trouble, source)
    told = {"faults": faults, "sections": as_json([*_said(outcome)], {})}
    yield told
    if faults:
        return
    try:
        spec = renumbered(spec)
        packet, sources = packet_of(spec, compare(spec)), Sources(source)
        for sections in _DRAWN:
            html, whole = page(packet, sources, sections=sections), sections is _DRAWN[-1]
            yield {"html": html, "digest": spec.digest, "whole": whole}
    except (SpecError, LimitReached) as error:  # a scanned page is missing, say
        yield {**told, "faults": line_faults(trouble_of(error, file), source)}


def _said(outcome: SpecAnswers[Checked]) -> Iterator[ReportSection]:
    """The report of ``rewire check``, then what the reader took note of."""
    if outcome.answers:
        yield from short_sections(list(outcome.answers.values()), outcome.file)
    limits = [f"{name} left out: {limit}" for name, limit in outcome.limits.items()]
    notes = [f"line {one.place.line}: {one.message}" for one in outcome.notices]
    yield ReportSection("notes", "Notes", tuple(map(note, (*limits, *notes))))


if __name__ == "__main__":
    # With everything imported, wait for one save, send it piece by piece, and end; also when
    # nobody is at the other end any more.
    with suppress(EOFError, BrokenPipeError):
        for piece in edition(*pickle.load(sys.stdin.buffer)):
            pickle.dump(piece, sys.stdout.buffer)
            sys.stdout.buffer.flush()
