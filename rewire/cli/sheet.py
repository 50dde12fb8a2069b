"""The bench packet, or its page: ``rewire sheet``.

Opened for this alone, so what it needs is imported at the top, drawing included; the page, which
brings its own, where one is asked for.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from rewire.bench.record import record_of
from rewire.bench.wire_plan import renumbered
from rewire.cli.answers import known_names, say_notices, write_files
from rewire.cli.files import check_place, stem_with, write_whole
from rewire.cli.options import (
    ALL,
    ONE,
    Paper,
    file_option,
    force_option,
    json_of_files,
    named,
    paper_option,
    specs_argument,
    words_option,
)
from rewire.cli.terminal import complain_of
from rewire.cli.trouble import refusal
from rewire.compare import compare
from rewire.reading import read_text
from rewire.reading.benchlog import read_bench_log
from rewire.reading.text import bytes_of
from rewire.records.spec import Spec
from rewire.report.contents import EVIDENCE, SECTIONS
from rewire.report.machine import JSON, document
from rewire.report.packet import Packet, Sources, packet_of
from rewire.report.pdf import pdf
from rewire.words.wording import known_here, printable

_SHEETS = (".pdf", ".html", ".htm")
"""How the name of a sheet may end."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """What ``rewire sheet`` was asked, the same for every spec."""

    specs: tuple[str, ...]
    output: Path | None
    paper: Paper
    wirings: tuple[str, ...]
    sections: tuple[str, ...]
    log: Path | None
    """What was measured."""
    force: bool
    as_json: bool

    def place(self, file: str) -> Path:
        """Where the sheet of a spec goes: what was chosen of all there is stands in its name."""
        measured = ["measured"] if self.log is not None else []
        chosen = [*dict.fromkeys(self.wirings), *self.sections, *measured]
        return self.output or Path(f"{stem_with(Path(file).stem, chosen)}.pdf")


@click.command("sheet")
@specs_argument
@file_option(
    "--output -o",
    "FILE",
    "Write here, for one SPEC: NAME.pdf for paper, NAME.html for a page that turns the switches. "
    "[default: the spec's name, with the wirings and sections chosen, 'measured' with --log, and "
    ".pdf, in this folder]",
)
@paper_option
@named("--wiring", "wirings", "Print this wiring; may be given again. [default: every one]")
@words_option(
    "--sections",
    (*SECTIONS, ALL),
    f"Print only these, commas between: {', '.join(SECTIONS)}; all for all. The cautions "
    f"are always there. [default: without {', '.join(n for n in SECTIONS if n in EVIDENCE)}]",
)
@file_option(
    "--log", "FILE", "Add the as-built record and the report for the owner, from this bench log."
)
@force_option
@json_of_files
@click.pass_context
def sheet_command(ctx: click.Context, /, **given: Any) -> None:
    """Print the bench packet: the card, what was wrong, the work in order, what to buy, tests.

    A sheet is written for a broken wiring too, with that verdict on it.

    \b
    Exit status:
      0  every sheet was written
      2  a spec cannot be read, or a file cannot be written
      3  a limit was reached
    """
    asked = _Asked(**given)
    output = asked.output
    if asked.log is not None and len(asked.specs) > 1:
        raise click.UsageError("--log is about one SPEC.", ctx)
    if output is not None and output.suffix.lower() not in _SHEETS:
        said = "a sheet is NAME.pdf for paper or NAME.html for a browser."
        raise click.UsageError(f"{printable(str(output))}: {said}", ctx)
    if output is not None and len(asked.specs) > 1:
        raise click.UsageError(f"{ONE} SPEC, or leave it out.", ctx)
    files = tuple(dict.fromkeys(asked.specs))
    for place, count in Counter(map(asked.place, files)).items():
        if count > 1:
            raise click.UsageError(f"{count} sheets would be {place}: give them one by one.", ctx)
    ctx.exit(write_files("sheet", files, lambda file: _printed(file, asked), asked.as_json))


def _printed(file: str, asked: _Asked) -> tuple[int, JSON]:
    """The exit status of one sheet, and its machine output."""
    place = asked.place(file)
    check_place(place, asked.force)
    source = bytes_of(file, "the file")  # once: a pipe gives it once, and an editor may change it
    spec = renumbered(read_text(source, file))
    say_notices(spec.notices)
    sections = tuple(SECTIONS) if ALL in asked.sections else asked.sections or None
    on_paper = place.suffix.lower() == ".pdf"
    bare = on_paper and EVIDENCE.isdisjoint(sections or ())
    packet = _packet(spec, asked, beside=() if bare else ("original",))
    for limit in packet.limits:
        complain_of(f"{file}: not on the sheet: {limit}")
    log = None if asked.log is None else bytes_of(asked.log, "the bench log")
    sources = Sources(source, log)
    if on_paper:
        data = pdf(packet, sources, paper=asked.paper, sections=sections)
    else:
        from rewire.report.page import page

        data = page(packet, sources, paper=asked.paper, sections=sections)
    write_whole(place, data, asked.force)
    complain_of(f"{place}: written ({_told(packet)})")
    verdicts = [
        {"wiring": r.wiring, "role": spec.wirings[r.wiring].role, "verdict": r.verdict}
        for r in packet.results
    ]
    return 0, document("sheet", spec=file, output=str(place), results=verdicts)


def _packet(spec: Spec, asked: _Asked, beside: tuple[str, ...]) -> Packet:
    """What is printed of the wirings named, or of every one but the original if none is.

    Wirings ``beside`` them are shown as well.
    """
    others = [wiring.name for wiring in spec.others]
    if "original" in asked.wirings:
        message = "'original' is what the others are compared with, and on every sheet beside them"
        raise refusal(message, spec.file, known_here(others))
    known_names("wiring", asked.wirings, others, spec.file)
    names = tuple(dict.fromkeys(asked.wirings or others))
    packet = packet_of(spec, compare(spec, names), (*names, *beside))
    if asked.log is None:
        return packet
    return replace(packet, record=record_of(spec, read_bench_log(asked.log, spec)))


def _told(packet: Packet) -> str:
    """The verdicts on the sheet, and whether what was built failed its measurements."""
    verdicts = ", ".join(f"{result.wiring} {result.verdict}" for result in packet.results)
    verdicts = verdicts or "the original alone"
    if packet.record is None or not packet.record.failures:
        return verdicts
    return f"{verdicts}; but as built {packet.record.failures} of what was measured failed"
